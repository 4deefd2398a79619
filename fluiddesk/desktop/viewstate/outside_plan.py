"""Samples outside the plan as lines of a list, and what is said and offered beside each."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from fluiddesk.desktop.viewstate.register_offers import Offers
from fluiddesk.desktop.viewstate.register_words import Record
from fluiddesk.domain.samples import SampleOrigin, SampleReason, SampleState
from fluiddesk.services.outside_plan.fluid_samples import FluidSampleFacts, FluidSampleKind
from fluiddesk.services.outside_plan.labels import SpareLabel
from fluiddesk.services.outside_plan.overview import BoxSampleFacts, FluidValue, OutsideFacts
from fluiddesk.services.papers.facts import OwnerKind, PaperOwner
from fluiddesk.services.register.facts import (
    BatchFacts,
    CompartmentFacts,
    FluidFacts,
    TankFacts,
)

Subject = BoxSampleFacts | FluidSampleFacts | SpareLabel


class OutsideList(StrEnum):
    """The lists of samples outside the plan."""

    BOXES = "boxes"
    FLUIDS = "fluids"
    LABELS = "labels"


@dataclass(frozen=True, slots=True, kw_only=True)
class OutsideLine:
    """One line: the bottle, what it is, of what, when it was drawn, and where it stands."""

    bottle: str
    what: str
    of: str
    drawn_on: str
    state: str
    subject: Subject


_STATES = {
    SampleState.PLANNED: "Planned",
    SampleState.ISSUED: "Issued",
    SampleState.TAKEN: "Drawn",
    SampleState.SHIPPED: "On the way",
    SampleState.RECEIVED: "At the laboratory",
    SampleState.REPORTED: "Reported",
    SampleState.NOT_TAKEN: "Not drawn",
    SampleState.LOST: "Lost",
    SampleState.VOID: "Void",
}
REASONS = {
    SampleReason.SPECIAL: "Special",
    SampleReason.ROUTINE: "Routine",
    SampleReason.RESAMPLE: "Resample",
    SampleReason.POST_CHANGE: "After a fluid change",
    SampleReason.STORAGE: "Storage",
    SampleReason.DUPLICATE: "Duplicate",
    SampleReason.REFERENCE: "Reference",
}
KINDS = {
    FluidSampleKind.DRUM: "Drum",
    FluidSampleKind.TANK: "Tank",
    FluidSampleKind.NEW_FLUID: "New fluid",
    FluidSampleKind.CHECK: "Check sample",
}
_ORIGINS = {
    SampleOrigin.PLAN: "Planned",
    SampleOrigin.WALK_UP: "Walk-up",
    SampleOrigin.SPARE_LABEL: "Spare label",
    SampleOrigin.PAST: "Past",
}


def lines_of(facts: OutsideFacts, which: OutsideList) -> tuple[OutsideLine, ...]:
    """The lines of one list."""
    match which:
        case OutsideList.BOXES:
            return tuple(map(_box_line, facts.box_samples))
        case OutsideList.FLUIDS:
            return tuple(map(_fluid_line, facts.fluid_samples))
        case OutsideList.LABELS:
            return tuple(map(_label_line, facts.spare_labels))


def _box_line(one: BoxSampleFacts) -> OutsideLine:
    is_twin = one.reason is SampleReason.DUPLICATE
    return OutsideLine(
        bottle=one.bottle_code,
        what="Duplicate" if is_twin else _ORIGINS[one.origin],
        of=f"{one.machine}, {one.compartment}",
        drawn_on=str(one.taken_on or ""),
        state="Rejected" if one.rejected_reason else _STATES[one.state],
        subject=one,
    )


def _fluid_line(one: FluidSampleFacts) -> OutsideLine:
    return OutsideLine(
        bottle=one.bottle_code,
        what=KINDS[one.kind],
        of=", ".join(filter(None, (one.container, one.fluid))),
        drawn_on=str(one.taken_on or ""),
        state=_STATES[one.state],
        subject=one,
    )


def _label_line(one: SpareLabel) -> OutsideLine:
    return OutsideLine(
        bottle=one.code,
        what="Spare label",
        of=one.site,
        drawn_on="",
        state="Unused",
        subject=one,
    )


def sentence(facts: OutsideFacts) -> str:
    """How much stands outside the plan and what is still awaited, in one sentence."""
    samples: Sequence[BoxSampleFacts | FluidSampleFacts] = (
        *facts.box_samples,
        *facts.fluid_samples,
    )
    labels = _counted(len(facts.spare_labels), "spare label")
    if not samples:
        return f"No sample outside the plan yet; {labels}."
    rejected = sum(1 for one in facts.box_samples if one.rejected_reason)
    awaited = sum(1 for one in samples if not one.report_number)
    told = [f"{awaited} without a report" if awaited else "all reported"]
    told += [f"{rejected} rejected"] if rejected else []
    return f"{_counted(len(samples), 'sample')} outside the plan, {', '.join(told)}; {labels}."


def facts_told(subject: Subject) -> tuple[tuple[str, str], ...]:
    """What is known of a line, as captions and words; captions without words are left out."""
    told: tuple[tuple[str, str], ...]
    match subject:
        case BoxSampleFacts():
            told = (
                ("Of", f"{subject.machine}, {subject.compartment}"),
                ("Site", subject.site),
                ("Drawn on", str(subject.taken_on or "")),
                ("Drawn by", subject.taken_by),
                ("Reason", REASONS[subject.reason]),
                ("Registered as", _ORIGINS[subject.origin].lower()),
                ("First bottle", subject.first_bottle),
                ("State", _STATES[subject.state]),
                ("Report", subject.report_number),
                ("Rejected", subject.rejected_reason),
                ("Note", subject.note),
            )
        case FluidSampleFacts():
            told = (
                ("Of", subject.container),
                ("Fluid", subject.fluid),
                ("Site", subject.site),
                ("Drawn on", str(subject.taken_on or "")),
                ("State", _STATES[subject.state]),
                ("Report", subject.report_number),
                ("Note", subject.note),
            )
        case _:
            told = (("Site", subject.site), ("Made on", str(subject.issued_on or "")))
    return tuple((caption, words) for caption, words in told if words)


def title_of(subject: Subject) -> str:
    """The words above a line's facts."""
    match subject:
        case BoxSampleFacts():
            return f"Bottle {subject.bottle_code}"
        case FluidSampleFacts():
            return f"{KINDS[subject.kind]}, bottle {subject.bottle_code}"
        case SpareLabel():
            return f"Label {subject.code}"


