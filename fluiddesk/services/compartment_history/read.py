"""Reads one compartment's story from the store."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.identity import CompartmentId, SampleId
from fluiddesk.domain.limits.limit_set import set_in_force
from fluiddesk.domain.samples import SampleColumns
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.compartment_history.arguments import arguments
from fluiddesk.services.compartment_history.base_number import base_number_facts
from fluiddesk.services.compartment_history.due_now import due_facts
from fluiddesk.services.compartment_history.facts import (
    AnalyteSeries,
    Argument,
    CompartmentHistory,
    DueFacts,
    EventFacts,
    OtherSide,
    ReasonFacts,
    SampleFacts,
)
from fluiddesk.services.compartment_history.fetching import (
    Fetched,
    OtherBox,
    Papers,
    fetch,
    series_of,
    story_of,
)
from fluiddesk.services.compartment_history.fill_rates import rates_by_fill
from fluiddesk.services.compartment_history.forecast_facts import HoursLeft
from fluiddesk.services.compartment_history.forecasts import score_of
from fluiddesk.services.compartment_history.hours_left import Clock, hours_left
from fluiddesk.services.compartment_history.sentences import change_sentence, verdict_sentence
from fluiddesk.services.compartment_history.series import with_reasons
from fluiddesk.services.compartment_history.sisters import shelf_of
from fluiddesk.services.compartment_history.story import BoxStory, start_points
from fluiddesk.services.compartment_history.wear import true_wear
from fluiddesk.services.compartment_history.wear_facts import FillFacts, TrueWear
from fluiddesk.services.due_counting.grid_points import grid_points
from fluiddesk.services.fleet_condition import (
    BoxRow,
    FleetCondition,
    condition_columns,
    stale_after,
)
from fluiddesk.services.intervals_in_force import under_rules
from fluiddesk.services.reassess.fleet import BoxFacts
from fluiddesk.services.reassess.wording import reason_text, reason_title, reasons_from_text
from fluiddesk.services.register.owners import earlier_boxes
from fluiddesk.services.special_intervals import special_rows
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk


def find_compartment(
    place: Workplace, machine: str, compartment: str, *, site: str = ""
) -> CompartmentId:
    """The box that a machine number and the words for a compartment name.

    Where a machine changed its site, the record that goes on is meant, unless ``site`` is given.

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
    if len(fits) > 1:
        fits = _going_on(place, fits)
    if len(fits) == 1:
        return fits[0].compartment_id
    there = ", ".join(
        sorted({f'"{place.catalogue.box_name(box.kind, box.position)}"' for box in own})
    )
    if fits:
        sites = ", ".join(sorted({box.site for box in fits}))
        raise NotFoundError(f'Machine "{machine}" is at several sites: {sites}. Add --site.')
    raise NotFoundError(f'{machine} has no compartment "{compartment}". It has: {there}.')


def _going_on(place: Workplace, boxes: Sequence[BoxFacts]) -> list[BoxFacts]:
    """The boxes without those that another of them is the later record of."""
    with place.store.reading() as desk:
        earlier = {key for box in boxes for key in earlier_boxes(desk, box.compartment_id)}
    return [box for box in boxes if box.compartment_id not in earlier]


def _plain(words: str) -> str:
    return " ".join(words.casefold().replace(",", " ").replace("_", " ").split())


@dataclass(frozen=True, slots=True, kw_only=True)
class _Worked:
    """What was worked out of one box outside of the reading."""

    severity: Severity
    trust: Trust
    direction: int
    limit_set: str
    due: DueFacts
    clock: Clock
    samples: tuple[SampleFacts, ...]
    series: tuple[AnalyteSeries, ...]
    reasons: tuple[ReasonFacts, ...]
    events: tuple[EventFacts, ...]
    fills: tuple[FillFacts, ...]
    wear: TrueWear
    left: HoursLeft


