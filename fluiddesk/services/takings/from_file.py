"""Visit sheets as a file: one row a bottle, blank to be filled in, and read back to be recorded."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, Final

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import normal_bottle_code
from fluiddesk.domain.samples import DrawMethod
from fluiddesk.domain.trust.taking import FillLevel
from fluiddesk.intake.files import FileHints, LabTable, open_lab_file, printed_text
from fluiddesk.services.takings.facts import BottleTaken, VisitDone
from fluiddesk.services.takings.words import FILLS, METHODS, number_of, word_of, yes_or_no
from fluiddesk.services.visits.facts import VisitState
from fluiddesk.services.visits.read import visits
from fluiddesk.services.visits.working_order import LIVE_KINDS
from fluiddesk.services.workplace import Workplace

COLUMNS: Final = (
    "machine", "planned_on", "number", "compartment", "bottle", "taken_on", "taken_at", "taken_by",
    "meter", "meter_unreadable", "taken", "method", "flushed", "warm", "mixed", "filled",
    "lid_marked", "litres_added", "fluid_changed", "filter_changed", "note",
)  # fmt: skip
_NEEDED: Final = ("bottle", "taken_on", "taken_by")
_ONCE: Final = ("taken_on", "taken_at", "taken_by", "meter", "meter_unreadable")
"""What stands once on a sheet: on any row of its bottles, and on no two differently."""
_DELIMITERS: Final = (",", ";", "\t")
_TOLD: Final = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class _OpenBottle:
    """A bottle that waits to be recorded."""

    visit_id: bytes
    visit: str
    box_id: bytes


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of the file by the names of its columns."""

    number: int
    texts: Mapping[str, str]

    def text(self, column: str) -> str:
        """What a column says."""
        return self.texts.get(column, "").strip()


def blank_rows(place: Workplace, *, today: date) -> list[dict[str, Any]]:
    """A row for each issued bottle that waits to be recorded, by day, machine and working order."""
    rows: list[dict[str, Any]] = []
    for visit in visits(place, today=today, states={VisitState.ISSUED}):
        for box in visit.open_boxes:
            known = {
                "machine": visit.machine,
                "planned_on": visit.planned_on.isoformat(),
                "number": box.place,
                "compartment": box.compartment,
                "bottle": box.bottle_code,
                "taken": "yes",
                "method": "probe" if box.point_kind in LIVE_KINDS else "tube",
            }
            rows.append({name: known.get(name, "") for name in COLUMNS})
    return rows


def read_takings(place: Workplace, path: Path, *, today: date) -> tuple[VisitDone, ...]:
    """The visits of a file, in the order in which they come; nothing is recorded.

    Raises:
        OperatorError: when the file cannot be read, lacks a column, or rows of it are wrong; each
            with its number.
    """
    open_bottles = {
        box.bottle_code: _OpenBottle(
            visit_id=visit.id,
            visit=f"{visit.machine} on {visit.planned_on.isoformat()}",
            box_id=box.id,
        )
        for visit in visits(place, today=today)
        for box in visit.open_boxes
        if box.bottle_code
    }
    faults: list[str] = []
    found: dict[bytes, list[tuple[_Row, _OpenBottle]]] = defaultdict(list)
    for row in _rows(path):
        bottle = _bottle_of(row, open_bottles, faults)
        if bottle is not None:
            found[bottle.visit_id].append((row, bottle))
    done = [_visit(key, rows, faults) for key, rows in found.items()]
    if faults:
        more = [f"{len(faults) - _TOLD} more."] if len(faults) > _TOLD else []
        raise OperatorError("\n".join([f"{path.name} was not read:", *faults[:_TOLD], *more]))
    if not done:
        raise OperatorError(f"{path.name} names no bottle. Fill in the rows and read it again.")
    return tuple(one for one in done if one is not None)


def _rows(path: Path) -> list[_Row]:
    table = open_lab_file(path)
    heads, start, delimiter = list[str](), 0, None
    for delimiter in _DELIMITERS if table.kind == "csv" else (None,):
        heads, start = _heads(table, delimiter)
        if "bottle" in heads:
            break
    missing = [name for name in _NEEDED if name not in heads]
    if missing:
        raise OperatorError(
            f"{path.name} has no column {', '.join(missing)}. The first row names the columns; "
            "fluiddesk takings --blank FILE writes a file with all of them."
        )
    return [
        _Row(
            row.number,
            {
                head: printed_text(value)
                for head, value in zip(heads, row.values, strict=False)
                if head
            },
        )
        for row in table.rows(FileHints(delimiter=delimiter))
        if row.number > start and not row.is_blank
    ]


