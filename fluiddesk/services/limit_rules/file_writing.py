"""Writes a limit set as a limit file: TOML, one table a row, usual values left out."""

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any, Final

from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import Limit, LimitSet
from fluiddesk.services.limit_rules.file_fields import (
    FORMAT,
    INTERVAL_FIELDS,
    LIMIT_FIELDS,
    SCOPE_NAMES,
    SET_FIELDS,
    FileField,
)

_HEAD: Final = "# A limit set of fluiddesk. It advises; a named person decides."
_SHORT: Final = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\r": "\\r", "\t": "\\t"}
_DELETE: Final = 0x7F


def limit_file_text(limit_set: LimitSet, box_names: Mapping[str, str] | None = None) -> str:
    """A limit set as the text of a limit file.

    Args:
        limit_set: the set; its number, state, author and days are written for reading only.
        box_names: what to call single compartments in a comment, by the hex of their identifier.
    """
    return "\n".join(_lines(limit_set, box_names or {})) + "\n"


def _lines(limit_set: LimitSet, box_names: Mapping[str, str]) -> Iterator[str]:
    yield _HEAD
    yield f"format = {FORMAT}"
    yield "\n[limit_set]"
    yield from _pairs(limit_set, SET_FIELDS)
    if limit_set.settings:
        yield "\n[settings]"
        for name, value in limit_set.settings.items():
            yield f"{_key(name)} = {_value(value)}"
    for limit in limit_set.limits:
        yield "\n[[limit]]"
        yield from _row(limit, LIMIT_FIELDS, box_names)
    for rule in limit_set.intervals:
        yield "\n[[interval]]"
        yield from _row(rule, INTERVAL_FIELDS, box_names)


def _row(
    row: Limit | IntervalRule, fields: tuple[FileField, ...], box_names: Mapping[str, str]
) -> Iterator[str]:
    named = box_names.get(row.scope.compartment)
    if named:
        # A line break in a name would end the comment and leave its rest as TOML.
        yield f"# {' '.join(named.split())}"
    yield from _pairs(row, fields)


def _pairs(row: object, fields: tuple[FileField, ...]) -> Iterator[str]:
    for field in fields:
        holder = getattr(row, "scope", row) if field.name in SCOPE_NAMES else row
        value = getattr(holder, field.attribute or field.name)
        if value is not None and (field.is_needed or value != field.usual):
            yield f"{field.name} = {_value(value)}"


def _key(name: str) -> str:
    return name if name.replace("_", "a").isalnum() and name.isascii() else _text(name)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_value, value))}]"
    return _text(str(value))


def _text(value: str) -> str:
    return '"' + "".join(map(_letter, value)) + '"'


def _letter(letter: str) -> str:
    if letter in _SHORT:
        return _SHORT[letter]
    code = ord(letter)
    return f"\\u{code:04x}" if code < ord(" ") or code == _DELETE else letter
