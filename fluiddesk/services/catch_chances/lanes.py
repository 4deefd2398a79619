"""How long an answer takes from each site by each laboratory: measured, else by the record."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.turnaround import Turnaround, turnaround
from fluiddesk.services.catch_chances.facts import KnownFrom, Lane, LegDays
from fluiddesk.services.fault_figures import fault_figures
from fluiddesk.services.presumed_lost import leg_figures

LOOK_BACK_DAYS: Final = 365
"""Reports of this long tell how long a lane takes now (own choice)."""

LATEST_SAVED_DAYS: Final = 90
"""A report saved later than this after its issue came as history; nobody waited (own choice)."""

_UNKNOWN_DAY: Final = np.datetime64("NaT", "D")


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """First reports of the last year; shape (m,). Days in days since 1970, NaN where not known."""

    site: NDArray[np.int64]
    laboratory: NDArray[np.int32]
    codes: tuple[str, ...]
    compartment: Sequence[bytes]
    taken: NDArray[np.float64]
    received: NDArray[np.float64]
    issued: NDArray[np.float64]
    saved: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LabRecord:
    """What the register says of a laboratory."""

    code: str
    name: str
    lane_days: int | None
    turnaround_days: int | None

    @property
    def answer_days(self) -> float | None:
        """Days from drawing to answer by the record, with the target days of the legs here."""
        if self.lane_days is None and self.turnaround_days is None:
            return None
        days = dict(_targets())
        if self.lane_days is not None:
            days["shipped_received"] = float(self.lane_days)
        if self.turnaround_days is not None:
            days["received_reported"] = float(self.turnaround_days)
        return sum(days.values())


def _targets() -> dict[str, float]:
    return {name: float(leg["target"]) for name, leg in leg_figures()["leg"].items()}


def least_bottles() -> int:
    """Fewer reports than this do not measure a lane."""
    return int(leg_figures()["least_for_own_lane"])


def answer_columns(rows: Sequence[tuple[Any, ...]], *, today: date) -> Answers:
    """Lay reports out as columns; fields as ``ANSWER_COLUMNS`` of the store."""
    told = list(zip(*rows, strict=True)) or [()] * 7
    codes, laboratory = np.unique(np.array(told[1], dtype=str), return_inverse=True)
    saved = _days([None if one is None else str(one)[:10] for one in told[6]])
    issued = _days(told[5])
    # A moment after the day asked about is that of a replay.
    is_waited = (saved <= _day(today)) & (saved - issued <= LATEST_SAVED_DAYS)
    return Answers(
        site=np.array(told[0], dtype=np.int64),
        laboratory=laboratory.astype(np.int32),
        codes=tuple(codes.tolist()),
        compartment=told[2],
        taken=_days(told[3]),
        received=_days(told[4]),
        issued=issued,
        saved=np.where(is_waited, saved, np.nan),
    )


def since_day(today: date) -> date:
    """The first day whose reports are looked at."""
    return today - timedelta(days=LOOK_BACK_DAYS)


def _days(values: Sequence[Any]) -> NDArray[np.float64]:
    days = np.array([_UNKNOWN_DAY if one is None else one for one in values], dtype="datetime64[D]")
    return np.where(np.isnat(days), np.nan, days.astype(np.int64).astype(np.float64))


def _day(day: date) -> float:
    return float(np.datetime64(day, "D").astype(np.int64))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """What was measured of some reports."""

    drawn_to_report: Turnaround
    report_to_known: Turnaround
    legs: tuple[LegDays, ...]

    @property
    def days(self) -> float | None:
        """From drawing to answer; the leg here is its target where too few bottles tell."""
        if self.drawn_to_report.median_days is None:
            return None
        return self.drawn_to_report.median_days + self.here_days

    @property
    def is_measured(self) -> bool:
        return self.drawn_to_report.samples >= least_bottles()

    @property
    def is_here_measured(self) -> bool:
        return self.report_to_known.samples >= least_bottles()

    @property
    def here_days(self) -> float:
        measured = self.report_to_known.median_days
        is_told = measured is not None and self.is_here_measured
        return float(measured or 0.0) if is_told else _targets()["reported_keyed"]


def _way(answers: Answers, chosen: NDArray[np.bool_]) -> _Way:
    taken, received = answers.taken[chosen], answers.received[chosen]
    issued, saved = answers.issued[chosen], answers.saved[chosen]
    there, back, here = (
        _took(left, came) for left, came in ((taken, received), (received, issued), (issued, saved))
    )
    return _Way(
        drawn_to_report=_took(taken, issued),
        report_to_known=here,
        legs=(
            LegDays(title="Drawn to received", days=there.median_days, bottles=there.samples),
            LegDays(title="Received to reported", days=back.median_days, bottles=back.samples),
            LegDays(title="Reported to known here", days=here.median_days, bottles=here.samples),
        ),
    )


def _took(left: NDArray[np.float64], came: NDArray[np.float64]) -> Turnaround:
    in_order = came >= left
    return turnaround(left_at=left[in_order], came_at=came[in_order])


def lanes_of(
    answers: Answers, records: Mapping[str, LabRecord], sites: Mapping[int, str]
) -> dict[tuple[int, str], Lane]:
    """Every lane that was used, and one of each site to no laboratory, by site and laboratory."""
    found: dict[tuple[int, str], Lane] = {}
    by_lab = {
        code: _way(answers, answers.laboratory == place) for place, code in enumerate(answers.codes)
    }
    for site, name in sites.items():
        for code in ("", *sorted({*records, *answers.codes})):
            place = answers.codes.index(code) if code in answers.codes else -1
            chosen = (answers.site == site) & (answers.laboratory == place)
            record = records.get(code, LabRecord(code=code, name=code, lane_days=None,
                                                 turnaround_days=None))  # fmt: skip
            found[site, code] = _lane(name, record, _way(answers, chosen), by_lab.get(code))
    return found


def _lane(site: str, record: LabRecord, way: _Way, everywhere: _Way | None) -> Lane:
    bottles, least = way.drawn_to_report.samples, least_bottles()
    few = f"Not measured: {bottles} of at least {least} reports in a year"
    other, known_from = float(fault_figures()["answer"]["days"]), KnownFrom.ASSUMED
    about = f"{few}. {other:g} days assumed."
    if everywhere is not None and everywhere.days is not None and everywhere.is_measured:
        other, known_from = everywhere.days, KnownFrom.ELSEWHERE
        about = f"{few}. {other:g} days as from the other sites to this laboratory."
    days = other
    if way.days is not None and way.is_measured:
        days, known_from, about = way.days, KnownFrom.MEASURED, _measured(way)
    elif record.answer_days is not None:
        days, known_from = record.answer_days, KnownFrom.RECORD
        about = f"{few}. {days:g} days by the laboratory's record, with our own legs on target."
    return Lane(
        site=site,
        laboratory=record.code,
        name=record.name,
        days=days,
        known_from=known_from,
        bottles=bottles,
        days_without_record=other,
        legs=way.legs,
        about=about,
    )


def _measured(way: _Way) -> str:
    report = way.drawn_to_report
    days = [leg.days for leg in way.legs[:2]]
    parts = f"{report.samples:,} bottles"
    if None not in days:
        parts += f"; {days[0]:g} to the laboratory, {days[1]:g} there"
    how = "" if way.is_here_measured else " (a target, not measured)"
    return (
        f"Median {way.days:g} days: {report.median_days:g} from drawing to report ({parts}), "
        f"then {way.here_days:g} until it is known here{how}."
    )