def compartment_history(
    place: Workplace, compartment: CompartmentId, *, today: date, in_full: bool = True
) -> CompartmentHistory:
    """Everything the compartment page shows of one box, its time at former sites included.

    Args:
        place: where to read.
        compartment: which box.
        today: the day to reckon from.
        in_full: ``False`` leaves out what takes longest: true wear, hours left, like machines.

    Raises:
        NotFoundError: when the box is not in the store.
    """
    with place.store.reading() as desk:
        shelf = shelf_of(place.store)
        found = fetch(desk, place.catalogue, compartment, shelf=shelf, in_full=in_full)
        tallies = desk.forecasts.tallies(found.box.kind) if in_full else ()
        fleet = _condition(desk, found, today=today)
    catalogue, row = place.catalogue, fleet.rows[0]
    worked = _worked(place, replace(found, row=row), fleet, today=today, in_full=in_full)
    score = score_of(tallies[0] if tallies else None, catalogue.kind_name(found.box.kind))
    return CompartmentHistory(
        compartment=compartment,
        site=row.site,
        machine=row.machine,
        machine_kind=catalogue.machine_kind_name(row.machine_kind),
        model=row.model,
        box=catalogue.box_name(row.kind, row.position),
        fluid=found.fluid,
        capacity_l=found.register.capacity_l,
        severity=worked.severity,
        trust=worked.trust,
        sentence=_verdict(worked),
        changed_since=_changed(worked),
        due=worked.due,
        samples=worked.samples,
        series=with_reasons(worked.series, worked.reasons),
        events=worked.events,
        reasons=worked.reasons,
        limit_set=worked.limit_set,
        earlier_sites=found.earlier_sites,
        fill_facts=worked.fills,
        findings=found.papers.findings,
        arguments=_arguments(worked),
        wear=worked.wear,
        hours_left=replace(worked.left, score=score),
        hours_now=worked.clock.hours_now,
        hours_per_day=worked.clock.hours_per_day,
        is_in_full=in_full,
    )


def _condition(desk: Desk, found: Fetched, *, today: date) -> FleetCondition:
    """How the box stands and when it is due, as the fleet has it."""
    box = found.row
    special = special_rows(
        desk, today=today, compartment=box.compartment_id, machine=box.machine_id
    )
    in_force = set_in_force(found.rulebook.sets, today)
    rules = in_force.intervals if in_force else ()
    grid = grid_points(desk, [box], rules, today=today)
    rows, window = under_rules([box], rules)
    return condition_columns(
        rows,
        today=today,
        window_share=window,
        special=special,
        stale_after=stale_after(in_force),
        grid=grid,
    )


def _worked(
    place: Workplace, found: Fetched, fleet: FleetCondition, *, today: date, in_full: bool
) -> _Worked:
    columns = found.columns
    last_day = date.fromordinal(int(columns.taken_on[-1])) if columns is not None else today
    held = set_in_force(found.rulebook.sets, last_day)
    story = story_of(found, place.catalogue)
    series = _completed_series(series_of(found, place.catalogue), found, story)
    due = due_facts(fleet)
    clock = clock_of(found.row, due, today=today)
    wear, left = TrueWear(), HoursLeft()
    if in_full:
        wear, left = _outlook(found, story, series, clock, found.box.compartment_id)
    return _Worked(
        severity=Severity(int(fleet.severity[0])),
        trust=Trust(int(fleet.trust[0])),
        direction=int(fleet.direction[0]),
        limit_set=f"{held.number} {held.name}" if held else "",
        due=due,
        clock=clock,
        samples=_sample_facts(columns, found.papers),
        series=series,
        reasons=_reasons(place, found.row),
        events=story.events if story is not None else found.papers.events,
        fills=story.fills if story is not None else (),
        wear=wear,
        left=left,
    )


