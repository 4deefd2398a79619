"""What the Sampling page says: its sentence, a visit in words, and the state of a box."""

from collections.abc import Sequence
from datetime import date

from fluiddesk.desktop.viewstate.round_plan import Planned, RoundPlan, Standing
from fluiddesk.desktop.viewstate.sampling_calls import SamplingFacts
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.services.visits.facts import BoxOutcome, VisitBox

BOX_STATES = {
    DueState.EXCUSED: "excused",
    DueState.NOT_YET: "early",
    DueState.DUE: "due",
    DueState.OVERDUE: "late",
    DueState.NEVER_SAMPLED: "never sampled",
    DueState.NO_INTERVAL: "no interval",
}
_OUTCOMES = {
    BoxOutcome.TAKEN: "taken",
    BoxOutcome.NOT_TAKEN: "not taken",
    BoxOutcome.MOVED: "moved",
}


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun.

    >>> counted(1, "bottle"), counted(2, "bottle"), counted(3, "box", "boxes")
    ('1 bottle', '2 bottles', '3 boxes')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def page_sentence(facts: SamplingFacts, plan: RoundPlan, *, unaccounted: int = 0) -> str:
    """The page in one line."""
    if not len(facts.fleet):
        return "No machines yet, so nothing is due."
    visits = plan.visits
    overdue = int((facts.fleet.due.state == DueState.OVERDUE).sum())
    missing = f"; {counted(unaccounted, 'bottle')} unaccounted" if unaccounted else ""
    late = f"; {counted(overdue, 'box', 'boxes')} late" if overdue else ""
    if not visits:
        return f"No visit until {plan.until.isoformat()}{late}{missing}."
    bottles = sum(one.bottles for one in visits)
    told = (
        f"{counted(len(visits), 'visit')} and {counted(bottles, 'bottle')} "
        f"until {max(plan.days).isoformat()}"
    )
    overfull = plan.overfull
    full = f"; {counted(overfull, 'crew day')} overfull" if overfull else ""
    return f"{told}{late}{full}{missing}."


def plan_line(plan: RoundPlan) -> str:
    """How firm the visits are, in one line below the sentence."""
    counts = [
        (standing, sum(one.standing is standing for one in plan.visits)) for standing in Standing
    ]
    return ", ".join(f"{count} {standing.value}" for standing, count in counts if count)


def visit_title(one: Planned) -> str:
    """A visit by its machine."""
    return one.visit.machine


def visit_place(one: Planned, kind: str) -> str:
    """What machine it is and where."""
    return ", ".join(part for part in (kind, one.visit.site, one.visit.area) if part)


def visit_lines(one: Planned) -> tuple[str, str]:
    """The day of a visit, and its window and work."""
    visit = one.visit
    day = f"{visit.planned_on:%a} {visit.planned_on.isoformat()}, {one.standing.value}"
    if visit.crew:
        day += f", {visit.crew}"
    if visit.at_service:
        day += ", with its service"
    if one.first_day == one.last_day:
        window = f"Window {one.first_day.isoformat()}"
    elif one.first_day > one.last_day:
        window = "No day lies in every window"
    else:
        window = f"Window {one.first_day.isoformat()} to {one.last_day.isoformat()}"
    if one.is_late:
        window += ", this day is after it"
    elif one.is_early:
        window += ", this day is before it"
    return day, f"{window}; {one.minutes:.0f} min at the machine"


def several_lines(some: Sequence[Planned]) -> tuple[str, str]:
    """Several visits chosen at once."""
    bottles = sum(one.bottles for one in some)
    minutes = sum(one.minutes for one in some)
    days = sorted({one.visit.planned_on for one in some})
    span = days[0].isoformat()
    if len(days) > 1:
        span += f" to {days[-1].isoformat()}"
    return f"{counted(bottles, 'bottle')}, {span}", f"{minutes / 60:.1f} h at the machines"


def box_state(box: VisitBox) -> str:
    """Where a box of a visit stands."""
    if box.outcome is not BoxOutcome.OPEN:
        return _OUTCOMES[box.outcome]
    return "" if box.state is None else BOX_STATES[box.state]


def day_or_none(day: date | None) -> str:
    """An ISO day; empty where there is none."""
    return "" if day is None else day.isoformat()


def spoken(one: Planned) -> str:
    """A visit as a screen reader tells it."""
    day, rest = visit_lines(one)
    return f"{one.visit.machine}, {counted(one.bottles, 'bottle')}, {day}; {rest}"


def nothing_planned(plan: RoundPlan) -> str:
    """What stands where there is no visit: what to do next."""
    return (
        f"No window closes until {plan.until.isoformat()}, so no visit is proposed. "
        "Look further ahead, or order what is due by worth to sample more often."
    )
