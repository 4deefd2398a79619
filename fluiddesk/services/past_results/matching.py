"""Says for every row of a past file whose it is, how surely, and what it would do.

A score runs from 0 to 1: how well the machine's number fits times how well the words for the box
fit, lowered where the day or the meter speaks against it (bounds: common practice, no source).
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from fluiddesk.domain.identity import CompartmentId, MachineId, SampleId
from fluiddesk.domain.samples import Reading, SampleState
from fluiddesk.intake.matching import same_readings
from fluiddesk.intake.past_reading import PastRow
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.past_results.facts import PastFate
from fluiddesk.services.past_results.fleet_names import FleetNames, Named, fleet_names
from fluiddesk.services.sample_hours import MachineHours, Seen
from fluiddesk.storage import Desk, KnownSample

SURE_FROM: Final = 0.8
SURE_MARGIN: Final = 0.2
"""So much surer than the next candidate must the first be."""

BEFORE_SERVICE: Final = 0.7
METER_OUT_OF_LINE: Final = 0.7
CANDIDATES_SHOWN: Final = 8
DAYS_APART: Final = 3
"""A sample that waits for its report may be printed with a day so far off."""

_WAITS: Final = (
    SampleState.ISSUED, SampleState.TAKEN, SampleState.SHIPPED, SampleState.RECEIVED,
)  # fmt: skip


@dataclass(slots=True, kw_only=True)
class MatchedRow:
    """One row with its candidates, most likely first, and what is to happen with it.

    ``joins`` is a sample on the register that waits for exactly this report.
    """

    row: PastRow
    candidates: Sequence[Named]
    fate: PastFate
    why: str = ""
    joins: SampleId | None = None

    @property
    def box(self) -> CompartmentId:
        """The likeliest box; only for a row that has candidates."""
        box = self.candidates[0].box
        assert box is not None  # noqa: S101  # a candidate is always a box
        return box.id


@dataclass(slots=True)
class Matching:
    """Every row of one file matched; also what the saving needs again: names and hours."""

    names: FleetNames
    hours: MachineHours
    rows: list[MatchedRow]
    believed: Mapping[MachineId, Mapping[Seen, float]] = field(default_factory=dict)


def match_rows(desk: Desk, catalogue: Catalogue, rows: Sequence[PastRow]) -> Matching:
    """Match every row against the register as it stands."""
    names = fleet_names(desk, catalogue)
    hours = MachineHours(desk)
    found = [(row, names.named(row.site, row.machine, row.compartment)) for row in rows]
    believed = _believed(hours, found)
    matched = [
        _judged(row, _lowered(row, candidates, names, believed)) for row, candidates in found
    ]
    _settle_known(desk, matched)
    return Matching(names=names, hours=hours, rows=matched, believed=believed)


def _believed(
    hours: MachineHours, found: Iterable[tuple[PastRow, Sequence[Named]]]
) -> dict[MachineId, Mapping[Seen, float]]:
    """For each machine that is somebody's likeliest one, the meter values that can be true."""
    seen: dict[MachineId, set[Seen]] = defaultdict(set)
    for row, candidates in found:
        if candidates and row.sheet.meter_printed is not None:
            seen[candidates[0].machine.id].add((row.sampled_on, row.sheet.meter_printed))
    return {machine: hours.believed(machine, values) for machine, values in seen.items()}


def _lowered(
    row: PastRow,
    candidates: Sequence[Named],
    names: FleetNames,
    believed: Mapping[MachineId, Mapping[Seen, float]],
) -> list[Named]:
    lowered = []
    for one in candidates[:CANDIDATES_SHOWN]:
        score, doubts = one.score, list(one.doubts)
        began = names.in_service.get(one.machine.id)
        if began is not None and row.sampled_on < began:
            score *= BEFORE_SERVICE
            doubts.append(f"{one.machine.code} went into service on {began.isoformat()} only")
        if one.machine.id in believed and _is_out_of_line(row, believed[one.machine.id]):
            score *= METER_OUT_OF_LINE
            doubts.append(
                f"the meter value {row.sheet.meter_printed:g} does not fit the others of "
                f"{one.machine.code}"
            )
        lowered.append(replace(one, score=round(score, 3), doubts=tuple(doubts)))
    return sorted(lowered, key=lambda one: -one.score)


def _is_out_of_line(row: PastRow, believed: Mapping[Seen, float]) -> bool:
    meter = row.sheet.meter_printed
    return meter is not None and bool(believed) and (row.sampled_on, meter) not in believed


