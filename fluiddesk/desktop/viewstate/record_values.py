"""Saved values as the texts a person would write, and back."""

from collections.abc import Mapping
from datetime import date
from enum import StrEnum

from fluiddesk.desktop.viewstate.record_form import Value
from fluiddesk.domain.errors import OperatorError


def text_of(value: object) -> str:
    """A saved value as the text a person would write.

    >>> text_of(38.0), text_of(None), text_of({"Si": 0.7, "Al": 0.2}), text_of(("Fe", "Cu"))
    ('38', '', 'Si 0.7, Al 0.2', 'Fe Cu')
    """
    match value:
        case None:
            text = ""
        case bool():
            text = "yes" if value else "no"
        case float():
            text = f"{value:.10g}"
        case date():
            text = value.isoformat()
        case Mapping():
            text = ", ".join(f"{key} {text_of(one)}" for key, one in value.items())
        case tuple():
            text = " ".join(str(one) for one in value)
        case _:
            text = str(value)
    return text


def value_for(before: object, written: Value, key: str) -> object:
    """What was written into a field, in the type of the value it replaces.

    Raises:
        OperatorError: when a list within the field cannot be read.
    """
    said = "" if written is None else str(written)
    match before:
        case bool():
            return said == "yes"
        case StrEnum():
            return type(before)(said)
        case Mapping():
            return _pairs(said, is_number=key == "dust_shares")
        case tuple():
            return tuple(said.replace(",", " ").split())
        case str():
            return said
        case _:
            return int(said or 0) if key == "site" else written


def _pairs(said: str, *, is_number: bool) -> Mapping[str, object]:
    """Read "Si 0.7, Al 0.2" as names with values."""
    found: dict[str, object] = {}
    for part in filter(None, (one.strip() for one in said.split(","))):
        name, _gap, value = part.partition(" ")
        if not value.strip():
            raise OperatorError(f'"{part}" has no value. Write pairs, such as "Si 0.7, Al 0.2".')
        found[name] = _share(part, value) if is_number else value.strip()
    return found


def _share(part: str, value: str) -> float:
    try:
        return float(value)
    except ValueError:
        raise OperatorError(f'"{part}" has no number. Write a share from 0 to 1.') from None
