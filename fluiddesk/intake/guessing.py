"""Suggests what the columns of an unknown file carry; a person decides, nothing is applied.

A heading is compared with the names, symbols and synonyms of the catalogue and with the usual words
of laboratories, exactly first, then by whole words, then by likeness of spelling. What stands below
speaks too: bottle codes by their check character, days, contamination codes, words for present and
absent, and whether the numbers lie where the analyte's can. Spelling alone never decides: likeness
is offered, not chosen.
"""

import difflib
import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from functools import lru_cache, partial
from typing import Final

import numpy as np

from fluiddesk.domain.analytes import Analyte, AnalyteCode
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import normal_bottle_code
from fluiddesk.domain.units import conversion, percent_text
from fluiddesk.intake.heading_units import doubt_of_unit, fitting_unit, split_heading
from fluiddesk.intake.layouts import Role
from fluiddesk.intake.looking import TableLook
from fluiddesk.intake.suggestions import (
    ColumnGuess,
    HeadingWords,
    MappingGuess,
    Suggestion,
    one_each,
)
from fluiddesk.intake.values import SignedValue, ValueRules, read_value

OFFERED_FROM: Final = 0.35
_EXACT, _WORDS, _SHARED, _LIKE = 0.9, 0.75, 0.6, 0.5
_SYMBOL: Final = 2
_APART: Final = 0.15
_LIKE_FROM: Final = 0.84
_MOST_OFFERED: Final = 4
_MOST: Final = 0.8
_FEW: Final = 0.5
_CODE: Final = re.compile(r"\s*>?\d{1,2}\s*/\s*>?\d{1,2}\s*/\s*>?\d{1,2}\s*")
_ISO: Final = ("iso4406_4um", "iso4406_6um", "iso4406_14um")
_DATE_FORMS: Final = (
    "%Y-%m-%d", "%Y-%m-%d %H:%M", "%Y-%m-%d %H:%M:%S", "%d.%m.%Y", "%d.%m.%Y %H:%M", "%d.%m.%y",
    "%d/%m/%Y", "%m/%d/%Y", "%d/%m/%y", "%m/%d/%y", "%d-%m-%Y", "%Y/%m/%d", "%d %b %Y",
    "%d-%b-%Y", "%d-%b-%y", "%Y%m%d",
)  # fmt: skip
_DATE_ROLES: Final = (Role.SAMPLED_ON, Role.RECEIVED_ON, Role.TESTED_ON, Role.ISSUED_ON)
_NAMES_SHARE: Final = 0.6


def guess_mapping(
    look: TableLook,
    *,
    analytes: Mapping[AnalyteCode, Analyte],
    words: HeadingWords,
    is_long_form: bool | None = None,
) -> MappingGuess:
    """Suggest what each column of a file carries; ``is_long_form`` is a person's word on it."""
    guesser = _Guesser(look, analytes, words)
    names = [] if is_long_form is False else _long_names(guesser, look)
    if is_long_form and not names:
        names = _likely_names(guesser, look)
    is_long = bool(names) or is_long_form is True
    columns = [guesser.column(place, is_long=is_long) for place in range(len(guesser.heads))]
    if names:
        columns[names[0].place] = _with_names(columns[names[0].place])
    columns = one_each(columns)
    dates, doubtful = _date_forms(look, columns)
    notes = []
    if doubtful:
        notes.append(
            f"Day and month cannot be told apart ({' or '.join(doubtful)}). Compare with a report."
        )
    if not any(one.chosen and one.chosen.code == Role.BOTTLE for one in columns):
        notes.append("No column holds bottle codes; such a file can be read as past results.")
    if is_long and not names:
        notes.append("No column holds names of values that are known; nothing can be listed.")
    return MappingGuess(
        columns=tuple(columns),
        is_long_form=is_long,
        names=tuple(one_each(names)),
        date_forms=dates,
        notes=tuple(notes),
    )


def _long_names(guesser: "_Guesser", look: TableLook) -> list[ColumnGuess]:
    """The names in the column of analytes, where the file has one value in a row."""
    for place in range(len(guesser.heads)):
        found = guesser.role_of_long(guesser.heads[place])
        if found != "analyte":
            continue
        names = list(dict.fromkeys(look.column(place)))
        guesses = [guesser.name(place, name) for name in names]
        known = sum(one.chosen is not None for one in guesses)
        if names and known >= max(2, _FEW * _NAMES_SHARE * len(names)):
            return guesses
    return []


