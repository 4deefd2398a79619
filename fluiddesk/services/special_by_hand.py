"""Special intervals that a person asks for: added, ended, taken back, and those there are."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.fleet import Compartment
from fluiddesk.domain.identity import CompartmentId, SiteId
from fluiddesk.domain.samples import SampleState
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.register.saving import Faults, Saved
from fluiddesk.services.special_intervals import FROM_SAMPLE
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKey, RecordKind

REASONS: Final[Mapping[str, str]] = {
    "laboratory_asks": "the laboratory asks for it",
    "resample": "resample",
    "before_change": "before a fluid change",
    "return_from_storage": "back from storage",
    "component_fit": "a component was fitted",
    "after_act": "sooner after Act",
    "after_urgent": "sooner after Urgent",
    "other": "other, see the note",
}
"""The reasons of the list with their words."""

_DRAWN: Final = frozenset(SampleState) - {
    SampleState.PLANNED, SampleState.ISSUED, SampleState.NOT_TAKEN, SampleState.LOST,
    SampleState.VOID,
}  # fmt: skip
_LONGEST_DAYS: Final = 3_650
_LONGEST_HOURS: Final = 20_000.0
_FAR: Final = timedelta(days=730)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecialWish:
    """What a person asks for: the reason, how often, from when. Give hours, days or both."""

    compartment: CompartmentId
    reason: str
    hours: float | None = None
    days: int | None = None
    valid_from: date
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Special:
    """A special interval as it stands in the store.

    ``answered_on``: the day of the sample that it asked for, where it asked for one.
    ``is_in_force``: begun, not ended and not answered. ``is_lost_bottle``: it asks for the sample
    of a bottle that was lost once more.
    """

    site_id: SiteId
    id: bytes
    compartment_id: CompartmentId
    site: str
    machine: str
    compartment: str
    reason: str
    hours: float | None
    days: int | None
    valid_from: date
    ended_on: date | None
    note: str
    answered_on: date | None
    is_in_force: bool
    is_lost_bottle: bool = False

    @property
    def state_words(self) -> str:
        """Where it stands, in words."""
        if self.ended_on is not None:
            return f"ended {self.ended_on.isoformat()}"
        if self.answered_on is not None:
            return f"sampled {self.answered_on.isoformat()}"
        return "in force" if self.is_in_force else "to come"

    @property
    def interval_words(self) -> str:
        """How often, or by when, in words: "125 h or 14 days", "within 7 days"."""
        parts = [] if self.hours is None else [f"{self.hours:g} h"]
        if self.days is not None:
            parts.append("1 day" if self.days == 1 else f"{self.days} days")
        told = " or ".join(parts)
        return told if self.reason in FROM_SAMPLE else f"within {told}"

    @property
    def reason_words(self) -> str:
        """The reason in words."""
        return REASONS.get(self.reason, self.reason.replace("_", " "))


def specials(
    place: Workplace, *, today: date, ended: bool = False, compartment: CompartmentId | None = None
) -> tuple[Special, ...]:
    """The special intervals that hold or are to come, newest first; ``ended``: the others too."""
    where = {} if compartment is None else {"compartment_id": compartment}
    with place.store.reading() as desk:
        rows = desk.register.all(RecordKind.SPECIAL_INTERVAL, **where)
        if not ended:
            rows = [row for row in rows if row["ended_on"] is None or row["ended_on"] > today]
        if not rows:
            return ()
        sites = {int(one.site): one.name for one in desk.fleet.sites()}
        machines = {one.id: one.code for one in desk.fleet.machines()}
        found = []
        for row in rows:
            box = desk.fleet.compartment(CompartmentId(row["compartment_id"]))
            names = (
                sites.get(row["site_id"], ""),
                machines.get(box.machine, ""),
                place.catalogue.box_name(box.kind, box.position),
            )
            found.append(_special(row, names, _answered_on(desk, row), today=today))
    kept = [one for one in found if ended or one.answered_on is None]
    return tuple(sorted(kept, key=lambda one: (-one.valid_from.toordinal(), one.machine)))


def _answered_on(desk: Desk, row: Mapping[str, Any]) -> date | None:
    """The day of the first sample drawn since one was asked for."""
    if row["reason"] in FROM_SAMPLE:
        return None
    drawn = [
        one.taken_on
        for one in desk.sampling.samples_of(CompartmentId(row["compartment_id"]))
        if one.taken_on is not None and one.state in _DRAWN and one.taken_on >= row["valid_from"]
    ]
    return min(drawn, default=None)


def _special(
    row: Mapping[str, Any],
    names: tuple[str, str, str],
    answered_on: date | None,
    *,
    today: date,
) -> Special:
    ended = row["ended_on"]
    holds = row["valid_from"] <= today and (ended is None or ended > today)
    return Special(
        site_id=SiteId(row["site_id"]),
        id=row["id"],
        compartment_id=CompartmentId(row["compartment_id"]),
        site=names[0],
        machine=names[1],
        compartment=names[2],
        reason=row["reason"],
        hours=row["interval_hours"],
        days=row["interval_days"],
        valid_from=row["valid_from"],
        ended_on=ended,
        note=row["note"],
        answered_on=answered_on,
        is_in_force=holds and answered_on is None,
        is_lost_bottle=row["sample_id"] is not None and row["reason"] == "resample",
    )


def add_special(place: Workplace, wish: SpecialWish, *, today: date, moment: datetime) -> Saved:
    """Make a box due sooner for a while. What compliance owes stays the usual interval.

    Raises:
        RegisterFaultsError: naming each field that is wrong, its value and the remedy.
        OperatorError: the same reason holds for the box already.
        NotFoundError: there is no such box.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        box = desk.fleet.compartment(wish.compartment)
        name = place.catalogue.box_name(box.kind, box.position)
        _check(desk, wish, box, name, today=today)
        key = RecordKey(RecordKind.SPECIAL_INTERVAL, box.site, desk.new_id())
        values = {
            "compartment_id": wish.compartment,
            "reason": wish.reason,
            "interval_hours": wish.hours,
            "interval_days": wish.days,
            "valid_from": wish.valid_from,
            "note": wish.note.strip(),
        }
        desk.register.add(key, values, name=f"special interval of {name}")
    return Saved(changes=_changes(wish.compartment), key=key.key)


