"""Forecasts as they were made, and what became of them; none is ever changed but by its outcome."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Row, and_, bindparam, case, func, select, update

from fluiddesk.domain.identity import CompartmentId, SampleId, SiteId
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.fleet import CompartmentRow
from fluiddesk.storage.tables.judgement import ForecastRow

_FORECAST: Final = (
    "site_id", "id", "compartment_id", "sample_id", "made_at", "kind", "analyte", "severity",
    "bound", "at_hours", "p10", "p50", "p90", "chance_before_due", "why", "outcome",
    "crossed_at_hours", "marked_at", "program_version", "inputs_digest",
)  # fmt: skip
HOURS_LEFT: Final = "hours_left"
OUTCOMES: Final = ("open", "crossed", "not_crossed", "cut_off")


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastRecord:
    """One forecast. ``at_hours`` are the machine's hours that p10, p50, p90 count from.

    ``analyte``, ``severity`` and ``bound`` name the limit meant; all three percentiles are ``None``
    where none was in sight or too little was known, and ``why`` says which.
    """

    site: SiteId
    compartment: CompartmentId
    sample: SampleId
    analyte: str
    severity: int
    bound: float | None
    at_hours: float
    p10: float | None
    p50: float | None
    p90: float | None
    chance_before_due: float | None
    why: str
    program_version: str
    inputs_digest: str
    made_at: datetime | None = None
    outcome: str = "open"
    crossed_at_hours: float | None = None
    marked_at: datetime | None = None
    id: bytes = b""


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastTally:
    """What came of the forecasts with numbers of one kind of compartment.

    Attributes:
        kind: the kind of compartment.
        outcomes: how many of each outcome.
        inside: how many limits were reached inside the 10 to 90 % band.
        afterwards: how many were worked out afterwards, by their remark.
        errors: hours from the 50 % point to where the limit was reached, one each, rising.
    """

    kind: str
    outcomes: Mapping[str, int]
    inside: int
    errors: tuple[float, ...]
    afterwards: int = 0


class ForecastRecords:
    """Adds forecasts, marks them, and reads how they fared."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def add(self, records: Sequence[ForecastRecord]) -> int:
        """Add those that are not there yet (same sample, same inputs); how many were new."""
        known = self._known({one.sample for one in records})
        fresh = [one for one in records if (one.sample, one.inputs_digest) not in known]
        rows = (
            (one.site, one.id or self._session.new_id(), one.compartment, one.sample,
             one.made_at or self._session.moment, HOURS_LEFT, one.analyte, int(one.severity),
             one.bound, one.at_hours, one.p10, one.p50, one.p90, one.chance_before_due, one.why,
             one.outcome, one.crossed_at_hours, one.marked_at, one.program_version,
             one.inputs_digest)
            for one in fresh
        )  # fmt: skip
        self._session.load("forecast", _FORECAST, rows)
        return len(fresh)

    def _known(self, samples: Collection[SampleId]) -> set[tuple[bytes, str]]:
        row = ForecastRow
        wanted = select(row.sample_id, row.inputs_digest).where(
            self._session.any_site(row.site_id), row.sample_id.in_(list(samples))
        )
        return {
            (one.sample_id, one.inputs_digest) for one in self._session.connection.execute(wanted)
        }

    def of_compartment(self, compartment: CompartmentId) -> list[ForecastRecord]:
        """Every forecast of a compartment, oldest first."""
        return self._read(compartment, only_open=False)

    def open_of(self, compartment: CompartmentId) -> list[ForecastRecord]:
        """Those of a compartment whose outcome is not known yet, oldest first."""
        return self._read(compartment, only_open=True)

    def _read(self, compartment: CompartmentId, *, only_open: bool) -> list[ForecastRecord]:
        row = ForecastRow
        wanted = select(row.__table__).where(
            self._session.any_site(row.site_id), row.compartment_id == compartment
        )
        if only_open:
            wanted = wanted.where(row.outcome == "open")
        found = self._session.connection.execute(wanted.order_by(row.made_at, row.id))
        return [_forecast(one) for one in found]

    def mark(self, marks: Iterable[tuple[ForecastRecord, str, float | None]]) -> None:
        """Say what became of forecasts: (which, outcome, the machine's hours when crossed)."""
        rows = [
            {"site": one.site, "key": one.id, "came": outcome, "hours": hours}
            for one, outcome, hours in marks
        ]
        if not rows:
            return
        row = ForecastRow
        statement = (
            update(row.metadata.tables["forecast"])
            .where(row.site_id == bindparam("site"), row.id == bindparam("key"))
            .values(
                outcome=bindparam("came"),
                crossed_at_hours=bindparam("hours"),
                marked_at=self._session.moment,
            )
        )
        self._session.connection.execute(statement, rows)

    def tallies(self, kind: str | None = None) -> list[ForecastTally]:
        """What came of the forecasts with numbers, for each kind of compartment or for one."""
        row, box = ForecastRow, CompartmentRow
        came = row.crossed_at_hours - row.at_hours
        of_kind = [] if kind is None else [box.kind == kind]
        same = and_(box.site_id == row.site_id, box.id == row.compartment_id)
        with_numbers = (self._session.any_site(row.site_id), row.p50.is_not(None), *of_kind)
        is_inside = case((came.between(row.p10, row.p90), 1), else_=0)
        is_afterwards = case((row.why.like("%afterwards%"), 1), else_=0)
        counted = (
            select(
                box.kind, row.outcome, func.count(), func.sum(is_inside), func.sum(is_afterwards)
            )
            .join(box, same)
            .where(*with_numbers)
            .group_by(box.kind, row.outcome)
            .order_by(box.kind, row.outcome)
        )
        errors = (
            select(box.kind, came - row.p50)
            .join(box, same)
            .where(*with_numbers, row.outcome == "crossed", row.crossed_at_hours.is_not(None))
            .order_by(box.kind, came - row.p50)
        )
        outcomes: dict[str, dict[str, int]] = {}
        inside: dict[str, int] = {}
        afterwards: dict[str, int] = {}
        for name, outcome, count, within, late in self._session.connection.execute(counted):
            outcomes.setdefault(name, {})[outcome] = int(count)
            afterwards[name] = afterwards.get(name, 0) + int(late)
            inside[name] = inside.get(name, 0) + (int(within) if outcome == "crossed" else 0)
        missed: dict[str, list[float]] = {}
        for name, error in self._session.connection.execute(errors):
            missed.setdefault(name, []).append(float(error or 0.0))
        return [
            ForecastTally(
                kind=name,
                outcomes=found,
                inside=inside[name],
                afterwards=afterwards[name],
                errors=tuple(missed.get(name, ())),
            )
            for name, found in outcomes.items()
        ]


def _forecast(found: Row[*tuple[Any, ...]]) -> ForecastRecord:
    return ForecastRecord(
        site=SiteId(found.site_id),
        id=found.id,
        compartment=CompartmentId(found.compartment_id),
        sample=SampleId(found.sample_id),
        made_at=found.made_at,
        analyte=found.analyte,
        severity=found.severity,
        bound=found.bound,
        at_hours=found.at_hours,
        p10=found.p10,
        p50=found.p50,
        p90=found.p90,
        chance_before_due=found.chance_before_due,
        why=found.why,
        outcome=found.outcome,
        crossed_at_hours=found.crossed_at_hours,
        marked_at=found.marked_at,
        program_version=found.program_version,
        inputs_digest=found.inputs_digest,
    )
