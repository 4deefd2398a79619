"""What happened to a machine or a box, as lines: states, meters, readings, events, components."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date

from fluiddesk.desktop.viewstate.record_form import FieldKind, FormField, RecordForm
from fluiddesk.desktop.viewstate.record_values import text_of
from fluiddesk.desktop.viewstate.register import STATES
from fluiddesk.desktop.viewstate.register_actions import EVENTS, action_form
from fluiddesk.desktop.viewstate.register_offers import Offers
from fluiddesk.desktop.viewstate.register_words import Record
from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.services.register.box_record import BoxRecord
from fluiddesk.services.register.facts import (
    CompartmentFacts,
    EventFacts,
    FitFacts,
    MachineFacts,
    MachineRecord,
    MeterFacts,
    ReadingFacts,
    StateFacts,
)
from fluiddesk.services.workplace import Workplace

Subject = ReadingFacts | EventFacts | FitFacts | StateFacts | MeterFacts
VOID, CORRECT, REMOVE = "void", "correct", "remove"


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryLine:
    """One line: the day, what it was, its words and the machine's hours then.

    ``is_void``: it was taken out of count, or never happened.
    """

    on: str
    what: str
    words: str
    hours: str
    subject: Subject
    is_void: bool = False


_SOURCES = {
    "desk": "written at the desk",
    "sampler": "by the sampler",
    "telemetry": "telemetry",
    "fuel_slip": "fuel slip",
    "estimate": "estimate",
}
_KINDS: Mapping[EventKind, str] = {EventKind(code): words for code, words in EVENTS}


def machine_lines(record: MachineRecord) -> tuple[HistoryLine, ...]:
    """States, meters and readings of a machine, newest first."""
    units = {one.id: one.unit for one in record.meters}
    lines = [
        *(_state_line(one) for one in record.states),
        *(_meter_line(one) for one in record.meters),
        *(_reading_line(one, units) for one in record.readings),
    ]
    return _newest_first(lines)


def box_lines(record: BoxRecord, fluids: Mapping[str, str]) -> tuple[HistoryLine, ...]:
    """Events and components of a compartment, newest first; ``fluids`` are names by code."""
    # A fitting is told by its component, which says when it was taken out as well.
    events = (one for one in record.events if one.kind is not EventKind.COMPONENT_FIT)
    lines = [_event_line(one, fluids) for one in events]
    for fit in record.fits:
        lines += _fit_lines(fit)
    return _newest_first(lines)


def _newest_first(lines: Iterable[HistoryLine]) -> tuple[HistoryLine, ...]:
    return tuple(sorted(lines, key=lambda one: one.on, reverse=True))


def _state_line(one: StateFacts) -> HistoryLine:
    return HistoryLine(
        on=one.since.isoformat(), what=STATES[one.state], words=one.note, hours="", subject=one
    )


def _meter_line(one: MeterFacts) -> HistoryLine:
    words = f"showed {one.start_value:,.10g} {one.unit}"
    if one.rolls_over_at is not None:
        words += f", starts again at {one.rolls_over_at:,.10g}"
    if one.removed_on is not None:
        last = "" if one.end_value is None else f" at {one.end_value:,.10g} {one.unit}"
        words += f"; removed {one.removed_on.isoformat()}{last}"
    return HistoryLine(
        on=str(one.fitted_on or ""),
        what="Meter fitted",
        words=words,
        hours=f"{one.hours_before:,.0f}",
        subject=one,
    )


def _reading_line(one: ReadingFacts, units: Mapping[bytes, str]) -> HistoryLine:
    unit = units.get(one.meter or b"", "h")
    words = f"{one.value:,.10g} {unit}, {_SOURCES.get(one.source, one.source)}"
    is_void = one.voided_reason is not None
    return HistoryLine(
        on=str(one.read_on or ""),
        what="Voided reading" if is_void else "Meter reading",
        words=f"{words}; {one.voided_reason}" if is_void else words,
        hours="" if is_void or one.true_hours is None else f"{one.true_hours:,.0f}",
        subject=one,
        is_void=is_void,
    )


def _event_line(one: EventFacts, fluids: Mapping[str, str]) -> HistoryLine:
    litres = "" if one.litres is None else f"{one.litres:,.10g} L"
    told = filter(None, (litres, fluids.get(one.fluid, one.fluid), one.note))
    is_denied = one.certainty is Certainty.DENIED
    kind = _KINDS.get(one.kind, one.kind.value.replace("_", " ").capitalize())
    return HistoryLine(
        on=str(one.happened_on or ""),
        what=f"{kind}: no" if is_denied else kind,
        words=", ".join(told),
        hours="" if one.true_hours is None else f"{one.true_hours:,.0f}",
        subject=one,
        is_void=is_denied,
    )


def _fit_lines(one: FitFacts) -> Iterator[HistoryLine]:
    run = f", {one.hours_before:,.0f} h on it" if one.hours_before else ""
    yield HistoryLine(
        on=str(one.fitted_on or ""),
        what="Component fitted",
        words=f"{one.serial}, {one.condition}{run}",
        hours="" if one.fitted_at_hours is None else f"{one.fitted_at_hours:,.0f}",
        subject=one,
    )
    if one.removed_on is not None:
        yield HistoryLine(
            on=one.removed_on.isoformat(),
            what="Component out",
            words=", ".join(filter(None, (one.serial, one.reason))),
            hours="" if one.removed_at_hours is None else f"{one.removed_at_hours:,.0f}",
            subject=one,
        )


def keeps_history(record: Record) -> bool:
    """Whether a record has lines of this kind."""
    return isinstance(record, MachineFacts | CompartmentFacts)


def read_history(
    place: Workplace, record: Record, *, fluids: Mapping[str, str], today: date
) -> tuple[HistoryLine, ...]:
    """Read the lines of a machine or a box; none for other records."""
    from fluiddesk.services.register.box_record import box_record
    from fluiddesk.services.register.read import machine_record

    match record:
        case MachineFacts():
            return machine_lines(machine_record(place, record.id, today=today))
        case CompartmentFacts():
            return box_lines(box_record(place, record.id), fluids)
        case _:
            return ()


def deed_for(line: HistoryLine | None) -> tuple[str, str]:
    """What can be done with a line, as key and words; empty where nothing can."""
    match None if line is None else line.subject:
        case ReadingFacts(voided_reason=None):
            return VOID, "Void this reading"
        case EventFacts():
            return CORRECT, "Correct this event"
        case FitFacts(removed_on=None):
            return REMOVE, "Take this component out"
        case _:
            return "", ""


def deed_form(
    key: str, line: HistoryLine, record: Record, offers: Offers, *, today: date
) -> RecordForm:
    """The form of what is done with a line.

    Raises:
        KeyError: when there is no such deed.
    """
    return _DEEDS[key](line, record, offers, today)


def _void(line: HistoryLine, _record: Record, _offers: Offers, _today: date) -> RecordForm:
    why = FormField(
        key="reason",
        label="Reason",
        is_needed=True,
        note="it stays in the register, out of count",
    )
    return RecordForm(
        key=VOID,
        title=f"Void the reading of {line.on}",
        about=line.words,
        save_label="Void the reading",
        fields=(why,),
        is_new=True,
    )


def _correct(line: HistoryLine, record: Record, offers: Offers, today: date) -> RecordForm:
    """The event's own form with what stands there, and whether it happened at all."""
    blank = action_form("event", record, offers, today=today)
    event = line.subject
    fields = tuple(replace(one, value=text_of(getattr(event, one.key))) for one in blank.fields)
    kind = fields[0]
    if kind.value not in dict(kind.choices):
        fields = (replace(kind, choices=((kind.value, line.what), *kind.choices)), *fields[1:])
    happened = FormField(
        key="certainty",
        label="It happened",
        kind=FieldKind.CHOICE,
        choices=(
            (Certainty.RECORDED.value, "Yes, recorded"),
            (Certainty.INFERRED.value, "Inferred from the results"),
            (Certainty.DENIED.value, "No, written by mistake"),
        ),
        value=event.certainty.value if isinstance(event, EventFacts) else "",
        is_needed=True,
        note="what stood there before stays in the trail",
    )
    return replace(
        blank,
        key=CORRECT,
        title=f"Correct {line.what.lower()} of {line.on}",
        save_label="Save the correction",
        fields=(*fields, happened),
        is_new=False,
    )


def _remove(_line: HistoryLine, record: Record, offers: Offers, today: date) -> RecordForm:
    return action_form("remove", record, offers, today=today)


_DEEDS: Mapping[str, Callable[[HistoryLine, Record, Offers, date], RecordForm]] = {
    VOID: _void,
    CORRECT: _correct,
    REMOVE: _remove,
}
