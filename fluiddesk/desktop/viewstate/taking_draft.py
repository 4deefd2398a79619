"""A visit being keyed from its sheet: texts as typed, what is wrong with each, and the whole."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import IntEnum
from typing import TYPE_CHECKING, Final

from fluiddesk.desktop.viewstate.round_plan import Planned
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.samples import DrawMethod
from fluiddesk.domain.trust.taking import FillLevel
from fluiddesk.services.register.facts import FieldFault
from fluiddesk.services.takings.facts import BottleTaken, VisitDone
from fluiddesk.services.takings.words import FILLS, METHODS, number_of, word_of, yes_or_no
from fluiddesk.services.visits.working_order import LIVE_KINDS

if TYPE_CHECKING:
    from fluiddesk.services.visits.facts import VisitBox


class Cell(IntEnum):
    """The columns of the sheet, in the order in which they are keyed."""

    NUMBER = 0
    BOX = 1
    BOTTLE = 2
    TAKEN = 3
    METHOD = 4
    FLUSHED = 5
    WARM = 6
    MIXED = 7
    FILL = 8
    MARKED = 9
    LITRES = 10
    CHANGED = 11
    FILTER = 12
    NOTE = 13


FIRST_KEYED: Final = Cell.TAKEN
YES_NO: Final = (
    Cell.TAKEN,
    Cell.FLUSHED,
    Cell.WARM,
    Cell.MIXED,
    Cell.MARKED,
    Cell.CHANGED,
    Cell.FILTER,
)
_KEYED: Final = tuple(one for one in Cell if one >= FIRST_KEYED)
_HEAD: Final = "head"
_HEADS: Final = ("taken_on", "taken_at", "taken_by", "meter")
_UNREADABLE: Final = "meter_unreadable"
_FAULT_CELLS: Final = {
    "why_not": Cell.NOTE,
    "fluid_changed": Cell.CHANGED,
    "litres_added": Cell.LITRES,
    "bottle": Cell.BOTTLE,
}


@dataclass(slots=True, kw_only=True)
class SheetHead:
    """What stands once on the sheet, as typed."""

    taken_on: str
    taken_at: str = ""
    taken_by: str = ""
    meter: str = ""
    meter_unreadable: bool = False


class TakingDraft:
    """One visit with its open bottles."""

    def __init__(self, one: Planned, *, today: date, by: str = "") -> None:
        self.planned = one
        self.boxes: tuple[VisitBox, ...] = one.visit.open_boxes
        day = min(one.visit.planned_on, today)
        self.head = SheetHead(taken_on=day.isoformat(), taken_by=one.visit.crew or by)
        self._texts: dict[tuple[int, int], str] = {}
        self._faults: dict[tuple[int, int], str] = {}
        self.is_touched = False
        self._being_typed: tuple[int, int, str] | None = None
        for row, box in enumerate(self.boxes):
            self._texts[row, Cell.TAKEN] = "yes"
            is_live = box.point_kind in LIVE_KINDS
            self._texts[row, Cell.METHOD] = "probe" if is_live else "tube"

    def __len__(self) -> int:
        return len(self.boxes)

    # --- cells ------------------------------------------------------------------------------

    def text(self, row: int, column: int) -> str:
        """What a cell says."""
        box = self.boxes[row]
        fixed = {
            Cell.NUMBER: str(box.place),
            Cell.BOX: box.compartment,
            Cell.BOTTLE: box.bottle_code,
        }
        return fixed.get(Cell(column), self._texts.get((row, column), ""))

    def can_write(self, row: int, column: int) -> bool:
        """Whether a cell is keyed; of a bottle that was not taken only the reason is."""
        if column < FIRST_KEYED:
            return False
        return self.is_taken(row) or column in (Cell.TAKEN, Cell.NOTE)

    def is_taken(self, row: int) -> bool:
        """Whether a bottle was filled."""
        return self._texts.get((row, Cell.TAKEN)) != "no"

    def write(self, row: int, column: int, typed: str) -> bool:
        """Write a cell; whether it could be read. Short forms are written out."""
        self._being_typed = None
        if not self.can_write(row, column):
            return False
        self.is_touched = True
        return self._put(row, column, typed.strip())

    def _put(self, row: int, column: int, said: str) -> bool:
        try:
            self._texts[row, column] = _spelt(Cell(column), said)
        except OperatorError as wrong:
            self._texts[row, column] = said
            self._faults[row, column] = str(wrong)
            return False
        self._faults.pop((row, column), None)
        return True

    def turn(self, row: int, column: int) -> None:
        """Turn a yes into a no, a no into a yes, a blank into a yes."""
        if column in YES_NO:
            self.write(row, column, "no" if self.text(row, column) == "yes" else "yes")

    def fill_down(self, row: int, column: int) -> None:
        """Write what a cell says into the blank cells below it."""
        for below in range(row + 1, len(self.boxes)):
            if not self._texts.get((below, column)) and self.can_write(below, column):
                self.write(below, column, self.text(row, column))

    def problem(self, row: int, column: int) -> str:
        """What is wrong with a cell; empty while it is sound."""
        return self._faults.get((row, column), "")

    # --- kept while it is keyed -------------------------------------------------------------

    def type_in(self, row: int, column: int, text: str) -> None:
        """Note what stands in a cell that is not left yet."""
        self._being_typed = (row, column, text)
        self.is_touched = True

    @property
    def cells(self) -> dict[str, dict[str, str]]:
        """Everything typed so far, by part of the sheet and field."""
        head = {key: str(getattr(self.head, key)) for key in _HEADS}
        head[_UNREADABLE] = "yes" if self.head.meter_unreadable else ""
        parts = {_HEAD: head}
        written = dict(self._texts)
        if self._being_typed is not None:
            row, column, text = self._being_typed
            written[row, column] = text
        for row, box in enumerate(self.boxes):
            texts = {one.name.lower(): written.get((row, one), "") for one in _KEYED}
            parts[box.id.hex()] = {key: text for key, text in texts.items() if text}
        return parts

    def take_up(self, cells: Mapping[str, Mapping[str, str]]) -> None:
        """Go on with what was typed before; bottles that came since stay as they are."""
        head = cells.get(_HEAD, {})
        for key in _HEADS:
            setattr(self.head, key, head.get(key, getattr(self.head, key)))
        self.head.meter_unreadable = head.get(_UNREADABLE) == "yes"
        for row, box in enumerate(self.boxes):
            told = cells.get(box.id.hex())
            if told is None:
                continue
            for one in _KEYED:
                self._put(row, one, told.get(one.name.lower(), ""))
        self.is_touched = True

    # --- the whole --------------------------------------------------------------------------

    def done(self) -> VisitDone:
        """The visit as keyed.

        Raises:
            OperatorError: a cell or the head cannot be read.
        """
        wrong = next(iter(self._faults.items()), None)
        if wrong is not None:
            (row, _), told = wrong
            raise OperatorError(f"Bottle {self.boxes[row].place}: {told}")
        return VisitDone(
            visit_id=self.planned.visit.id,
            taken_on=_day(self.head.taken_on),
            taken_at=self.head.taken_at.strip(),
            taken_by=self.head.taken_by.strip(),
            meter_value=number_of(self.head.meter, "The meter"),
            meter_unreadable=self.head.meter_unreadable,
            bottles=tuple(self._bottle(row) for row in range(len(self.boxes))),
        )

    def _bottle(self, row: int) -> BottleTaken:
        box, note = self.boxes[row], self._texts.get((row, Cell.NOTE), "")
        if not self.is_taken(row):
            return BottleTaken(visit_box_id=box.id, is_taken=False, why_not=note)
        litres = number_of(self._texts.get((row, Cell.LITRES), ""), "Litres added")
        return BottleTaken(
            visit_box_id=box.id,
            method=METHODS.get(self._texts.get((row, Cell.METHOD), ""), DrawMethod.UNKNOWN),
            flushed=self._said(row, Cell.FLUSHED),
            warm=self._said(row, Cell.WARM),
            mixed=self._said(row, Cell.MIXED),
            fill_level=FILLS.get(self._texts.get((row, Cell.FILL), ""), FillLevel.UNKNOWN),
            cap_marked=self._said(row, Cell.MARKED),
            litres_added=litres,
            fluid_changed=self._said(row, Cell.CHANGED),
            filter_changed=self._said(row, Cell.FILTER),
            note=note,
        )

    def _said(self, row: int, column: Cell) -> bool | None:
        text = self._texts.get((row, column), "")
        return None if not text else text == "yes"

    def take_faults(self, faults: tuple[FieldFault, ...]) -> tuple[int, int] | None:
        """Mark the cells that a refusal names; the first of them."""
        places = {str(box.place): row for row, box in enumerate(self.boxes)}
        first = None
        for fault in faults:
            name, _, place = fault.field.rpartition("_")
            if name in _FAULT_CELLS and place in places:
                at = (places[place], int(_FAULT_CELLS[name]))
                self._faults[at] = fault.text
                first = first or at
        return first

    def forget_refusal(self) -> None:
        """Forget what a refusal said of blank cells: they may be sound by now."""
        self._faults = {
            at: told for at, told in self._faults.items() if not _is_sound(at[1], self.text(*at))
        }


def _is_sound(column: int, text: str) -> bool:
    try:
        _spelt(Cell(column), text)
    except OperatorError:
        return False
    return True


def _spelt(column: Cell, said: str) -> str:
    """A cell's text written out.

    Raises:
        OperatorError: when it cannot be read.
    """
    if not said:
        return ""
    if column in YES_NO:
        return "yes" if yes_or_no(said) else "no"
    if column is Cell.METHOD:
        return word_of(said, METHODS)
    if column is Cell.FILL:
        return word_of(said, FILLS)
    if column is Cell.LITRES:
        number = number_of(said, "Litres added")
        return "" if number is None else f"{number:g}"
    return said


def _day(said: str) -> date:
    try:
        return date.fromisoformat(said.strip())
    except ValueError:
        raise OperatorError(f'"{said}" is not a date. Write year-month-day.') from None
