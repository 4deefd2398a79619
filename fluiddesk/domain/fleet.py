"""Sites, machines, meters, compartments and their fills: the things a sample is drawn from."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId

KM_PER_HOUR_WITHOUT_METER = 16.0
"""Kilometres counted as one hour where there is no hour meter (US Army TB 43-0211: 16 km = 1 h)."""


class MachineState(StrEnum):
    """Whether a machine owes samples."""

    WORKING = "working"
    STANDBY = "standby"
    DOWN = "down"
    SOLD = "sold"


class EventKind(StrEnum):
    """What happened to a compartment between samples."""

    FLUID_CHANGE = "fluid_change"
    TOP_UP = "top_up"
    FILTER_CHANGE = "filter_change"
    COMPONENT_FIT = "component_fit"
    REPAIR = "repair"
    STAND_DOWN = "stand_down"


class Certainty(StrEnum):
    """How an event is known. Events are superseded, never overwritten."""

    RECORDED = "recorded"
    INFERRED = "inferred"
    DENIED = "denied"


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A numbered machine on the site that owns its records."""

    site: SiteId
    id: MachineId
    code: str
    kind: str
    model: str
    state: MachineState = MachineState.WORKING
    criticality: int = 3
    serial: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Compartment:
    """One fluid-wetted box with its own fill.

    ``residue_share`` is the share of old fluid left in the box by a change (0 to 1).
    """

    site: SiteId
    id: CompartmentId
    machine: MachineId
    kind: str
    position: str
    fluid: str
    capacity_l: float
    residue_share: float
    interval_hours: float | None
    interval_days: int | None

    def name(self, kind_name: str) -> str:
        """The words for this box: "Final drive, left"."""
        return f"{kind_name}, {self.position}" if self.position else kind_name


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """One meter of a machine and the span in which it counted.

    ``hours_before`` is the machine's true age in hours when this meter was fitted, and
    ``start_value`` what the meter showed then.
    """

    fitted_on: date
    start_value: float
    hours_before: float
    unit: str = "h"
    rolls_over_at: float | None = None


class MeterReadingError(OperatorError):
    """A meter value cannot be true: it runs backwards, or faster than the clock."""


def true_hours(
    meters: Sequence[Meter], *, read_on: NDArray[np.int64], values: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The machine's age in hours at each meter reading, over meter replacements.

    Args:
        meters: the machine's meters in the order they were fitted; at least one.
        read_on: days as proleptic ordinals, shape (n,).
        values: what the meter showed, in the meter's unit, shape (n,).

    Returns:
        Hours since new, shape (n,). A reading on the day of a replacement counts on the new meter.
        A reading below the meter's start counts as one roll-over where the meter rolls over.

    >>> old = Meter(fitted_on=date(2024, 1, 1), start_value=0, hours_before=0)
    >>> new = Meter(fitted_on=date(2025, 1, 1), start_value=5, hours_before=2000)
    >>> days = np.array([date(2024, 6, 1).toordinal(), date(2025, 6, 1).toordinal()])
    >>> true_hours([old, new], read_on=days, values=np.array([900.0, 205.0])).tolist()
    [900.0, 2200.0]
    """
    fitted = np.array([meter.fitted_on.toordinal() for meter in meters], dtype=np.int64)
    which = np.clip(np.searchsorted(fitted, read_on, side="right") - 1, 0, None)
    start = np.array([meter.start_value for meter in meters])[which]
    before = np.array([meter.hours_before for meter in meters])[which]
    wrap = np.array([meter.rolls_over_at or 0.0 for meter in meters])[which]
    per_hour = np.array(
        [1.0 if meter.unit == "h" else KM_PER_HOUR_WITHOUT_METER for meter in meters]
    )[which]
    risen = values - start
    risen = np.where((risen < 0) & (wrap > 0), risen + wrap, risen)
    hours: NDArray[np.float64] = before + risen / per_hour
    return hours
