"""Who changed a record, when, from what to what; and taking its last change back."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any, Final

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId
from fluiddesk.services.changes import Changes
from fluiddesk.services.register.derive import FLEET_ONLY, rejudge
from fluiddesk.services.register.facts import ChangeFacts
from fluiddesk.services.register.machines import add_state
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import NO_SITE, ChangeRecord, Desk, RecordKey, RecordKind

KINDS: Final[Mapping[str, RecordKind]] = {
    "site": RecordKind.SITE,
    "machine": RecordKind.MACHINE,
    "meter": RecordKind.METER,
    "meter_reading": RecordKind.METER_READING,
    "compartment": RecordKind.COMPARTMENT,
    "fit": RecordKind.FIT,
    "point": RecordKind.POINT,
    "fluid": RecordKind.FLUID,
    "batch": RecordKind.BATCH,
    "tank": RecordKind.TANK,
    "laboratory": RecordKind.LABORATORY,
    "test_list": RecordKind.TEST_LIST,
    "user": RecordKind.USER,
}
"""What ``MissingFact.record`` and the page call a record, and its kind."""

_SHARED: Final = {RecordKind.FLUID, RecordKind.LABORATORY, RecordKind.TEST_LIST, RecordKind.USER}
_NOT_TAKEN_BACK: Final = {RecordKind.FIT, RecordKind.METER, RecordKind.METER_READING}


class CannotUndoError(OperatorError):
    """The last change of a record cannot be taken back; the text says what to do instead."""


def changes_of(
    place: Workplace, record: str, key: bytes | str | int, *, site: SiteId = NO_SITE
) -> tuple[ChangeFacts, ...]:
    """The newest changes of a record, newest first.

    Args:
        place: where to look.
        record: what the record is, one of ``KINDS``.
        key: its identifier, code, or a site's number.
        site: the site that owns it; none for the shared catalogues.
    """
    with place.store.reading() as desk:
        found = desk.register.changes(_key(record, key, site))
    return tuple(
        ChangeFacts(
            site=one.site,
            place=one.place,
            at=f"{one.at:%Y-%m-%d %H:%M} UTC",
            who=one.who,
            what=one.what,
            old=one.old,
            new=one.new,
        )
        for one in found
    )


def undo_last_change(
    place: Workplace,
    record: str,
    key: bytes | str | int,
    *,
    site: SiteId = NO_SITE,
    today: date,
    moment: datetime,
) -> Changes:
    """Take the last change of a record back by a change of its own; both stay in the trail.

    Taking back an undo brings the change back.

    Raises:
        CannotUndoError: when there is nothing to take back, or it cannot be.
    """
    asked = _key(record, key, site)
    with place.store.transaction(who=place.who, moment=moment) as desk:
        row = desk.register.row(asked, name=record)
        newest = desk.register.changes(asked, count=1)
        if not newest:
            raise CannotUndoError("Nothing was changed in this record since it was set up.")
        last = newest[0]
        old = _old_values(asked, last)
        now = desk.register.as_stored(asked.kind, last.new or {})
        moved = [name for name, value in now.items() if row[name] != value]
        if moved:
            raise CannotUndoError(
                f"{last.what}: {', '.join(moved)} was changed since by a file or another way. "
                "Set the values you want and save."
            )
        values = desk.register.as_stored(asked.kind, old)
        version = row.get("version")
        desk.register.change(
            asked, values, version=version, name=last.what, undoes=last.place, on=today
        )
        return _follow_up(desk, place, asked, {**row, **values}, set(values), today=today)


def _key(record: str, key: bytes | str | int, site: SiteId) -> RecordKey:
    kind = KINDS[record]
    if kind in _SHARED:
        return RecordKey(kind, NO_SITE, key)
    return RecordKey(kind, SiteId(int(key)) if kind is RecordKind.SITE else site, key)


def _old_values(asked: RecordKey, last: ChangeRecord) -> Mapping[str, Any]:
    if asked.kind in _NOT_TAKEN_BACK:
        raise CannotUndoError(
            f"{last.what} cannot be taken back: hours were counted on it. Correct it, or void the "
            "reading, with a reason."
        )
    if last.what.startswith(("tests of", "reference of")):
        raise CannotUndoError(f"{last.what} cannot be taken back. Save the list you want.")
    if last.old is None:
        raise CannotUndoError(
            f"{last.what} was added then; nothing is deleted. Retire it, or mark it as sold."
        )
    return last.old


def _follow_up(
    desk: Desk,
    place: Workplace,
    asked: RecordKey,
    row: Mapping[str, Any],
    changed: set[str],
    *,
    today: date,
) -> Changes:
    boxes: list[CompartmentId] = []
    if asked.kind is RecordKind.MACHINE:
        if "state" in changed:
            add_state(desk, row, since=today, note="change taken back")
        if {"kind", "model"} & changed:
            boxes = [one.id for one in desk.fleet.compartments_of(MachineId(row["id"]))]
    if asked.kind is RecordKind.COMPARTMENT:
        boxes = [CompartmentId(row["id"])]
    if asked.kind is RecordKind.FLUID and "fluid_class" in changed:
        boxes = [one.id for one in desk.fleet.compartments() if one.fluid == row["code"]]
    return rejudge(desk, place.catalogue, boxes, moment=desk.moment) if boxes else FLEET_ONLY