def _heads(table: LabTable, delimiter: str | None) -> tuple[list[str], int]:
    """The headings of the first row that is not blank, and its number."""
    for row in table.head(FileHints(delimiter=delimiter)):
        if not row.is_blank:
            words = (printed_text(value) for value in row.values)
            return ["_".join(one.casefold().split()) for one in words], row.number
    return [], 0


def _bottle_of(
    row: _Row, open_bottles: Mapping[str, _OpenBottle], faults: list[str]
) -> _OpenBottle | None:
    typed = row.text("bottle")
    try:
        code = normal_bottle_code(typed)
    except OperatorError as fault:
        faults.append(f"Row {row.number}: {fault}")
        return None
    if code not in open_bottles:
        faults.append(
            f"Row {row.number}: bottle {code} waits on no visit. It was recorded or given up "
            "before, or its visit was never issued. Leave the row out."
        )
        return None
    return open_bottles[code]


def _visit(
    visit_id: bytes, rows: Sequence[tuple[_Row, _OpenBottle]], faults: list[str]
) -> VisitDone | None:
    """One visit of its rows; ``None`` where something of it cannot be read."""
    before, name = len(faults), rows[0][1].visit
    head = {column: _said_once(column, rows, name, faults) for column in _ONCE}
    day = _try(lambda: _day(head["taken_on"]), f"Visit to {name}", faults)
    meter = _try(lambda: number_of(head["meter"], "The meter"), f"Visit to {name}", faults)
    unread = _try(lambda: yes_or_no(head["meter_unreadable"]), f"Visit to {name}", faults)
    bottles = [
        _try(lambda row=row, one=one: _taken(row, one), f"Row {row.number}", faults)
        for row, one in rows
    ]
    if len({one.box_id for _, one in rows}) < len(rows):
        faults.append(f"Visit to {name}: a bottle is listed twice. List each bottle once.")
    if len(faults) > before or day is None:
        return None
    return VisitDone(
        visit_id=visit_id,
        taken_on=day,
        # A workbook tells a time with its seconds.
        taken_at=head["taken_at"][:5],
        taken_by=head["taken_by"],
        meter_value=meter,
        meter_unreadable=bool(unread),
        bottles=tuple(one for one in bottles if one is not None),
    )


def _try(read: Any, where: str, faults: list[str]) -> Any:
    try:
        return read()
    except OperatorError as fault:
        faults.append(f"{where}: {fault}")
        return None


def _said_once(
    column: str, rows: Sequence[tuple[_Row, _OpenBottle]], name: str, faults: list[str]
) -> str:
    said = list(dict.fromkeys(text for row, _ in rows if (text := row.text(column))))
    if len(said) > 1:
        told = " and ".join(f'"{one}"' for one in said[:2])
        faults.append(f"Visit to {name}: {column} is {told}. A visit has one; make them the same.")
    return said[0] if said else ""


def _day(said: str) -> date:
    try:
        return date.fromisoformat(said.strip()[:10])
    except ValueError:
        raise OperatorError(f'taken_on: "{said}" is not a date. Write year-month-day.') from None


def _taken(row: _Row, bottle: _OpenBottle) -> BottleTaken:
    note = row.text("note")
    if yes_or_no(row.text("taken")) is False:
        return BottleTaken(visit_box_id=bottle.box_id, is_taken=False, why_not=note)
    method, fill = row.text("method"), row.text("filled")
    return BottleTaken(
        visit_box_id=bottle.box_id,
        method=METHODS[word_of(method, METHODS)] if method else DrawMethod.UNKNOWN,
        flushed=yes_or_no(row.text("flushed")),
        warm=yes_or_no(row.text("warm")),
        mixed=yes_or_no(row.text("mixed")),
        fill_level=FILLS[word_of(fill, FILLS)] if fill else FillLevel.UNKNOWN,
        cap_marked=yes_or_no(row.text("lid_marked")),
        litres_added=number_of(row.text("litres_added"), "litres_added"),
        fluid_changed=yes_or_no(row.text("fluid_changed")),
        filter_changed=yes_or_no(row.text("filter_changed")),
        note=note,
    )
