"""What every use case of the register shares: faults collected, versions compared, rows written."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final

from fluiddesk.domain.errors import OperatorError, StaleEditError
from fluiddesk.services.changes import Changes
from fluiddesk.services.register.facts import NEW, FieldFault
from fluiddesk.storage import Desk, RecordKey

_KEPT: Final = {"created_at", "created_by", "version", "changed_at", "changed_by"}


class RegisterFaultsError(OperatorError):
    """A record cannot be saved as it stands; ``faults`` names every field that is wrong."""

    def __init__(self, place: str, faults: Sequence[FieldFault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(f"{place}: {fault.text}" for fault in self.faults))


class StaleRecordError(StaleEditError):
    """Somebody else saved the record since it was read.

    ``theirs`` and ``yours`` hold, for each field that differs, what stands in the database and what
    was to be saved.
    """

    def __init__(self, text: str, *, theirs: Mapping[str, Any], yours: Mapping[str, Any]) -> None:
        self.theirs = dict(theirs)
        self.yours = dict(yours)
        super().__init__(text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Saved:
    """What a save came to: what screens must read again, and the key of the record.

    ``warnings``: what was saved but should be looked at, by field. ``told``: what follows from it,
    in words.
    """

    changes: Changes
    key: bytes | str | int
    warnings: tuple[FieldFault, ...] = ()
    told: str = ""

    @property
    def row(self) -> bytes:
        """The key of a record that is named by an identifier."""
        if not isinstance(self.key, bytes):
            raise TypeError(f"{self.key!r} is no identifier")
        return self.key


@dataclass(slots=True)
class Faults:
    """Collects what is wrong with a record, so that all of it is told at once."""

    place: str
    found: list[FieldFault] = field(default_factory=list)

    def add(self, name: str, value: object, text: str) -> None:
        """Note a fault of one field; ``text`` says why and what to do."""
        told = "" if value is None else str(value)
        self.found.append(FieldFault(field=name, value=told, text=text))

    def needs_text(self, name: str, value: str, what: str) -> None:
        """A text that may not be empty."""
        if not value.strip():
            self.add(name, value, f"{what} is missing. Give one.")

    def needs_choice(self, name: str, value: str, choices: Sequence[str], what: str) -> None:
        """One of a few words."""
        if value not in choices:
            self.add(name, value, f'{what} "{value}" is not known. Choose: {", ".join(choices)}.')

    def needs_day(self, name: str, value: date | None, what: str, *, today: date) -> None:
        """A day that must be there and not lie ahead."""
        if value is None:
            self.add(name, value, f"The day {what} is missing. Give one.")
        self.not_ahead(name, value, what, today=today)

    def not_ahead(self, name: str, value: date | None, what: str, *, today: date) -> None:
        """A day that may not lie in the future."""
        if value is not None and value > today:
            text = f"The day {what}, {value.isoformat()}, lies in the future. Correct the day."
            self.add(name, value, text)

    def needs_number(
        self,
        name: str,
        value: float | None,
        what: str,
        *,
        low: float = 0.0,
        high: float = math.inf,
        above: bool = False,
        optional: bool = False,
    ) -> None:
        """A number between two bounds; ``above``: the lower bound itself is too low."""
        if value is None:
            if not optional:
                self.add(name, value, f"{what} is missing. Give one.")
            return
        if math.isfinite(value) and low <= value <= high and not (above and value == low):
            return
        least = f"more than {low:g}" if above else f"{low:g} or more"
        most = "" if high == math.inf else f", {high:g} at most"
        empty = ", or leave it empty" if optional else ""
        self.add(name, value, f"{what} cannot be {value:g}. Give {least}{most}{empty}.")

    def refuse(self) -> None:
        """Raise what was found, if anything was.

        Raises:
            RegisterFaultsError: naming each field, its value and the remedy.
        """
        if self.found:
            raise RegisterFaultsError(self.place, self.found)


def write_record(
    desk: Desk,
    key: RecordKey,
    values: Mapping[str, Any],
    *,
    version: int,
    name: str,
    on: date | None = None,
) -> tuple[str, ...]:
    """Add a record (version 0) or change what differs of it; returns the columns that differ.

    ``on``: the day at the desk, from which another interval of a compartment holds.

    Raises:
        StaleRecordError: when somebody else saved it since it was read; both are named.
    """
    if version == NEW:
        desk.register.add(key, values, name=name)
        return tuple(values)
    row = desk.register.row(key, name=name)
    if row["version"] != version:
        raise _stale(row, values, version=version, name=name)
    return desk.register.change(key, values, version=version, name=name, on=on)


def _stale(
    row: Mapping[str, Any], values: Mapping[str, Any], *, version: int, name: str
) -> StaleRecordError:
    differing = [one for one, value in values.items() if one not in _KEPT and row[one] != value]
    theirs = {one: row[one] for one in differing}
    yours = {one: values[one] for one in differing}
    when = f" at {row['changed_at']:%Y-%m-%d %H:%M} UTC" if row["changed_at"] else ""
    parts = [f"{one.replace('_', ' ')}: theirs {theirs[one]}, yours {yours[one]}" for one in yours]
    told = f" Differing: {'; '.join(parts)}." if parts else " Both say the same."
    return StaleRecordError(
        f"{name} was changed by {row['changed_by']}{when} (version {row['version']}, you had "
        f"{version}).{told} Look at it again and repeat your change.",
        theirs=theirs,
        yours=yours,
    )