def owner_of_papers(subject: Subject) -> PaperOwner | None:
    """What the papers and remarks of a line belong to; a label keeps none."""
    match subject:
        case BoxSampleFacts():
            return PaperOwner(OwnerKind.SAMPLE, bytes(subject.id))
        case FluidSampleFacts():
            return PaperOwner(OwnerKind.FLUID_SAMPLE, subject.id)
        case SpareLabel():
            return None


def offers_for(subject: Subject) -> tuple[tuple[str, str], ...]:
    """What can be done with a line, by key and words."""
    match subject:
        case BoxSampleFacts():
            found = [("open", "Open the compartment"), ("duplicate", "Register a duplicate")]
            if not subject.report_number:
                found += [("reject", "Rejected by the laboratory")]
            return tuple(found)
        case FluidSampleFacts():
            if not subject.report_number:
                return (("reject", "Rejected by the laboratory"),)
            is_new = subject.kind is FluidSampleKind.NEW_FLUID
            return (("reference", "Make it the reference"),) if is_new else ()
        case SpareLabel():
            return (
                ("walk_up", "Use it for a compartment"),
                ("fluid", "Use it for a fluid"),
                ("copy_labels", "Copy all labels"),
            )


def value_cells(values: Iterable[FluidValue]) -> tuple[tuple[str, str, str, str], ...]:
    """Measured values as texts: the analyte, what was printed, its unit, and the reference."""
    return tuple(
        (
            one.symbol,
            one.printed,
            one.printed_unit,
            "" if one.reference is None else f"{one.reference:g} {one.unit}".strip(),
        )
        for one in values
    )


def prefill(record: Record | None, offers: Offers) -> Mapping[str, str]:
    """What a record of the register already says in the form of a sample of it."""
    match record:
        case CompartmentFacts():
            return {"compartment": dict(offers.boxes).get(bytes(record.id).hex(), "")}
        case FluidFacts():
            return {"fluid": record.code}
        case TankFacts() | BatchFacts():
            is_tank = isinstance(record, TankFacts)
            kind = FluidSampleKind.TANK if is_tank else FluidSampleKind.NEW_FLUID
            return {"kind": kind.value, "store": dict(offers.stores).get(record.id.hex(), "")}
        case _:
            return {}


def label_texts(labels: Iterable[SpareLabel]) -> str:
    """Labels with their sites as tab-separated lines, for a label printer or a table."""
    return "\n".join(["label\tsite", *(f"{one.code}\t{one.site}" for one in labels)])


def _counted(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
