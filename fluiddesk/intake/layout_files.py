"""Reads layouts from TOML files; the form is described in `resources/lab_layouts/README.md`."""

import json
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any, Final

from fluiddesk.domain.units import UnitError, unit_named
from fluiddesk.intake.files import FileHints
from fluiddesk.intake.layouts import LabLayout, LayoutError, LongForm, ResultColumn, Role
from fluiddesk.intake.values import ValueRules

_CODE_PARTS: Final = 3
_FILE_KEYS: Final = {"kind", "code_page", "delimiter", "sheet"}
_ROW_KEYS: Final = {"header", "units_below_header", "coded_headers"}
_CHECK_KEYS: Final = {"sampled_on_tolerance_days", "meter_tolerance"}
_RESULT_KEYS: Final = {
    "headers", "analyte", "analytes", "unit", "printed_unit", "split",
    "part_density", "fluid_density",
}  # fmt: skip
_KEYS: Final = {
    "name", "laboratory", "file", "rows", "values", "checks", "columns", "results", "ignored",
    "long",
}  # fmt: skip


def load_layouts(folder: Path) -> list[LabLayout]:
    """Every layout of a folder, by name.

    Raises:
        LayoutError: when a file says something that cannot be, or a name stands twice.
    """
    layouts = [
        layout_from_text(path.read_text(encoding="utf-8"), origin=path.name)
        for path in sorted(folder.glob("*.toml"))
    ]
    names = [layout.name for layout in layouts]
    for name in names:
        if names.count(name) > 1:
            raise LayoutError(f'Two files in {folder} describe a layout "{name}". Rename one.')
    return layouts


def layout_from_text(text: str, *, origin: str) -> LabLayout:
    """A layout from its TOML text; ``origin`` names the file in complaints.

    Raises:
        LayoutError: naming the key that is unknown, missing or of the wrong kind.
    """
    try:
        told = tomllib.loads(text)
        _refuse_unknown(told, _KEYS, "the layout")
        return _layout(told)
    except (UnitError, KeyError, TypeError, ValueError, AttributeError) as fault:
        said = f"the key {fault} is missing" if isinstance(fault, KeyError) else str(fault)
        raise LayoutError(f"{origin} is not a layout: {said}. Correct the file.") from fault


def _layout(told: Mapping[str, Any]) -> LabLayout:
    file = _part(told, "file", _FILE_KEYS)
    rows = _part(told, "rows", _ROW_KEYS)
    values = _part(told, "values", {key.name for key in fields(ValueRules)})
    checks = _part(told, "checks", _CHECK_KEYS)
    kind = file.pop("kind", "any")
    if kind not in ("csv", "xlsx", "any"):
        raise ValueError(f'the kind of file is "{kind}", not csv, xlsx or any')
    columns = _part(told, "columns", {role.value for role in Role})
    if not columns.keys() & {Role.BOTTLE, Role.MACHINE}:
        raise ValueError("the columns name no bottle and no machine")
    return LabLayout(
        name=str(told["name"]),
        laboratory=str(told["laboratory"]),
        kind=kind,
        hints=_hints(file),
        rules=_rules(values),
        header_row=rows.get("header"),
        has_units_row=bool(rows.get("units_below_header", False)),
        has_coded_headers=bool(rows.get("coded_headers", False)),
        roles={Role(key): _texts(names) for key, names in columns.items()},
        results=tuple(_result_column(column) for column in told.get("results", [])),
        ignored=_texts(told.get("ignored", [])),
        long_form=_long_form(told),
        **checks,
    )


def _long_form(told: Mapping[str, Any]) -> LongForm | None:
    if "long" not in told:
        return None
    long = _part(told, "long", {field.name for field in fields(LongForm)})
    return LongForm(
        analyte=_texts(long["analyte"]),
        value=_texts(long["value"]),
        unit=_texts(long.get("unit", ())),
        sign=_texts(long.get("sign", ())),
    )


def _hints(file: Mapping[str, Any]) -> FileHints:
    hints = FileHints(**file)
    try:
        "".encode(hints.code_page)
    except LookupError as fault:
        raise ValueError(f'"{hints.code_page}" is not a code page') from fault
    return hints


