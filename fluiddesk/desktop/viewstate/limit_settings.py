"""The settings of a draft while they are edited: what is typed, what counts, what is wrong."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from fluiddesk.desktop.viewstate.typed_number import read_number
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.limits.settings import settings_as_mapping, settings_of
from fluiddesk.services.limit_rules.facts import EditKind, RowEdit
from fluiddesk.services.limit_rules.settings_told import SETTINGS, SettingTold


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingRow:
    """One setting of a draft.

    Attributes:
        key: its place in the list of settings.
        value: the last sound value.
        was: the value in the set the draft was made from.
        typed: a text that cannot be taken, as it was typed; ``None`` while nothing is wrong.
        problem: what is wrong with it, with its remedy.
    """

    key: int
    value: Any
    was: Any
    typed: str | None = None
    problem: str = ""

    @property
    def told(self) -> SettingTold:
        """The setting in words."""
        return SETTINGS[self.key]

    @property
    def text(self) -> str:
        """What stands in its field."""
        return self.told.words(self.value) if self.typed is None else self.typed

    @property
    def is_changed(self) -> bool:
        """Whether it differs from the set the draft was made from."""
        return self.typed is not None or self.value != self.was

    @property
    def is_usual(self) -> bool:
        """Whether it stands at its usual value."""
        return self.typed is None and bool(self.value == self.told.usual)


def written_setting(row: SettingRow, text: str) -> SettingRow:
    """The setting after a text was typed; an empty field means the usual value.

    What cannot be taken is kept as typed, with value, place and remedy in its problem.
    """
    told = row.told
    if not text.strip():
        return replace(row, value=told.usual, typed=None, problem="")
    try:
        value = _read(told, text)
    except OperatorError as wrong:
        return replace(row, typed=text.strip(), problem=str(wrong))
    return replace(row, value=value, typed=None, problem="")


def _read(told: SettingTold, text: str) -> Any:
    pieces = text.replace(";", " ").split() if told.is_list else [text]
    numbers = [read_number(piece.replace("%", ""), name=told.title) for piece in pieces]
    low, high = told.span
    for number in numbers:
        if number is None or not low <= number <= high:
            raise OperatorError(
                f"{told.title}: {text.strip()} is out of its span. "
                f"Give {low:g} to {high:g} {told.unit}, or leave it empty for the usual."
            )
        if told.is_whole and number != int(number):
            raise OperatorError(
                f"{told.title}: {text.strip()} is no whole number. Count whole {told.unit}."
            )
    stored = tuple(round(number / told.scale, 12) for number in numbers if number is not None)
    if told.is_list:
        return stored
    return int(stored[0]) if told.is_whole else stored[0]


class SettingRows:
    """Every setting of a draft; put by the steps of undo."""

    def __init__(self, saved: Mapping[str, Any], base: Mapping[str, Any]) -> None:
        """Begin with what is saved, and with the settings of the set the draft was made from."""
        now, before = settings_of(saved), settings_of(base)
        self._saved = dict(saved)
        self._rows = [
            SettingRow(key=key, value=getattr(now, one.name), was=getattr(before, one.name))
            for key, one in enumerate(SETTINGS)
        ]

    @property
    def rows(self) -> tuple[SettingRow, ...]:
        """Every setting, in the order people read them."""
        return tuple(self._rows)

    def row(self, key: int) -> SettingRow:
        """One setting."""
        return self._rows[key]

    def put(self, key: int, row: SettingRow | None) -> None:
        """Bring a setting to a state."""
        if row is not None:
            self._rows[key] = row

    @property
    def counting(self) -> dict[str, Any]:
        """What differs from the usual and counts now, as a set stores it."""
        values = {row.told.name: row.value for row in self._rows}
        return settings_as_mapping(settings_of(values))

    def unsaved(self) -> tuple[list[RowEdit], dict[str, Any]]:
        """The edit that brings what is saved to what counts now, and what is then saved."""
        now = self.counting
        if settings_of(now) == settings_of(self._saved):
            return [], self._saved
        return [RowEdit(kind=EditKind.CHANGE, settings=now)], now

    def note_saved(self, saved: dict[str, Any]) -> None:
        """Take note of what the database now holds."""
        self._saved = saved