def _check(desk: Desk, wish: SpecialWish, box: Compartment, name: str, *, today: date) -> None:
    faults = Faults(f"Special interval of {name}")
    faults.needs_choice("reason", wish.reason, tuple(REASONS), "The reason")
    faults.needs_number(
        "hours", wish.hours, "The hours", high=_LONGEST_HOURS, above=True, optional=True
    )
    faults.needs_number("days", wish.days, "The days", low=1, high=_LONGEST_DAYS, optional=True)
    if wish.hours is None and wish.days is None:
        faults.add("days", None, "Neither hours nor days are given. Give one of them, or both.")
    if wish.reason in REASONS and wish.reason not in FROM_SAMPLE and wish.hours is not None:
        faults.add(
            "hours",
            wish.hours,
            f"{REASONS[wish.reason].capitalize()} asks for one sample within some days: "
            f"{wish.hours:g} h cannot be counted. Leave the hours empty and give days.",
        )
    if wish.reason == "other" and not wish.note.strip():
        faults.add("note", "", 'The reason "other" needs a note. Say what it is.')
    if abs(wish.valid_from - today) > _FAR:
        faults.add(
            "valid_from",
            wish.valid_from,
            f"{wish.valid_from.isoformat()} lies more than two years away. Correct the day.",
        )
    if not faults.found:
        _needs_shorter(faults, wish, box)
    faults.refuse()
    for row in desk.register.all(RecordKind.SPECIAL_INTERVAL, compartment_id=wish.compartment):
        stands = row["ended_on"] is None and _answered_on(desk, row) is None
        if row["reason"] == wish.reason and stands:
            raise OperatorError(
                f"{name} has a special interval for this reason since "
                f"{row['valid_from'].isoformat()}. End that one first."
            )


def _needs_shorter(faults: Faults, wish: SpecialWish, box: Compartment) -> None:
    """What is not shorter than the usual interval would change nothing."""
    if wish.reason not in FROM_SAMPLE:
        return
    pairs = (
        ("hours", wish.hours, box.interval_hours, "h"),
        ("days", wish.days, box.interval_days, "days"),
    )
    given = [one for one in pairs if one[1] is not None]
    if any(usual is None or asked is None or asked < usual for _, asked, usual, _ in given):
        return
    for field, asked, usual, unit in given:
        faults.add(
            field,
            asked,
            f"{asked:g} {unit} is not shorter than the usual {usual:g} {unit}, so it would change "
            "nothing. Give less, or change the interval on the Register page.",
        )


def end_special(
    place: Workplace, special_id: bytes, *, why: str, today: date, moment: datetime
) -> Changes:
    """End a special interval from today on; the usual interval holds again. It stays on record.

    Raises:
        OperatorError: without a reason, or when it has ended before.
        NotFoundError: there is none such.
    """
    if not why.strip():
        raise OperatorError("A special interval is ended with a reason. Say why.")
    with place.store.transaction(who=place.who, moment=moment) as desk:
        key, row, name = _found(desk, place, special_id)
        if row["ended_on"] is not None:
            raise OperatorError(
                f"The {name} ended on {row['ended_on'].isoformat()} already. Read the list again."
            )
        note = "; ".join(part for part in (row["note"], f"ended: {why.strip()}") if part)
        # One that has not begun never begins.
        ended = max(today, row["valid_from"])
        desk.register.change(key, {"ended_on": ended, "note": note}, version=None, name=name)
    return _changes(CompartmentId(row["compartment_id"]))


def undo_special(place: Workplace, special_id: bytes, *, moment: datetime) -> Changes:
    """Take the last act on a special interval back: an end, or that it was added.

    Nothing is deleted: one that was added and taken back has ended on the day it began.

    Raises:
        OperatorError: when it was added and ended as nothing in between, so there is no act left.
        NotFoundError: there is none such.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        key, row, name = _found(desk, place, special_id)
        [last] = desk.register.changes(key, count=1)
        if last.undoes is not None:
            raise OperatorError(f"The last act on the {name} was taken back already.")
        if last.old is None:
            values: Mapping[str, Any] = {"ended_on": row["valid_from"]}
        else:
            values = desk.register.as_stored(key.kind, last.old)
        desk.register.change(key, values, version=None, name=name, undoes=last.place)
    return _changes(CompartmentId(row["compartment_id"]))


def _found(
    desk: Desk, place: Workplace, special_id: bytes
) -> tuple[RecordKey, Mapping[str, Any], str]:
    rows = desk.register.all(RecordKind.SPECIAL_INTERVAL, id=special_id)
    if not rows:
        raise NotFoundError("This special interval is not in the store. Read the list again.")
    [row] = rows
    box = desk.fleet.compartment(CompartmentId(row["compartment_id"]))
    key = RecordKey(RecordKind.SPECIAL_INTERVAL, SiteId(row["site_id"]), special_id)
    return key, row, f"special interval of {place.catalogue.box_name(box.kind, box.position)}"


def _changes(compartment: CompartmentId) -> Changes:
    return Changes(subjects=frozenset({Subject.FLEET}), compartments=frozenset({compartment}))