def _rules(values: Mapping[str, Any]) -> ValueRules:
    marks = {key: str(value) for key, value in values.items() if key.endswith("_mark")}
    texts = {key: _texts(value) for key, value in values.items() if not key.endswith("_mark")}
    for key, words in texts.items():
        if key != "date_formats":
            texts[key] = tuple(word.casefold() for word in words)
    told: dict[str, Any] = {**marks, **texts}
    rules = ValueRules(**told)
    if rules.decimal_mark not in (".", ",") or rules.thousands_mark == rules.decimal_mark:
        raise ValueError("the decimal mark must be . or , and differ from the thousands mark")
    return rules


def _result_column(told: Mapping[str, Any]) -> ResultColumn:
    _refuse_unknown(told, _RESULT_KEYS, "a result column")
    split = told.get("split")
    analytes = _texts(told["analytes"] if split else [told["analyte"]])
    if split not in (None, "iso4406") or (split and len(analytes) != _CODE_PARTS):
        raise ValueError('a split is "iso4406" with three analytes')
    unit = str(told["unit"])
    unit_named(unit)
    return ResultColumn(
        headers=_texts(told["headers"]),
        analytes=analytes,
        unit=unit,
        printed_unit=str(told.get("printed_unit", unit)),
        split=split,
        part_density=told.get("part_density"),
        fluid_density=told.get("fluid_density"),
    )


def _part(told: Mapping[str, Any], key: str, known: set[str]) -> dict[str, Any]:
    part = dict(told.get(key, {}))
    _refuse_unknown(part, known, f"[{key}]")
    return part


def _refuse_unknown(told: Mapping[str, Any], known: set[str], place: str) -> None:
    unknown = sorted(set(told) - known)
    if unknown:
        raise ValueError(f"{place} has an unknown key {unknown[0]}")


def _texts(value: Sequence[str] | str) -> tuple[str, ...]:
    """One text or several; anything else is refused."""
    texts = (value,) if isinstance(value, str) else tuple(value)
    if not all(isinstance(text, str) for text in texts):
        raise TypeError(f"{value} is not a list of texts")
    return texts


def layout_to_text(layout: LabLayout) -> str:
    """A layout as TOML text that reads back as the same layout."""
    lines = [f"name = {_quoted(layout.name)}", f"laboratory = {_quoted(layout.laboratory)}"]
    if layout.ignored:
        lines.append(f"ignored = {_listed(layout.ignored)}")
    hints = layout.hints
    lines += _table(
        "file",
        kind=layout.kind,
        code_page=hints.code_page,
        delimiter=hints.delimiter,
        sheet=hints.sheet,
    )
    lines += _table(
        "rows",
        header=layout.header_row,
        units_below_header=layout.has_units_row or None,
        coded_headers=layout.has_coded_headers or None,
    )
    rules = {field.name: getattr(layout.rules, field.name) for field in fields(ValueRules)}
    lines += _table("values", **rules)
    lines += _table(
        "checks",
        sampled_on_tolerance_days=layout.sampled_on_tolerance_days,
        meter_tolerance=layout.meter_tolerance,
    )
    lines += _table("columns", **{role.value: names for role, names in layout.roles.items()})
    if layout.long_form is not None:
        long = {field.name: getattr(layout.long_form, field.name) for field in fields(LongForm)}
        lines += _table("long", **{key: names for key, names in long.items() if names})
    for column in layout.results:
        told = {"headers": column.headers, "unit": column.unit}
        told |= {"printed_unit": column.printed_unit}
        key = "analytes" if column.split else "analyte"
        told[key] = column.analytes if column.split else column.analytes[0]
        extra = {
            "split": column.split,
            "part_density": column.part_density,
            "fluid_density": column.fluid_density,
        }
        lines += ["", "[[results]]", *_table("", **told, **extra)]
    return "\n".join(lines) + "\n"


def _table(name: str, **told: Any) -> list[str]:
    """The lines of one table; what is ``None`` is left out."""
    known = {key: value for key, value in told.items() if value is not None}
    head = ["", f"[{name}]"] if name and known else []
    return head + [f"{key} = {_toml(value)}" for key, value in known.items()]


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    return _quoted(value) if isinstance(value, str) else _listed(value)


def _listed(texts: Sequence[str]) -> str:
    return f"[{', '.join(map(_quoted, texts))}]"


def _quoted(text: str) -> str:
    """A basic string of TOML; JSON writes the same, but for the delete character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
