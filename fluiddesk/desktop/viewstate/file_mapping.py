"""What a person says the columns of an unknown file carry."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from fluiddesk.desktop.viewstate.lab_intake import counted
from fluiddesk.domain.units import UNITS, percent_text, unit_named
from fluiddesk.services.lab_intake.mapping import (
    ColumnGuess,
    FileGuess,
    MappedColumn,
    Suggestion,
    mapped_as_suggested,
)

ROLE_WORDS: Final = {
    "bottle": "Bottle code",
    "report": "Report number",
    "issue": "Issue of the report",
    "sampled_on": "Sampled on",
    "received_on": "Received on",
    "tested_on": "Tested on",
    "issued_on": "Issued on",
    "meter": "Meter reading",
    "machine": "Machine",
    "remark": "Remark",
    "site": "Site",
    "compartment": "Compartment",
    "fluid_hours": "Hours on the fluid",
}
LONG_WORDS: Final = {
    "analyte": "Name of the value",
    "value": "The value",
    "unit": "Unit of the value",
    "sign": "Sign of the value",
}
NOT_USED: Final = "not used"
DAY_FORMS: Final = (
    *("%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%b-%Y", "%d.%m.%y", "%Y/%m/%d"),
    "%Y-%m-%d %H:%M:%S",
)
_EXAMPLES: Final = 4
_MASS_IN_VOLUME: Final = re.compile(r"[kmuµ]?g/(m|d)?[lL]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """One thing a column can carry, with its words."""

    kind: str
    code: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MappingRow:
    """One column of the file, or one name of a long form; a heading where ``guess`` is ``None``."""

    title: str
    guess: ColumnGuess | None = None


@dataclass
class MappingState:
    """The mapping at hand: begins with the sure suggestions, and is changed column by column."""

    found: FileGuess
    density_kg_l: float | None = None
    rows: tuple[MappingRow, ...] = field(init=False)
    _mapped: dict[int, MappedColumn] = field(init=False, default_factory=dict)
    by_hand: set[int] = field(init=False, default_factory=set)

    def __post_init__(self) -> None:
        self.rows = tuple(_rows(self.found))
        suggested = iter(mapped_as_suggested(self.found.guess, density_kg_l=self.density_kg_l))
        for at, row in enumerate(self.rows):
            if row.guess is not None:
                self._mapped[at] = next(suggested)

    def take_over(self, before: "MappingState") -> None:
        """Keep what was chosen by hand, where the headings are the same after another reading."""
        chosen = {before.rows[at].title: before.column(at) for at in before.by_hand}
        for at, row in enumerate(self.rows):
            if row.guess is not None and row.title in chosen:
                if chosen[row.title].kind == "long" and not self.found.guess.is_long_form:
                    continue
                self._mapped[at] = chosen[row.title]
                self.by_hand.add(at)

    @property
    def mapped(self) -> tuple[MappedColumn, ...]:
        """Every column as it stands."""
        return tuple(self._mapped[at] for at in sorted(self._mapped))

    def column(self, row: int) -> MappedColumn:
        """What one row carries."""
        return self._mapped[row]

    def guess(self, row: int) -> ColumnGuess:
        """What one row seems to carry."""
        found = self.rows[row].guess
        if found is None:
            message = "a heading carries nothing"
            raise LookupError(message)
        return found

    def choose(self, row: int, suggestion: Suggestion) -> None:
        """Take one of the suggestions."""
        self._set(
            row,
            kind=suggestion.kind,
            code=suggestion.code,
            unit=suggestion.unit,
            analytes=suggestion.analytes,
        )

    def choose_offer(self, row: int, offer: Offer) -> None:
        """Take anything else a column can carry; an analyte begins in its own unit."""
        unit = ""
        for one in self.guess(row).suggestions:
            if (one.kind, one.code) == (offer.kind, offer.code):
                unit = one.unit
        if not unit and offer.kind == "result":
            unit = self.found.analytes[offer.code].unit
        self._set(row, kind=offer.kind, code=offer.code, unit=unit)

    def set_unit(self, row: int, unit: str) -> None:
        """Say which unit a column is in."""
        self._mapped[row] = replace(self._mapped[row], unit=unit.strip())
        self.by_hand.add(row)

    def units(self, row: int) -> tuple[str, ...]:
        """The units a column of this analyte can be in."""
        one = self._mapped[row]
        if one.kind != "result" or one.code not in self.found.analytes:
            return ()
        unit = self.found.analytes[one.code].unit
        if not unit:
            return ()
        own = unit_named(unit).kind
        wanted = {own, "mass in a volume"} if own == "share by mass" else {own}
        return tuple(known.name for known in UNITS if known.kind in wanted)

    def set_density(self, density_kg_l: float | None) -> None:
        """Say the density of the fluid, for units that are a mass in a volume."""
        self.density_kg_l = density_kg_l
        for at, one in self._mapped.items():
            if self._needs_density(at):
                self._mapped[at] = replace(one, density_kg_l=density_kg_l)

    @property
    def needs_density(self) -> bool:
        """Whether some column, or some suggestion, is in a mass per volume."""
        return any(self._needs_density(at) for at in self._mapped)

    def _needs_density(self, row: int) -> bool:
        one = self._mapped[row]
        return one.kind == "result" and _MASS_IN_VOLUME.fullmatch(one.unit) is not None

    def _set(
        self, row: int, *, kind: str, code: str, unit: str, analytes: tuple[str, ...] = ()
    ) -> None:
        guess = self.guess(row)
        self._mapped[row] = MappedColumn(
            heading=guess.heading,
            kind=kind,
            code=code,
            unit=unit,
            printed_unit=guess.unit_text or None,
            analytes=analytes,
        )
        if self._needs_density(row):
            self._mapped[row] = replace(self._mapped[row], density_kg_l=self.density_kg_l)
        self.by_hand.add(row)

    @property
    def date_forms(self) -> tuple[str, ...]:
        """Forms that read every example of the columns said to hold days, the likeliest first."""
        days = {at for at, one in self._mapped.items() if _is_day(one)}
        if self.found.guess.date_forms and not days & self.by_hand:
            return self.found.guess.date_forms
        cells = [cell for at in days for cell in self.guess(at).cells]
        forms = dict.fromkeys((*self.found.guess.date_forms, *DAY_FORMS))
        return tuple(form for form in forms if cells and all(_reads(form, one) for one in cells))

    def carries(self, row: int) -> str:
        """What a row carries, in words."""
        one = self._mapped[row]
        return offer_words(self.found, one.kind, one.code, one.analytes)

    def sure(self, row: int) -> str:
        """How sure the suggestion taken is, or that a person chose."""
        if row in self.by_hand:
            return "chosen"
        one, best = self._mapped[row], self.guess(row).chosen
        return percent_text(best.score) if best and one.kind != "ignored" else ""

    def examples(self, row: int) -> str:
        """Some cells of a row as printed."""
        return ", ".join(self.guess(row).cells[:_EXAMPLES])

    def offers(self) -> tuple[Offer, ...]:
        """Everything a column can carry."""
        offers = [Offer(kind="ignored", code="", words=NOT_USED)]
        offers += [Offer(kind="role", code=code, words=words) for code, words in ROLE_WORDS.items()]
        if self.found.guess.is_long_form:
            offers += [
                Offer(kind="long", code=code, words=words) for code, words in LONG_WORDS.items()
            ]
        analytes = sorted(self.found.analytes.values(), key=lambda one: one.order)
        offers += [Offer(kind="result", code=one.code, words=one.name) for one in analytes]
        return tuple(offers)

    @property
    def sentence(self) -> str:
        """The mapping in one line."""
        results = sum(one.kind == "result" for one in self.mapped)
        unused = sum(one.kind == "ignored" for one in self.mapped)
        form = "one value a row" if self.found.guess.is_long_form else "one sample a row"
        told = f"{form}, {counted(results, 'result', 'results')} recognised"
        if not unused:
            return f"{told}."
        return f"{told}, {counted(unused, 'column', 'columns')} not used."


def _rows(found: FileGuess) -> Iterator[MappingRow]:
    guess = found.guess
    if guess.names:
        yield MappingRow(title="Columns")
    for one in guess.columns:
        if one.heading.strip():
            yield MappingRow(title=one.heading, guess=one)
    if guess.names:
        yield MappingRow(title="Names of the values")
    for one in guess.names:
        if one.heading.strip():
            yield MappingRow(title=one.heading, guess=one)


def offer_words(found: FileGuess, kind: str, code: str, analytes: tuple[str, ...] = ()) -> str:
    """What a column carries, in words."""
    if kind == "role":
        return ROLE_WORDS.get(code, code)
    if kind == "long":
        return LONG_WORDS.get(code, code)
    if kind == "result":
        if len(analytes) > 1:
            return "Contamination code"
        return found.analytes[code].name if code in found.analytes else code
    return NOT_USED


def suggestion_words(found: FileGuess, one: Suggestion) -> str:
    """A suggestion as its button says it."""
    unit = f", {one.unit}" if one.unit else ""
    score = percent_text(one.score)
    return f"{offer_words(found, one.kind, one.code, one.analytes)}{unit}  {score}"


def name_for(path: Path) -> str:
    """A layout's name made from a file's: small letters, digits and underscores.

    >>> name_for(Path("Nord Labor 2026-06.xlsx"))
    'nord_labor'
    """
    words = re.findall(r"[a-z]+", path.stem.casefold())
    return "_".join(words)[:30] or "laboratory"


def _is_day(one: MappedColumn) -> bool:
    return one.kind == "role" and one.code.endswith("_on")


def _reads(form: str, text: str) -> bool:
    try:
        datetime.strptime(text.strip(), form).replace(tzinfo=UTC)
    except ValueError:
        return False
    return True


def day_words(form: str) -> str:
    """How a form of days looks, on a day that no other form reads the same way.

    >>> day_words("%d.%m.%Y"), day_words("%m/%d/%Y")
    ('30.06.2026', '06/30/2026')
    """
    return datetime(2026, 6, 30, 14, 5, tzinfo=UTC).strftime(form)
