"""Describes an unknown laboratory's file: a look, suggestions, and the layout saved from them."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cache
from pathlib import Path

from fluiddesk import assets
from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.errors import UsageError
from fluiddesk.intake.columns import form_columns
from fluiddesk.intake.files import FileHints
from fluiddesk.intake.guessing import guess_mapping
from fluiddesk.intake.layout_files import layout_from_text, layout_to_text
from fluiddesk.intake.layouts import LabLayout, LongForm, ResultColumn, Role
from fluiddesk.intake.looking import ReadingChoices, TableLook, look_at
from fluiddesk.intake.suggestions import ColumnGuess, HeadingWords, MappingGuess, Suggestion
from fluiddesk.intake.values import ValueRules
from fluiddesk.services.lab_intake.preview import layouts
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import SavedLayoutRecord

__all__ = [
    "ColumnGuess", "FileGuess", "MappedColumn", "MappingGuess", "ReadingChoices", "Suggestion",
    "TableLook", "guess_file", "layout_of", "look_at", "mapped_as_suggested", "retire_layout",
    "save_layout",
]  # fmt: skip

_NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,39}")


@dataclass(frozen=True, slots=True, kw_only=True)
class FileGuess:
    """A file as its rules read it, and what its columns seem to carry."""

    look: TableLook
    guess: MappingGuess
    analytes: Mapping[str, Analyte] = field(repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class MappedColumn:
    """What a person says a heading carries, or a name of a long form.

    ``kind``: "role", "long", "result" or "ignored". ``code``: the role, the part of a long form or
    the first analyte. ``printed_unit``: as the laboratory words it, ``None`` for no words of its
    own. ``density_kg_l``: of the fluid, for a unit that is a mass in a volume.
    """

    heading: str
    kind: str
    code: str = ""
    unit: str = ""
    printed_unit: str | None = None
    analytes: tuple[str, ...] = ()
    density_kg_l: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sorted:
    """Mapped columns by what they are."""

    roles: dict[Role, tuple[str, ...]] = field(default_factory=dict)
    long: dict[str, tuple[str, ...]] = field(default_factory=dict)
    results: list[ResultColumn] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)


@cache
def heading_words() -> HeadingWords:
    """The usual words over columns, from the resources."""
    path = assets.resource("file_mapping") / "heading_words.toml"
    told = tomllib.loads(path.read_text(encoding="utf-8"))
    return HeadingWords(
        roles={Role(name): tuple(words) for name, words in told["roles"].items()},
        long={name: tuple(words) for name, words in told["long"].items()},
        not_tested=tuple(told["not_tested"]["words"]),
    )


def guess_file(
    place: Workplace, path: Path | str, choices: ReadingChoices | None = None
) -> FileGuess:
    """Read the beginning of a file and suggest what its columns carry; nothing is changed.

    Raises:
        OperatorError: when the file cannot be read at all, or holds no table.
    """
    look = look_at(path, choices)
    analytes = place.catalogue.analytes
    form = choices.is_long_form if choices else None
    guess = guess_mapping(look, analytes=analytes, words=heading_words(), is_long_form=form)
    return FileGuess(look=look, guess=guess, analytes=analytes)


def mapped_as_suggested(
    guess: MappingGuess, *, density_kg_l: float | None = None
) -> tuple[MappedColumn, ...]:
    """The mapping that the sure suggestions make; every other column is ignored."""
    groups: Sequence[ColumnGuess] = (*guess.columns, *guess.names)
    return tuple(_as_suggested(one, density_kg_l) for one in groups if one.heading.strip())


def _as_suggested(one: ColumnGuess, density: float | None) -> MappedColumn:
    chosen = one.chosen
    if chosen is None or (chosen.needs_density and density is None):
        return MappedColumn(heading=one.heading, kind="ignored")
    return MappedColumn(
        heading=one.heading,
        kind=chosen.kind,
        code=chosen.code,
        unit=chosen.unit,
        printed_unit=one.unit_text or None,
        analytes=chosen.analytes,
        density_kg_l=density if chosen.needs_density else None,
    )


def layout_of(
    found: FileGuess,
    mapped: Sequence[MappedColumn],
    *,
    name: str,
    laboratory: str,
    date_forms: Sequence[str] = (),
) -> LabLayout:
    """The layout that a mapping makes for files like this one.

    Raises:
        UsageError: when the name cannot be one, or a needed column is missing.
        LayoutError: when a unit or an analyte does not fit.
    """
    if not _NAME.fullmatch(name):
        raise UsageError(
            f'"{name}" cannot name a layout. Use small letters, digits, "-" and "_", such as '
            '"lab_north".'
        )
    look, guess = found.look, found.guess
    parts = _sorted(mapped, has_units_row=look.units is not None)
    _refuse_incomplete(parts, is_long=guess.is_long_form)
    forms = tuple(date_forms) or guess.date_forms or ("%Y-%m-%d",)
    is_csv = look.table.kind == "csv"
    layout = LabLayout(
        name=name,
        laboratory=laboratory,
        kind=look.table.kind,
        hints=FileHints(
            code_page=(look.encoding or "cp1252") if is_csv else "cp1252",
            delimiter=look.delimiter if is_csv else None,
            sheet=look.sheet if len(look.sheets) > 1 else None,
        ),
        rules=ValueRules(
            decimal_mark=look.decimal_mark,
            thousands_mark=look.thousands_mark,
            date_formats=forms,
            not_tested=tuple(
                dict.fromkeys((*ValueRules().not_tested, *heading_words().not_tested))
            ),
        ),
        has_units_row=look.units is not None,
        roles=parts.roles,
        results=tuple(parts.results),
        ignored=tuple(parts.ignored),
        long_form=LongForm(**parts.long) if guess.is_long_form else None,
    )
    # What is saved must read back and fit the catalogue: both are tried before it is relied on.
    form_columns(layout, found.analytes)
    return layout_from_text(layout_to_text(layout), origin=f"layout {name}")


def _sorted(mapped: Sequence[MappedColumn], *, has_units_row: bool) -> _Sorted:
    parts = _Sorted()
    for one in mapped:
        if one.kind == "role":
            role = Role(one.code)
            parts.roles[role] = (*parts.roles.get(role, ()), one.heading)
        elif one.kind == "long":
            parts.long[one.code] = (*parts.long.get(one.code, ()), one.heading)
        elif one.kind == "result":
            parts.results.append(_result(one, has_units_row=has_units_row))
        else:
            parts.ignored.append(one.heading)
    return parts


def _result(one: MappedColumn, *, has_units_row: bool) -> ResultColumn:
    codes = one.analytes or (one.code,)
    # Where a row of units stands below the headings, an empty cell in it is what is printed.
    unsaid = "" if has_units_row else one.unit
    return ResultColumn(
        headers=(one.heading,),
        analytes=codes,
        unit=one.unit,
        printed_unit=unsaid if one.printed_unit is None else one.printed_unit,
        split="iso4406" if len(codes) > 1 else None,
        fluid_density=one.density_kg_l,
    )


def _refuse_incomplete(parts: _Sorted, *, is_long: bool) -> None:
    if not parts.roles.keys() & {Role.BOTTLE, Role.MACHINE}:
        raise UsageError(
            "No column says whose sample a row is. Choose the column of bottle codes, or for past "
            "results the column of machines."
        )
    if not parts.results:
        raise UsageError("No column holds results. Choose at least one analyte.")
    if is_long and not {"analyte", "value"} <= parts.long.keys():
        raise UsageError("A list of values needs a column of names and a column of values.")


def save_layout(place: Workplace, layout: LabLayout, *, title: str = "", moment: datetime) -> str:
    """Keep a layout in the database, or in place of an earlier one of this name. Answers its name.

    Raises:
        UsageError: when the program's own layout has this name.
    """
    if layout.name in {one.name for one in layouts()}:
        raise UsageError(
            f'"{layout.name}" is a layout that came with the program. Choose another name.'
        )
    with place.store.transaction(who=place.who, moment=moment) as desk:
        if layout.laboratory not in desk.catalogue.laboratories():
            desk.catalogue.add_laboratories({layout.laboratory: layout.laboratory})
        known = {one.code: one for one in desk.keying.layouts(with_retired=True)}
        before = known.get(layout.name)
        desk.keying.put_layout(
            SavedLayoutRecord(
                code=layout.name,
                name=title.strip() or layout.name,
                laboratory=layout.laboratory,
                document=layout_to_text(layout),
                version=before.version if before else 0,
            )
        )
    return layout.name


def retire_layout(place: Workplace, name: str, *, moment: datetime) -> None:
    """Offer a saved layout no more; what was read by it stays.

    Raises:
        UsageError: when no such layout was saved here.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        known: Mapping[str, SavedLayoutRecord] = {one.code: one for one in desk.keying.layouts()}
        if name not in known:
            raise UsageError(f'No layout "{name}" was saved at this desk.')
        desk.keying.put_layout(replace(known[name], retired=True))
