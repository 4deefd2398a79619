"""Reads one compartment's story from the store."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.limits.limit_set import LimitSet, limits_in_force, set_in_force
from fluiddesk.domain.samples import Sample, SampleColumns
from fluiddesk.domain.sampling.due import NEVER, DueState
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.compartment_history.facts import (
    AnalyteSeries,
    CompartmentHistory,
    DueFacts,
    EventFacts,
    ReasonFacts,
    SampleFacts,
)
from fluiddesk.services.compartment_history.sentences import change_sentence, verdict_sentence
from fluiddesk.services.compartment_history.series import analyte_series
from fluiddesk.services.fleet_condition import BoxRow, FleetCondition, condition_columns
from fluiddesk.services.reassess.fleet import BoxFacts, load_rulebook
from fluiddesk.services.reassess.judging import Rulebook
from fluiddesk.services.reassess.wording import reason_text, reason_title, reasons_from_text
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, SheetRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class _Papers:
    """What the store keeps of one box beside its columns."""

    samples: Mapping[bytes, Sample]
    sheets: Mapping[bytes, SheetRecord]
    printed: Mapping[tuple[bytes, int], str]
    events: tuple[EventFacts, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fetched:
    """Everything of one box, fetched in one reading; ``columns`` is ``None`` without a sample."""

    box: BoxFacts
    row: BoxRow
    columns: SampleColumns | None
    rulebook: Rulebook
    fluid: str
    capacity_l: float
    papers: _Papers


def find_compartment(
    place: Workplace, machine: str, compartment: str, *, site: str = ""
) -> CompartmentId:
    """The box that a machine number and the words for a compartment name.

    Args:
        place: where to look.
        machine: the machine's number.
        compartment: kind and position ("final_drive left"), or the words shown.
        site: the site's name, where two sites use the same machine number.

    Raises:
        NotFoundError: naming what there is instead.
    """
    with place.store.reading() as desk:
        boxes = [BoxFacts._make(row) for row in desk.boxes.rows(None)]
    own = [box for box in boxes if box.machine.casefold() == machine.strip().casefold()]
    if site:
        own = [box for box in own if box.site.casefold() == site.strip().casefold()]
    if not own:
        raise NotFoundError(
            f'There is no machine "{machine}"{f" at {site}" if site else ""}. '
            "See the machine numbers with: fluiddesk condition"
        )
    wanted = _plain(compartment)
    names = {
        box.compartment_id: {
            _plain(f"{box.kind} {box.position}"),
            _plain(place.catalogue.box_name(box.kind, box.position)),
        }
        for box in own
    }
    fits = [box for box in own if wanted in names[box.compartment_id]]
    if len(fits) == 1:
        return fits[0].compartment_id
    there = ", ".join(
        sorted({f'"{place.catalogue.box_name(box.kind, box.position)}"' for box in own})
    )
    if fits:
        sites = ", ".join(sorted({box.site for box in fits}))
        raise NotFoundError(f'Machine "{machine}" is at several sites: {sites}. Add --site.')
    raise NotFoundError(f'{machine} has no compartment "{compartment}". It has: {there}.')


def _plain(words: str) -> str:
    return " ".join(words.casefold().replace(",", " ").replace("_", " ").split())


def compartment_history(
    place: Workplace, compartment: CompartmentId, *, today: date
) -> CompartmentHistory:
    """Everything the compartment page shows of one box.

    Raises:
        NotFoundError: when the box is not in the store.
    """
    with place.store.reading() as desk:
        fetched = _fetch(desk, place, compartment)
    row, columns, papers = fetched.row, fetched.columns, fetched.papers
    fleet = condition_columns([row], today=today)
    held, series = _limits_and_series(place, fetched, today=today)
    samples = _sample_facts(columns, papers)
    reasons = _reasons(place, row)
    severity = Severity(int(fleet.severity[0]))
    sentence = verdict_sentence(
        severity=severity, samples=samples, reasons=reasons, direction=int(fleet.direction[0])
    )
    return CompartmentHistory(
        compartment=compartment,
        site=row.site,
        machine=row.machine,
        machine_kind=place.catalogue.machine_kind_name(row.machine_kind),
        model=row.model,
        box=place.catalogue.box_name(row.kind, row.position),
        fluid=fetched.fluid,
        capacity_l=fetched.capacity_l,
        severity=severity,
        trust=Trust(int(fleet.trust[0])),
        sentence=sentence,
        changed_since=change_sentence(series, samples, papers.events) if samples else "",
        due=_due_facts(fleet),
        samples=samples,
        series=series,
        events=papers.events,
        reasons=reasons,
        limit_set=f"{held.number} {held.name}" if held else "",
    )


def _fetch(desk: Desk, place: Workplace, compartment: CompartmentId) -> _Fetched:
    box, row = _box_of(desk, compartment)
    columns = desk.blocks.one(compartment)
    fluids = {fluid.code: fluid.name for fluid in desk.fleet.fluids()}
    return _Fetched(
        box=box,
        row=row,
        columns=columns if columns is not None and len(columns) else None,
        rulebook=load_rulebook(desk, place.catalogue),
        fluid=fluids.get(row.fluid_code, row.fluid_code),
        capacity_l=desk.fleet.compartment(compartment).capacity_l,
        papers=_papers(desk, compartment),
    )


def _limits_and_series(
    place: Workplace, fetched: _Fetched, *, today: date
) -> tuple[LimitSet | None, tuple[AnalyteSeries, ...]]:
    """The limit set in force on the day of the last sample, and the curves held against it."""
    columns, rulebook = fetched.columns, fetched.rulebook
    last_day = date.fromordinal(int(columns.taken_on[-1])) if columns is not None else today
    held = set_in_force(rulebook.sets, last_day)
    if columns is None:
        return held, ()
    series = analyte_series(
        columns,
        limits_in_force(held.limits, fetched.box.box) if held else [],
        analytes=place.catalogue.analytes,
        references=rulebook.references,
        printed=fetched.papers.printed,
    )
    return held, series


def _reasons(place: Workplace, row: BoxRow) -> tuple[ReasonFacts, ...]:
    analytes = place.catalogue.analytes
    return tuple(
        ReasonFacts(rule=rule, title=reason_title(rule, analytes), text=reason_text(rule, analytes))
        for rule in reasons_from_text(row.reasons)
    )


def _box_of(desk: Desk, compartment: CompartmentId) -> tuple[BoxFacts, BoxRow]:
    boxes = [BoxFacts._make(row) for row in desk.boxes.rows([compartment])]
    rows = [BoxRow._make(row) for row in desk.condition.rows([compartment])]
    if not boxes or not rows:
        raise NotFoundError(
            "This compartment is not in the database any more. Choose another one in the tree."
        )
    return boxes[0], rows[0]


def _papers(desk: Desk, compartment: CompartmentId) -> _Papers:
    sheets = [sheet for sheet in desk.results.sheets_of(compartment) if sheet.is_current]
    events = [
        EventFacts(
            kind=event.kind,
            happened_on=event.happened_on,
            hours=event.true_hours,
            litres=event.litres,
            fluid=event.fluid or "",
            certainty=event.certainty,
            note=event.note,
        )
        for event in desk.fleet.events(compartment)
        if event.superseded_by is None
    ]
    return _Papers(
        samples={sample.id: sample for sample in desk.sampling.samples_of(compartment)},
        sheets={sheet.sample: sheet for sheet in sheets},
        printed={
            (sample, number): f"{text} {unit}"
            for sample, number, text, unit in desk.printed.of(compartment)
        },
        events=tuple(sorted(events, key=lambda event: event.happened_on)),
    )


def _sample_facts(columns: SampleColumns | None, papers: _Papers) -> tuple[SampleFacts, ...]:
    if columns is None:
        return ()
    found = []
    for index in range(len(columns)):
        key = columns.sample_id[index].tobytes()
        sample, sheet = papers.samples[key], papers.sheets.get(key)
        found.append(
            SampleFacts(
                sample_id=key,
                bottle_code=sample.bottle_code,
                taken_on=date.fromordinal(int(columns.taken_on[index])),
                hours=float(columns.hours[index]),
                fluid_hours=float(columns.fluid_hours[index]),
                fill=int(columns.fill[index]),
                severity=Severity(int(columns.severity[index])),
                trust=Trust(int(columns.trust[index])),
                trust_reason=sample.trust_reason,
                laboratory=sheet.laboratory if sheet else "",
                report_number=sheet.report_number if sheet else "",
                issue=sheet.issue if sheet else 0,
                draw_method=sample.draw_method.value.replace("_", " "),
            )
        )
    return tuple(found)


def _due_facts(fleet: FleetCondition) -> DueFacts:
    due, row = fleet.due, fleet.rows[0]
    has_day = int(due.due_on[0]) != NEVER
    left = float(due.hours_left[0])
    spans: Sequence[str] = [
        f"{row.interval_hours:g} h" if row.interval_hours else "",
        f"{row.interval_days} days" if row.interval_days else "",
    ]
    return DueFacts(
        state=DueState(int(due.state[0])),
        due_on=date.fromordinal(int(due.due_on[0])) if has_day else None,
        window=(
            date.fromordinal(int(due.window_from[0])),
            date.fromordinal(int(due.window_to[0])),
        )
        if has_day
        else None,
        hours_left=None if np.isnan(left) else left,
        by_hours=bool(due.by_hours[0]),
        interval=" or ".join(span for span in spans if span),
        awaited_on=date.fromisoformat(str(row.awaited_on)) if fleet.is_awaited[0] else None,
    )