def _likely_names(guesser: "_Guesser", look: TableLook) -> list[ColumnGuess]:
    """The names in the column most like one of names, where a person says it is a list."""
    cells = [list(dict.fromkeys(look.column(place))) for place in range(len(guesser.heads))]
    told = [guesser.role_of_long(head) == "analyte" for head in guesser.heads]
    known = [sum(map(guesser.knows, names)) for names in cells]
    best = max(range(len(cells)), key=lambda place: (told[place], known[place]))
    if not known[best] and not told[best]:
        return []
    return [guesser.name(best, name) for name in cells[best]]


def _with_names(column: ColumnGuess) -> ColumnGuess:
    """The column of names, suggested as such whatever its heading."""
    if any(one.kind == "long" and one.code == "analyte" for one in column.suggestions):
        return column
    names = Suggestion(
        kind="long", code="analyte", score=0.95, why="its cells are the names of values"
    )
    return replace(column, suggestions=(names, *column.suggestions[: _MOST_OFFERED - 1]))


def plain_heading(text: str) -> str:
    """A heading as it is compared: lower case, letters and digits apart, single spaces.

    >>> plain_heading("Visc100 (mm2/s)") == plain_heading("VISC 100 mm 2 s")
    True
    """
    plain = unicodedata.normalize("NFKC", text).replace("\N{GREEK SMALL LETTER MU}", "u")
    spaced = re.sub(r"[^\w<>%]+|_", " ", plain.casefold())
    apart = re.sub(r"(?<=[a-z])(?=[0-9])|(?<=[0-9])(?=[a-z])", " ", spaced)
    return " ".join(apart.split())


