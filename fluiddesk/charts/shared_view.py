"""What all charts of a page share: the axis, the stretch on show and the sample looked at."""

from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np
from PySide6.QtCore import QObject, Signal

from fluiddesk.charts.axes import Axis, AxisFrame, axis_frame, whole_scale
from fluiddesk.charts.event_marks import event_marks
from fluiddesk.charts.look import ChartView
from fluiddesk.charts.scales import Scale, moved_to_show, zoomed
from fluiddesk.services.compartment_history.facts import CompartmentHistory

ZOOM_STEP: Final = 1.5
_LEAST_ROOM: Final = {Axis.HOURS: 50.0, Axis.FLUID_HOURS: 50.0, Axis.DATE: 10.0}
_FILL_ROOM: Final = 0.15
_PAN_SHARE: Final = 0.2


class SharedView(QObject):
    """Held by the page; every chart draws what it says and asks it for changes.

    Signals:
        reframed: another box or another axis: places along it are new.
        redrawn: what is drawn changed: the stretch, or a switch.
        sample_looked_at: index of the sample under the crosshair, or ``None``.
    """

    reframed = Signal()
    redrawn = Signal()
    sample_looked_at = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._history: CompartmentHistory | None = None
        self._axis = Axis.HOURS
        none = np.empty(0)
        self._frame = AxisFrame(
            axis=Axis.HOURS, x=none, fills=none.astype(np.int32), trust=none.astype(np.int8)
        )
        self._whole = Scale(low=0.0, high=1000.0)
        self._view = ChartView(span=self._whole)

    @property
    def view(self) -> ChartView:
        """What is drawn now."""
        return self._view

    @property
    def frame(self) -> AxisFrame:
        """Where the samples stand."""
        return self._frame

    @property
    def whole(self) -> Scale:
        """The axis over every sample."""
        return self._whole

    @property
    def history(self) -> CompartmentHistory | None:
        """The box on show."""
        return self._history

    def show_history(self, history: CompartmentHistory) -> None:
        """Draw another box, with all of its samples; the same one again as it was looked at."""
        former, self._history = self._history, history
        if former is None or former.compartment != history.compartment:
            self._reframe(sample=None)
            return
        span = None if self._view.span == self._whole else self._view.span
        sample = self._view.sample
        is_there = sample is not None and len(former.samples) == len(history.samples)
        self._reframe(sample=sample if is_there else None, span=span)

    def set_axis(self, axis: Axis) -> None:
        """Hold the curves against hours, hours on the fluid, or dates."""
        if axis is not self._axis:
            self._axis = axis
            self._reframe(sample=self._view.sample)

    def _reframe(self, *, sample: int | None, span: Scale | None = None) -> None:
        history = self._history
        if history is None:
            return
        self._frame = axis_frame(history, self._axis)
        self._whole = whole_scale(self._frame)
        self._view = replace(
            self._view,
            span=span or self._whole,
            axis=self._axis,
            marks=event_marks(history, self._frame),
            sample=sample,
        )
        self.reframed.emit()

    def set_log(self, is_log: bool) -> None:  # noqa: FBT001 - slot of a switch
        """Draw the values on logarithmic axes, where that can be done."""
        self._change(replace(self._view, is_log=is_log))

    def set_rejected_shown(self, shows: bool) -> None:  # noqa: FBT001 - slot of a switch
        """Draw rejected samples, or leave them out."""
        self._change(replace(self._view, shows_rejected=shows))

    def set_others_shown(self, shows: bool) -> None:  # noqa: FBT001 - slot of a switch
        """Draw the other side and like machines, or leave them out."""
        self._change(replace(self._view, shows_others=shows))

    def show_span(self, span: Scale | None = None) -> None:
        """Show a stretch of the axis in every chart; all of it by default."""
        self._change(replace(self._view, span=span or self._whole))

    def show_last_fill(self) -> None:
        """Zoom to the fluid now in the box."""
        frame = self._frame
        last = frame.last_fill
        if last is None:
            return
        x = frame.x[frame.fills == last]
        x = np.append(x[~np.isnan(x)], frame.start_of(last))
        x = x[~np.isnan(x)]
        if len(x):
            room = max(float(x.max() - x.min()) * _FILL_ROOM, _LEAST_ROOM[frame.axis])
            self.show_span(Scale(low=float(x.min()) - room, high=float(x.max()) + room))

    def look_at(self, sample: int | None) -> None:
        """Put the crosshair on a sample, or take it away."""
        if sample == self._view.sample:
            return
        view, place = replace(self._view, sample=sample), np.nan
        if sample is not None:
            place = float(self._frame.x[sample])
        span = view.span if np.isnan(place) else moved_to_show(view.span, place)
        if span is view.span:
            self._view = view
        else:
            self._change(replace(view, span=span))
        self.sample_looked_at.emit(sample)

    def step(self, by: int) -> None:
        """Move the crosshair to the next sample that has a place on the axis."""
        known = np.flatnonzero(~np.isnan(self._frame.x))
        if not len(known):
            return
        # Without a crosshair it comes in from the newest end.
        sample = self._view.sample
        at = (len(known) if sample is None else int(np.searchsorted(known, sample))) + by
        self.look_at(int(known[min(max(at, 0), len(known) - 1)]))

    def look_near(self, place: float) -> None:
        """Put the crosshair on the sample nearest to a place; of several, on the newest."""
        x = self._frame.x
        if np.isnan(x).all():
            return
        away = np.abs(x[::-1] - place)
        self.look_at(len(x) - 1 - int(np.nanargmin(away)))

    def zoom(self, factor: float, *, about: float | None = None) -> None:
        """Stretch the axis about a place; the sample looked at by default."""
        span = self._view.span
        if about is None:
            sample = self._view.sample
            about = (span.low + span.high) / 2 if sample is None else float(self._frame.x[sample])
            about = (span.low + span.high) / 2 if np.isnan(about) else about
        self.show_span(zoomed(span, about=about, factor=factor, whole=self._whole))

    def pan(self, share: float) -> None:
        """Shift the stretch by a share of itself, never past the whole."""
        span, whole = self._view.span, self._whole
        width = span.high - span.low
        low = min(max(span.low + share * width, whole.low), max(whole.high - width, whole.low))
        self.show_span(Scale(low=low, high=low + width))

    def key_acts(self) -> dict[str, Callable[[], None]]:
        """What keys do in every chart, by their portable names."""
        return {
            "Left": lambda: self.step(-1),
            "Right": lambda: self.step(1),
            "Home": lambda: self.step(-(10**6)),
            "End": lambda: self.step(10**6),
            "+": lambda: self.zoom(ZOOM_STEP),
            "=": lambda: self.zoom(ZOOM_STEP),
            "-": lambda: self.zoom(1 / ZOOM_STEP),
            "0": self.show_span,
            "Shift+Left": lambda: self.pan(-_PAN_SHARE),
            "Shift+Right": lambda: self.pan(_PAN_SHARE),
        }

    def _change(self, view: ChartView) -> None:
        self._view = view
        self.redrawn.emit()