def _judged(row: PastRow, candidates: list[Named]) -> MatchedRow:
    if not candidates:
        why = f'no machine of the register is called "{row.machine}"'
        return MatchedRow(row=row, candidates=(), fate=PastFate.DOUBTFUL, why=why)
    first = candidates[0]
    rivals = [one for one in candidates[1:] if first.score - one.score < SURE_MARGIN]
    if rivals:
        why = f"{len(rivals) + 1} boxes fit about as well"
    elif first.score < SURE_FROM:
        why = "; ".join(first.doubts)
    else:
        return MatchedRow(row=row, candidates=candidates, fate=PastFate.SURE)
    return MatchedRow(row=row, candidates=candidates, fate=PastFate.DOUBTFUL, why=why)


def _settle_known(desk: Desk, matched: Sequence[MatchedRow]) -> None:
    """Hold sure rows against the register and against each other."""
    sure = [one for one in matched if one.fate is PastFate.SURE]
    known: dict[CompartmentId, list[KnownSample]] = defaultdict(list)
    for sample in desk.past.known({one.box for one in sure}):
        known[sample.compartment].append(sample)
    readings = _Readings(desk)
    first: dict[tuple[CompartmentId, object, str], list[MatchedRow]] = defaultdict(list)
    days: dict[tuple[CompartmentId, object], MatchedRow] = {}
    joined: dict[SampleId, object] = {}
    for one in sure:
        _against_register(one, known[one.box], readings)
        if one.fate is not PastFate.SURE:
            continue
        key = (one.box, one.row.sampled_on, one.row.sheet.report_number)
        earlier = days.setdefault(key[:2], one)
        if earlier.row.sheet.report_number != one.row.sheet.report_number:
            one.fate = PastFate.DOUBTFUL
            one.why = f"row {earlier.row.row} is of the same box and day, from another report"
            continue
        _against_issues(one, first[key])
        if one.joins is not None and joined.setdefault(one.joins, key) != key:
            one.fate, one.why = PastFate.DOUBTFUL, "two rows fit one sample that waits"


def _against_issues(one: MatchedRow, earlier: list[MatchedRow]) -> None:
    """Rows of one report: each issue once, the same issue twice only where it says the same."""
    for other in earlier:
        if other.row.sheet.issue == one.row.sheet.issue:
            if same_readings(other.row.sheet.readings, one.row.sheet.readings):
                one.fate, one.why = PastFate.KNOWN, f"as row {other.row.row}"
            else:
                one.fate = PastFate.DOUBTFUL
                one.why = f"row {other.row.row} has the same report and issue, other values"
            return
    earlier.append(one)


class _Readings:
    """The readings in force of boxes, asked for when a day is met that the register has."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._of: dict[CompartmentId, dict[SampleId, dict[str, Reading]]] = {}

    def of(self, sample: KnownSample) -> Mapping[str, Reading]:
        if sample.compartment not in self._of:
            own: dict[SampleId, dict[str, Reading]] = defaultdict(dict)
            for one in self._desk.results.readings_of(sample.compartment):
                own[one.sample][one.analyte] = Reading(
                    analyte=one.analyte,
                    sign=one.sign,
                    value=one.value,
                    printed=one.printed,
                    printed_unit=one.printed_unit,
                )
            self._of[sample.compartment] = own
        return self._of[sample.compartment].get(sample.sample, {})


def _against_register(one: MatchedRow, known: Sequence[KnownSample], readings: _Readings) -> None:
    sheet, day = one.row.sheet, one.row.sampled_on
    for sample in known:
        same_report = sample.issue > 0 and sample.report_number == sheet.report_number
        if same_report and sample.issue >= sheet.issue:
            one.fate, one.why = PastFate.KNOWN, f"report {sheet.report_number} is on the register"
            return
        if sample.issue > 0 and (sample.taken_on == day or same_report):
            if same_readings(readings.of(sample), sheet.readings):
                one.fate, one.why = PastFate.KNOWN, "the register has these values of this day"
            else:
                one.fate = PastFate.DOUBTFUL
                one.why = "the register has other values of this box and day"
            return
    waiting = [
        sample
        for sample in known
        if sample.issue == 0
        and sample.state in _WAITS
        and abs((sample.taken_on - day).days) <= DAYS_APART
    ]
    if len(waiting) == 1:
        one.joins = waiting[0].sample
