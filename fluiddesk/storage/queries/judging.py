"""What happened to compartments and was ordered for samples, as rows for judging a fleet."""

import itertools
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import (
    Executable,
    Select,
    and_,
    literal_column,
    null,
    select,
    type_coerce,
    union_all,
)
from sqlalchemy.types import Text

from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.storage.queries.boxes import FEW
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.catalogue import (
    FluidRow,
    TestListAnalyteRow,
    TestListKindRow,
    TestListRow,
)
from fluiddesk.storage.tables.fleet import CompartmentEventRow, CompartmentRow, ComponentFitRow
from fluiddesk.storage.tables.sampling import SampleRow

TOP_UP: Final = 0
REPAIR: Final = 1
FIT: Final = 2
EVENT_CODES: Final = {
    EventKind.TOP_UP.value: TOP_UP,
    EventKind.REPAIR.value: REPAIR,
    EventKind.COMPONENT_FIT.value: FIT,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class EventColumns:
    """Events of compartments; all shape (n,).

    Attributes:
        box: place of the compartment in the list asked with; -1 for one that is not in it.
        code: kind, a value of ``EVENT_CODES``.
        day: ordinal of the day.
        hours: true hours; NaN where not known.
        litres: amount; NaN where not known.
    """

    box: NDArray[np.int64]
    code: NDArray[np.int8]
    day: NDArray[np.int64]
    hours: NDArray[np.float64]
    litres: NDArray[np.float64]


class JudgingQuery:
    """Reads what besides the readings decides how samples are judged."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def events(self, compartments: Sequence[bytes]) -> EventColumns:
        """Top-ups, repairs and component fits of compartments that stand, in no order.

        Args:
            compartments: what ``EventColumns.box`` counts in.
        """
        if len(compartments) <= FEW:
            parts: Iterable[list[tuple[Any, ...]]] = [self._events_of(list(compartments))]
        else:
            parts = self._session.parts(self._every_event())
        place = {key: index for index, key in enumerate(compartments)}
        ordinals = _Ordinals()
        return _joined([_columns(part, place, ordinals) for part in parts if part])

    def _events_of(self, chosen: list[bytes]) -> list[tuple[Any, ...]]:
        row, fit = CompartmentEventRow, ComponentFitRow
        happened, fitted = self._selects()
        happened = happened.where(
            self._session.any_site(row.site_id), row.compartment_id.in_(chosen)
        )
        fitted = fitted.where(self._session.any_site(fit.site_id), fit.compartment_id.in_(chosen))
        return self._rows(happened) + self._rows(fitted)

    def _every_event(self) -> str:
        happened, fitted = self._selects()
        both = union_all(happened, fitted).compile(
            dialect=self._session.connection.dialect, compile_kwargs={"literal_binds": True}
        )
        statement = str(both)
        if self._session.is_sqlite:
            # Nearly every event stands: through the index each row would be looked up singly.
            table = CompartmentEventRow.__tablename__
            statement = statement.replace(f"FROM {table} ", f"FROM {table} NOT INDEXED ", 1)
        return statement

    def _selects(self) -> tuple[Select[*tuple[Any, ...]], Select[*tuple[Any, ...]]]:
        """Compartment, kind, day, true hours and litres, of events and of component fits.

        SQLite gives days as ISO text: half a million conversions by the database would take longer
        than reading them.
        """
        row, fit = CompartmentEventRow, ComponentFitRow
        happened: Select[*tuple[Any, ...]] = select(
            row.compartment_id,
            row.kind,
            self._day(row.happened_on),
            row.true_hours,
            row.litres,
        ).where(
            row.superseded_by.is_(None),
            row.kind.in_(list(EVENT_CODES)),
            row.certainty != Certainty.DENIED.value,
        )
        fitted: Select[*tuple[Any, ...]] = select(
            fit.compartment_id,
            literal_column(f"'{EventKind.COMPONENT_FIT.value}'"),
            self._day(fit.fitted_on),
            fit.fitted_at_hours,
            null(),
        )
        return happened, fitted

    def other_sides(self, compartments: Collection[bytes]) -> list[tuple[Any, ...]]:
        """Boxes of the same machine and kind: box asked for, its position, other box, position."""
        own, other = CompartmentRow, CompartmentRow.__table__.alias("other")
        wanted = select(own.id, own.position, other.c.id, other.c.position).join(
            other,
            and_(
                other.c.site_id == own.site_id,
                other.c.machine_id == own.machine_id,
                other.c.kind == own.kind,
                other.c.id != own.id,
            ),
        )
        if len(compartments) <= FEW:
            wanted = wanted.where(
                self._session.any_site(own.site_id), own.id.in_(list(compartments))
            )
        wanted = wanted.where(
            own.position != "", own.retired.is_(False), other.c.retired.is_(False)
        )
        chosen = set(compartments)
        return [row for row in self._rows(wanted) if row[0] in chosen]

    def test_lists(self) -> dict[str, list[str]]:
        """The analyte codes each list of tests orders, by the list's code."""
        row = TestListAnalyteRow
        lists: dict[str, list[str]] = {code: [] for (code,) in self._rows(select(TestListRow.code))}
        for code, analyte in self._rows(select(row.test_list_code, row.analyte)):
            lists.setdefault(code, []).append(analyte)
        return lists

    def lists_of_kinds(self) -> dict[str, str]:
        """The list of tests that is usual for each kind of compartment."""
        row = TestListKindRow
        return dict(self._rows(select(row.compartment_kind, row.test_list_code)))

    def lists_of_samples(self, compartments: Collection[bytes] | None = None) -> dict[bytes, str]:
        """The list of tests ordered for single samples, where one was named."""
        row = SampleRow
        wanted = select(row.id, row.test_list_code).where(row.test_list_code.is_not(None))
        if compartments is not None and len(compartments) <= FEW:
            wanted = wanted.where(
                self._session.any_site(row.site_id), row.compartment_id.in_(list(compartments))
            )
        return dict(self._rows(wanted))

    def grades(self) -> dict[str, str]:
        """The viscosity grade of each fluid, by its code."""
        return dict(self._rows(select(FluidRow.code, FluidRow.viscosity_grade)))

    def _rows(self, wanted: Executable) -> list[tuple[Any, ...]]:
        return [tuple(row) for row in self._session.connection.execute(wanted)]

    def _day(self, day: Any) -> Any:
        return type_coerce(day, Text) if self._session.is_sqlite else day


class _Ordinals(dict[Any, int]):
    """The ordinal of each day, worked out when it first comes; few days come often."""

    def __missing__(self, day: date | str) -> int:
        known = date.fromisoformat(day) if isinstance(day, str) else day
        self[day] = known.toordinal()
        return self[day]


def _columns(
    rows: Sequence[tuple[Any, ...]], place: Mapping[bytes, int], ordinals: _Ordinals
) -> EventColumns:
    keys, kinds, days, hours, litres = zip(*rows, strict=True)
    size = len(rows)
    return EventColumns(
        box=np.fromiter(map(place.get, keys, itertools.repeat(-1)), np.int64, size),
        code=np.fromiter(map(EVENT_CODES.__getitem__, kinds), np.int8, size),
        day=np.fromiter(map(ordinals.__getitem__, days), np.int64, size),
        # numpy reads None as "not a number" here.
        hours=np.array(hours, dtype=np.float64),
        litres=np.array(litres, dtype=np.float64),
    )


def _joined(parts: Sequence[EventColumns]) -> EventColumns:
    whole, number = np.zeros(0, dtype=np.int64), np.zeros(0)
    return EventColumns(
        box=np.concatenate([whole, *(part.box for part in parts)]),
        code=np.concatenate([whole.astype(np.int8), *(part.code for part in parts)]),
        day=np.concatenate([whole, *(part.day for part in parts)]),
        hours=np.concatenate([number, *(part.hours for part in parts)]),
        litres=np.concatenate([number, *(part.litres for part in parts)]),
    )
