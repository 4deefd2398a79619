"""Tries a draft out on the fleet while it is edited; the newest wish supersedes older ones."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QObject, QTimer, Signal

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.viewstate.limit_calls import LimitCalls
from fluiddesk.domain.limits.limit_set import Limit, LimitSet
from fluiddesk.wiring import Clock

if TYPE_CHECKING:
    from fluiddesk.services.catch_chances.facts import ChanceColumns
    from fluiddesk.services.limit_rules.what_if_fleet import WhatIfFleet

_LATEST_AFTER_MS: Final = 120
_YEAR_AFTER_MS: Final = 700


class WhatIfWork(QObject):
    """Keeps the fleet's figures in memory and asks them about the draft and the chosen limit.

    Signals:
        began: an answer is being worked out.
        latest: ``Latest`` for the draft as last edited.
        year: ``LastYear`` for it.
        chance: what its intervals would do to the chance to catch a fault, in words; "" if nothing.
        spread: (limit, ``Spread``).
        refused: an exception.
    """

    began = Signal()
    latest = Signal(object)
    year = Signal(object)
    chance = Signal(str)
    spread = Signal(object, object)
    refused = Signal(object)

    def __init__(
        self, calls: LimitCalls, *, clock: Clock, background: Background, parent: QObject
    ) -> None:
        super().__init__(parent)
        self._calls, self._clock, self._background = calls, clock, background
        self.fleet: WhatIfFleet | None = None
        self._columns: ChanceColumns | None = None
        self._readings = 0
        self._is_asking = self._is_waiting = False
        self._is_loading = False
        self._waiting: list[Callable[[], None]] = []
        self._draft: LimitSet | None = None
        self._limit: Limit | None = None
        self._latest_timer = self._timer(_LATEST_AFTER_MS, self._ask_latest)
        self._latest_timer.timeout.connect(self._ask_chance)
        self._year_timer = self._timer(_YEAR_AFTER_MS, self._ask_year)

    def _timer(self, milliseconds: int, then: Callable[[], None]) -> QTimer:
        timer = QTimer(self)
        timer.setSingleShot(True)
        timer.setInterval(milliseconds)
        timer.timeout.connect(then)
        return timer

    def forget_fleet(self) -> None:
        """Throw the figures away, as results or limits have changed."""
        self.fleet = self._columns = None
        self._readings += 1

    def forget_draft(self) -> None:
        """Ask about no draft any more."""
        self._draft = None
        self._latest_timer.stop()
        self._year_timer.stop()

    def try_draft(self, draft: LimitSet) -> None:
        """Ask about a draft soon; a newer one takes its place."""
        if draft == self._draft and self.fleet is not None:
            return
        self._draft = draft
        self.began.emit()
        self._latest_timer.start()
        self._year_timer.start()

    def with_fleet(self, then: Callable[[], None]) -> None:
        """Go on once the fleet's figures are in memory."""
        if self._ready() is None:
            self._waiting.append(then)
        else:
            then()

    def ask_spread(self, limit: Limit | None) -> None:
        """Ask how the fleet's figures lie for the limit that is chosen."""
        self._limit = limit
        fleet = self._ready()
        if fleet is None or limit is None:
            return
        self._background.run(
            lambda _: self._calls.spread(fleet, limit),
            done=lambda found: self.spread.emit(limit, found),
            failed=self.refused.emit,
            label=self.tr("Reading the fleet's figures"),
            slot="limit spread",
        )

    def _ask_chance(self) -> None:
        if self._is_asking:
            # The fleet is still being read; the newest draft is asked about after that.
            self._is_waiting = True
            return
        draft, columns, today = self._draft, self._columns, self._clock.today()
        if draft is None:
            return
        self._is_asking = True
        reading = self._readings

        def done(found: "tuple[ChanceColumns | None, str]") -> None:
            known, told = found
            self._columns = known if reading == self._readings else None
            self._is_asking = False
            self.chance.emit(told)
            if self._is_waiting:
                self._is_waiting = False
                self._ask_chance()

        def fail(error: Exception) -> None:
            self._is_asking = self._is_waiting = False
            self.refused.emit(error)

        self._background.run(
            lambda _: self._calls.chance(columns, draft, today=today),
            done=done,
            failed=fail,
            label=self.tr("Working out the chances"),
        )

    def _ask_latest(self) -> None:
        draft, fleet = self._draft, self._ready()
        if fleet is None or draft is None:
            return
        self._background.run(
            lambda progress: self._calls.latest(fleet, draft, progress=progress),
            done=self.latest.emit,
            failed=self.refused.emit,
            label=self.tr("Trying the draft on the latest samples"),
            slot="what-if latest",
        )

    def _ask_year(self) -> None:
        draft, fleet = self._draft, self._ready()
        if fleet is None or draft is None:
            return
        self._background.run(
            lambda progress: self._calls.year(fleet, draft, progress=progress),
            done=self.year.emit,
            failed=self.refused.emit,
            label=self.tr("Trying the draft on the last year"),
            slot="what-if year",
        )

    def _ready(self) -> "WhatIfFleet | None":
        """The fleet's figures; while there are none they are read, and the questions wait."""
        if self.fleet is None and not self._is_loading:
            self._is_loading = True
            today = self._clock.today()
            self._background.run(
                lambda progress: self._calls.open_fleet(today=today, progress=progress),
                done=self._take_fleet,
                failed=self._fail_fleet,
                label=self.tr("Reading the fleet's figures"),
                slot="what-if fleet",
            )
        return self.fleet

    def _take_fleet(self, fleet: "WhatIfFleet") -> None:
        self._is_loading = False
        self.fleet = fleet
        self.ask_spread(self._limit)
        if self._draft is not None:
            self._ask_latest()
            self._ask_year()
        waiting, self._waiting = self._waiting, []
        for then in waiting:
            then()

    def _fail_fleet(self, error: Exception) -> None:
        self._is_loading = False
        self._waiting = []
        self.refused.emit(error)
