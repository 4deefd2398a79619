"""Log what happened to a box: checked while it is keyed, saved with all that depends on it."""

from dataclasses import dataclass
from datetime import date, datetime

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.fleet import Certainty, Compartment, EventKind
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.severity import Severity
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.compartment_history.event_checks import (
    NAMES,
    EventCheck,
    EventEntry,
    checked,
)
from fluiddesk.services.compartment_history.forecast_keeping import keep_after
from fluiddesk.services.fill_renewal import renew_fills
from fluiddesk.services.register.components import put_fit
from fluiddesk.services.register.derive import refresh_usage, rejudge
from fluiddesk.services.register.facts import FitFacts
from fluiddesk.services.sample_hours import MachineHours
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, EventRecord


class EventRefusedError(OperatorError):
    """An event cannot be saved as it stands; the text says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EventLogged:
    """What was saved, what followed from it in words, and what screens must read again."""

    event_id: bytes
    told: str
    changes: Changes


def check_event(
    place: Workplace, compartment: CompartmentId, entry: EventEntry, *, today: date
) -> EventCheck:
    """What is wrong with an entry, without saving anything.

    Raises:
        NotFoundError: when the box is not in the store.
    """
    with place.store.reading() as desk:
        return checked(desk, compartment, entry, today=today)


def log_event(
    place: Workplace,
    compartment: CompartmentId,
    entry: EventEntry,
    *,
    today: date,
    moment: datetime,
) -> EventLogged:
    """Save an event; samples drawn after a fluid change move to its fill and are judged anew.

    Raises:
        EventRefusedError: when it cannot be true, or asks for a confirmation it has not got.
        RegisterFaultsError: when a component cannot sit here.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        check = checked(desk, compartment, entry, today=today)
        told = [*check.refused, *(() if entry.is_confirmed else check.asks)]
        if told:
            raise EventRefusedError(" ".join(told))
        box = desk.fleet.compartment(compartment)
        before = _standing(desk, compartment)
        _keep_meter_reading(desk, place.catalogue, box, entry, check.hours)
        if entry.kind is EventKind.COMPONENT_FIT:
            key = _fit(desk, place.catalogue, box, entry, check.hours, today=today)
        else:
            key = desk.fleet.add_event(_record(box, entry, check.hours))
        moved = []
        if entry.kind is EventKind.FLUID_CHANGE:
            moved = renew_fills(desk, compartment, day=entry.happened_on, step=1)
        changes = _rejudged(desk, place.catalogue, compartment, moment)
        after = _standing(desk, compartment)
    keep_after(place, [compartment], today=today, moment=moment)
    return EventLogged(
        event_id=key, told=_told(entry.kind, len(moved), before, after), changes=changes
    )


def withdraw_event(
    place: Workplace,
    compartment: CompartmentId,
    event_id: bytes,
    *,
    reason: str,
    today: date,
    moment: datetime,
) -> EventLogged:
    """Say that an event did not happen: it stays on record as denied, and counts no more.

    Raises:
        EventRefusedError: without a reason, or when there is no such event in force.
    """
    if not reason.strip():
        raise EventRefusedError("Say why the event did not happen.")
    with place.store.transaction(who=place.who, moment=moment) as desk:
        found = [one for one in desk.fleet.events(compartment) if one.id == event_id]
        if not found or found[0].certainty is Certainty.DENIED:
            raise EventRefusedError("This event is not in force any more. Read the page again.")
        old = found[0]
        if old.kind is EventKind.COMPONENT_FIT:
            raise EventRefusedError(
                "A fitted component is taken back on the Register page, with its serial."
            )
        before = _standing(desk, compartment)
        key = desk.fleet.add_event(
            EventRecord(
                site=old.site,
                compartment=compartment,
                kind=old.kind,
                happened_on=old.happened_on,
                certainty=Certainty.DENIED,
                source="desk",
                true_hours=old.true_hours,
                litres=old.litres,
                fluid=old.fluid,
                note=f"{reason.strip()} (denied on {today.isoformat()})",
            ),
            supersedes=old.id,
        )
        moved = []
        if old.kind is EventKind.FLUID_CHANGE:
            moved = renew_fills(desk, compartment, day=old.happened_on, step=-1)
        changes = _rejudged(desk, place.catalogue, compartment, moment)
        after = _standing(desk, compartment)
    keep_after(place, [compartment], today=today, moment=moment)
    return EventLogged(
        event_id=key, told=_told(old.kind, len(moved), before, after), changes=changes
    )


# --- saving ---------------------------------------------------------------------------------------


def _record(box: Compartment, entry: EventEntry, hours: float | None) -> EventRecord:
    uses_fluid = entry.kind in (EventKind.FLUID_CHANGE, EventKind.TOP_UP)
    return EventRecord(
        site=box.site,
        compartment=box.id,
        kind=entry.kind,
        happened_on=entry.happened_on,
        certainty=Certainty.RECORDED,
        source="desk",
        true_hours=hours,
        litres=entry.litres,
        fluid=(entry.fluid or box.fluid) if uses_fluid else None,
        note=entry.note.strip(),
    )


def _fit(
    desk: Desk,
    catalogue: Catalogue,
    box: Compartment,
    entry: EventEntry,
    hours: float | None,
    *,
    today: date,
) -> bytes:
    saved = put_fit(
        desk,
        catalogue,
        FitFacts(
            site=box.site,
            compartment=box.id,
            serial=entry.serial,
            fitted_on=entry.happened_on,
            fitted_at_hours=hours,
            hours_before=entry.hours_before,
            condition=entry.condition,
            reason=entry.note,
        ),
        today=today,
    )
    return saved.row


def _keep_meter_reading(
    desk: Desk, catalogue: Catalogue, box: Compartment, entry: EventEntry, hours: float | None
) -> None:
    """A meter read for an event counts like any other reading."""
    if entry.meter_value is None or hours is None:
        return
    machine = MachineHours(desk)
    seen = (entry.happened_on, entry.meter_value)
    if machine.is_known(box.machine, seen):
        return
    desk.fleet.add_meter_readings([machine.reading(box, seen, hours)])
    refresh_usage(desk, catalogue, [box.machine])


def _rejudged(
    desk: Desk, catalogue: Catalogue, compartment: CompartmentId, moment: datetime
) -> Changes:
    """The packed history and the verdicts anew; wear and hours left follow when they are read."""
    judged = rejudge(desk, catalogue, [compartment], moment=moment)
    return Changes(
        subjects=judged.subjects | {Subject.FLEET, Subject.RESULTS},
        compartments=frozenset({compartment}),
    )


def _standing(desk: Desk, compartment: CompartmentId) -> Severity:
    found = desk.boxes.rows([compartment])
    severity = found[0][9] if found else None
    return Severity.NO_VERDICT if severity is None else Severity(int(severity))


def _told(kind: EventKind, moved: int, before: Severity, after: Severity) -> str:
    told = f"{NAMES[kind]} saved"
    if moved:
        samples = "1 sample belongs" if moved == 1 else f"{moved} samples belong"
        told += f"; {samples} to another fill now, their hours on the fluid are counted anew"
    if before != after:
        told += f"; the verdict went from {before.word} to {after.word}"
    return f"{told}."


__all__ = [
    "EventCheck",
    "EventEntry",
    "EventLogged",
    "EventRefusedError",
    "check_event",
    "log_event",
    "withdraw_event",
]