def _verdict(worked: _Worked) -> str:
    return verdict_sentence(
        severity=worked.severity,
        samples=worked.samples,
        reasons=worked.reasons,
        direction=worked.direction,
        due=worked.due,
    )


def _changed(worked: _Worked) -> str:
    if not worked.samples:
        return ""
    return change_sentence(worked.series, worked.samples, worked.events)


def _arguments(worked: _Worked) -> tuple[Argument, ...]:
    return arguments(
        severity=worked.severity,
        samples=worked.samples,
        series=worked.series,
        reasons=worked.reasons,
        events=worked.events,
        wear=worked.wear,
        left=worked.left,
    )


def _outlook(
    found: Fetched,
    story: BoxStory | None,
    series: Sequence[AnalyteSeries],
    clock: Clock,
    compartment: CompartmentId,
) -> tuple[TrueWear, HoursLeft]:
    """True wear and hours left, or why there is neither."""
    if story is None:
        why = "Not enough to say: no believed sample has been reported for this box yet."
        missing = ("a sample that is believed",)
        return (
            TrueWear(why="No believed sample has been reported for this box yet."),
            HoursLeft(is_enough=False, why=why, missing=missing, sentence=why),
        )
    rates = rates_by_fill(story)
    wear = true_wear(story, rates, series, found.sisters, box=compartment)
    left = hours_left(story, rates, series, found.sisters, clock, box=compartment)
    number, why = base_number_facts(story, series, clock)
    return wear, replace(left, base_number=number, base_number_why=why)


def clock_of(row: BoxRow, due: DueFacts, *, today: date) -> Clock:
    """The machine's meter today and the hours to the next planned sample."""
    pace = row.hours_per_day
    now = row.hours_now
    if now is not None and row.usage_as_of is not None and pace is not None:
        read_on = date.fromisoformat(str(row.usage_as_of))
        now += max((today - read_on).days, 0) * pace
    to_due = due.hours_left if due.by_hours else None
    if to_due is None and due.due_on is not None and pace is not None:
        to_due = (due.due_on - today).days * pace
    return Clock(today=today, hours_now=now, hours_per_day=pace, hours_to_due=to_due)


def _completed_series(
    series: Sequence[AnalyteSeries], found: Fetched, story: BoxStory | None
) -> tuple[AnalyteSeries, ...]:
    """The curves with their starts after each change, the other side and like machines."""
    if story is None:
        return tuple(series)
    starts = start_points(story)
    place = {number: at for at, number in enumerate(story.columns.analytes)}
    bands = found.sisters.bands if found.sisters is not None else {}
    return tuple(
        replace(
            one,
            starts=starts[place[one.analyte.number]],
            other_side=_other_side(found.other_side, one.analyte.number),
            sisters=bands.get(one.analyte.number),
        )
        for one in series
    )


def _other_side(other: OtherBox | None, number: int) -> OtherSide | None:
    if other is None or number not in other.columns.analytes:
        return None
    columns, at = other.columns, other.columns.analytes.index(number)
    return OtherSide(
        name=other.name,
        hours=columns.hours,
        fluid_hours=columns.fluid_hours,
        taken_on=columns.taken_on,
        fill=columns.fill,
        values=columns.values[:, at],
        signs=columns.signs[:, at],
        trust=columns.trust,
    )


def _reasons(place: Workplace, row: BoxRow) -> tuple[ReasonFacts, ...]:
    analytes = place.catalogue.analytes
    return tuple(
        ReasonFacts(rule=rule, title=reason_title(rule, analytes), text=reason_text(rule, analytes))
        for rule in reasons_from_text(row.reasons)
    )


def _sample_facts(columns: SampleColumns | None, papers: Papers) -> tuple[SampleFacts, ...]:
    if columns is None:
        return ()
    found = []
    for index in range(len(columns)):
        key = SampleId(columns.sample_id[index].tobytes())
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
                revisions=papers.revisions.get(key, ()),
            )
        )
    return tuple(found)