class _Guesser:
    """Holds the words once for all columns of a file."""

    def __init__(
        self, look: TableLook, analytes: Mapping[AnalyteCode, Analyte], words: HeadingWords
    ) -> None:
        self.look, self.analytes, self.words = look, analytes, words
        self.heads = list(look.header.printed)
        self.rules = ValueRules(
            decimal_mark=look.decimal_mark,
            thousands_mark=look.thousands_mark,
            not_tested=tuple({*ValueRules().not_tested, *words.not_tested}),
        )
        self._by_name: dict[str, list[AnalyteCode]] = {}
        for one in analytes.values():
            names = {plain_heading(name) for name in (one.name, one.code, one.symbol)}
            for name in names | {plain_heading(name) for name in one.synonyms}:
                self._by_name.setdefault(name, []).append(one.code)
        self._role_words = {
            plain_heading(word): role for role, group in words.roles.items() for word in group
        }
        self._long_words = {
            plain_heading(word): kind for kind, group in words.long.items() for word in group
        }

    def knows(self, name: str) -> bool:
        """Whether a text is exactly a name of an analyte."""
        return plain_heading(name) in self._by_name

    def role_of_long(self, heading: str) -> str:
        """Which column of a long form a heading names; empty for none."""
        return self._long_words.get(plain_heading(heading), "")

    def column(self, place: int, *, is_long: bool) -> ColumnGuess:
        """What one column may carry."""
        heading = self.heads[place]
        cells = self.look.column(place)
        name, unit = self._parts(heading, place)
        found = [*self._roles(heading, cells)]
        long_kind = self.role_of_long(heading)
        if is_long and long_kind:
            told = f'"{heading}" is a usual heading of a list of values'
            found.append(Suggestion(kind="long", code=long_kind, score=0.95, why=told))
        if not is_long:
            found += self._analytes(heading, (name, unit), cells)
        return self._guess(place, heading, unit, cells, found)

    def name(self, place: int, name: str) -> ColumnGuess:
        """What one name of a long form may be, with the values and the unit in its rows."""
        at = {self.role_of_long(head): index for index, head in enumerate(self.heads)}
        rows = [
            row.printed
            for row in self.look.rows
            if place < len(row.values) and row.printed[place].strip() == name
        ]
        unit = next((_cell(row, at.get("unit")) for row in rows if _cell(row, at.get("unit"))), "")
        cells = [_cell(row, at.get("value")) for row in rows]
        short, own = self._parts(name, None)
        return self._guess(
            place, name, unit or own, cells, self._analytes(name, (short, unit or own), cells)
        )

    @staticmethod
    def _guess(
        place: int, heading: str, unit: str, cells: Sequence[str], found: Sequence[Suggestion]
    ) -> ColumnGuess:
        kept = sorted((s for s in found if s.score >= OFFERED_FROM), key=lambda s: -s.score)
        return ColumnGuess(
            place=place,
            heading=heading,
            unit_text=unit,
            cells=tuple(cells[:5]),
            suggestions=tuple(kept[:_MOST_OFFERED]),
        )

    def _parts(self, heading: str, place: int | None) -> tuple[str, str]:
        """The name in a heading, and its unit: in brackets, behind, or in the row of units."""
        below = ""
        if place is not None and self.look.units is not None:
            below = self.look.units.cell(place).printed.strip()
        name, unit = split_heading(heading)
        is_whole_name = plain_heading(heading) in self._by_name
        if unit and is_whole_name and plain_heading(name) not in self._by_name:
            # "Particles 4 um" is a name, not particles in micrometres.
            return heading, below
        return name, below or unit

    def _roles(self, heading: str, cells: Sequence[str]) -> list[Suggestion]:
        found = []
        role = self._role_words.get(plain_heading(heading))
        if role is not None:
            score = _EXACT
            if role in _DATE_ROLES and cells and not _all_dates(cells):
                score = 0.4
            told = f'"{heading.strip()}" is a usual heading for it'
            found.append(Suggestion(kind="role", code=role.value, score=score, why=told))
        share = _share(cells, _is_bottle_code)
        if share >= _FEW and role is not Role.BOTTLE:
            told = f"{percent_text(share)} of its cells are bottle codes by their check character"
            found.append(Suggestion(kind="role", code=Role.BOTTLE.value, score=0.97, why=told))
        elif role is Role.BOTTLE and cells and share == 0:
            told = f"{found[0].why}, but no cell is a code of ours"
            found[0] = Suggestion(kind="role", code=role.value, score=0.72, why=told)
        return found

    def _analytes(
        self, heading: str, parts: tuple[str, str], cells: Sequence[str]
    ) -> list[Suggestion]:
        name, unit = parts
        if _share(cells, lambda text: _CODE.fullmatch(text) is not None) >= _MOST:
            told = "its cells are contamination codes of three numbers"
            return [
                Suggestion(
                    kind="result", code=_ISO[0], unit="code", score=0.95, why=told, analytes=_ISO
                )
            ]
        found = []
        for code, score, why in self._named(heading, name):
            found.append(self._suggested(self.analytes[code], unit, cells, score, why))
        return _told_apart(found)

    def _named(self, heading: str, name: str) -> list[tuple[AnalyteCode, float, str]]:
        """Analytes that a heading names, with and without the unit in it, and how surely."""
        plain = plain_heading(name)
        exact = self._by_name.get(plain_heading(heading)) or self._by_name.get(plain)
        if exact:
            told = f'"{name.strip()}" is one of its names'
            score = _EXACT if len(exact) == 1 else _SHARED
            return [(code, score, told) for code in exact]
        words = set(plain.split())
        by_words: dict[AnalyteCode, int] = {}
        for known, codes in self._by_name.items():
            parts = set(known.split())
            # A symbol alone is no word: "Si" stands in many headings by chance.
            if len(known) > _SYMBOL and parts <= words:
                by_words |= {code: max(len(parts), by_words.get(code, 0)) for code in codes}
        if by_words:
            most = max(by_words.values())
            longest = [code for code, count in by_words.items() if count == most]
            score = _WORDS if len(longest) == 1 else _LIKE
            return [(code, score, "its name stands in the heading") for code in longest]
        near = difflib.get_close_matches(plain, list(self._by_name), n=3, cutoff=_LIKE_FROM)
        return list(
            {
                code: (code, _LIKE, f'spelled like "{one}"')
                for one in near
                for code in self._by_name[one]
            }.values()
        )

    def _suggested(
        self, analyte: Analyte, unit: str, cells: Sequence[str], score: float, why: str
    ) -> Suggestion:
        if analyte.is_presence_test:
            share = _share(cells, lambda text: self._reads(text, presence=True))
            return Suggestion(
                kind="result",
                code=analyte.code,
                unit=analyte.unit,
                score=score if share >= _FEW or not cells else score - 0.5,
                why=why,
                analytes=(analyte.code,),
            )
        printed, told, needs_density = fitting_unit(unit, analyte)
        score -= doubt_of_unit(unit, told, needs_density=needs_density)
        fits = self._share_plausible(analyte, printed, cells)
        if fits is not None and fits < _FEW:
            score -= 0.4
            few = f"only {percent_text(fits)} of the values can be {analyte.name}"
            told = f"{told}; {few}" if told else few
        return Suggestion(
            kind="result",
            code=analyte.code,
            unit=printed,
            score=round(max(score, 0.0), 3),
            why=f"{why}; {told}" if told else why,
            analytes=(analyte.code,),
            needs_density=needs_density,
        )

    def _reads(self, text: str, *, presence: bool = False) -> bool:
        seen = read_value(text, rules=self.rules, unit="", is_presence=presence)
        return isinstance(seen, SignedValue)

    def _share_plausible(self, analyte: Analyte, unit: str, cells: Sequence[str]) -> float | None:
        """The share of the cells that are values this analyte can have; nothing without any."""
        if not cells or analyte.plausible is None:
            return None
        seen = [read_value(text, rules=self.rules, unit=unit) for text in cells]
        numbers = [
            one.number for one in seen if isinstance(one, SignedValue) and one.number is not None
        ]
        faults = sum(not isinstance(one, SignedValue) for one in seen)
        if not numbers:
            return 0.0 if faults else None
        try:
            way = conversion(unit_from=unit, unit_to=analyte.unit)
            values = np.array([way(one) for one in numbers])
        except OperatorError:
            values = np.array(numbers)
        inside = (values >= analyte.plausible.low) & (values <= analyte.plausible.high)
        return float(inside.sum() / (len(numbers) + faults))


def _told_apart(found: list[Suggestion]) -> list[Suggestion]:
    """Analytes of one name: where only one fits unit and values, it is the one meant."""
    ordered = sorted(found, key=lambda one: -one.score)
    is_shared = len(ordered) > 1 and ordered[0].score == _SHARED
    if not is_shared or ordered[0].score - ordered[1].score < _APART:
        return found
    return [replace(ordered[0], score=_WORDS, why=f"{ordered[0].why}; alone fits"), *ordered[1:]]


def _cell(texts: Sequence[str], place: int | None) -> str:
    return texts[place].strip() if place is not None and place < len(texts) else ""


def _share(cells: Sequence[str], test: Callable[[str], bool]) -> float:
    return sum(bool(test(text)) for text in cells) / len(cells) if cells else 0.0


def _is_bottle_code(text: str) -> bool:
    try:
        normal_bottle_code(text)
    except OperatorError:
        return False
    return "-" in text and len(text) > 6  # noqa: PLR2004 - one number in 36 fits by chance


def _all_dates(cells: Sequence[str]) -> bool:
    return any(_share(cells, partial(_is_date, form=form)) >= _MOST for form in _DATE_FORMS)


@lru_cache(maxsize=65_536)
def _is_date(text: str, form: str) -> bool:
    try:
        datetime.strptime(text, form)  # noqa: DTZ007 - a day at the site
    except ValueError:
        return False
    return True


def _date_forms(
    look: TableLook, columns: Sequence[ColumnGuess]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The forms that read the days of the file, and two that fit alike where nobody can tell."""
    roles = {role.value for role in _DATE_ROLES}
    chosen: list[str] = []
    doubtful: tuple[str, ...] = ()
    for one in columns:
        if one.chosen is None or one.chosen.code not in roles:
            continue
        texts = look.column(one.place)
        shares = {form: _share(texts, partial(_is_date, form=form)) for form in _DATE_FORMS}
        best = max(shares.values())
        fitting = [form for form, share in shares.items() if share == best and share > 0]
        if len(fitting) > 1 and not doubtful:
            doubtful = (fitting[0], fitting[1])
        chosen += fitting[:1]
    # A form that leaves nothing to doubt in one column speaks for the others too.
    return tuple(dict.fromkeys(chosen)), doubtful
