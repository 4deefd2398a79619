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
_NAMED = 4
_COUNTED = {Standing.ISSUED: "issued"}
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
    return f"{told}{late}{full}{_passed(plan)}{missing}."


def _passed(plan: RoundPlan) -> str:
    count = len(plan.left_behind)
    return f"; {counted(count, 'kept visit')} passed undone" if count else ""


def plan_line(plan: RoundPlan) -> str:
    """How firm the visits are, in one line below the sentence."""
    counts = [
        (standing, sum(one.standing is standing for one in plan.visits)) for standing in Standing
    ]
    told = [
        f"{count} {_COUNTED.get(standing, standing.value)}" for standing, count in counts if count
    ]
    joining = sum(len(one.joining_boxes) for one in plan.growing)
    if joining:
        verb = "joins" if joining == 1 else "join"
        told.append(
            f"{counted(joining, 'bottle')} {verb} {counted(len(plan.growing), 'kept visit')}"
        )
    return ", ".join(told)


def to_keep(some: Sequence[Planned]) -> str:
    """What keeping some visits comes to: "2 visits", "3 bottles more", or both."""
    visits = sum(not one.is_kept for one in some)
    joining = sum(len(one.joining_boxes) for one in some)
    told = [counted(visits, "proposed visit")] if visits else []
    told += [f"{counted(joining, 'bottle')} more"] if joining else []
    return " and ".join(told)


def joining_line(one: Planned) -> str:
    """What joins a kept visit, in one line; empty where nothing does."""
    if one.joining is None:
        return ""
    verb = "joins" if len(one.joining_boxes) == 1 else "join"
    what = counted(len(one.joining_boxes), "bottle")
    again = "; its sheet is printed again" if one.standing is Standing.ISSUED else ""
    return f"{what} {verb} the visit of {one.visit.planned_on.isoformat()}{again}"


def left_behind_line(some: Sequence[Planned]) -> str:
    """Which kept visits have passed undone, and what to do; empty where none has."""
    if not some:
        return ""
    named = [f"{one.visit.machine} of {one.visit.planned_on.isoformat()}" for one in some[:_NAMED]]
    more = len(some) - len(named)
    names = ", ".join(named) + (f" and {more} more" if more > 0 else "")
    verb, them, sheet = (
        ("has", "it", "its sheet") if len(some) == 1 else ("have", "them", "the sheets")
    )
    return (
        f"{counted(len(some), 'kept visit')} {verb} passed undone: {names}. "
        f"Record what was done from {sheet}, or move {them} on."
    )


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
    if one.is_left_behind:
        day += ", passed undone"
    return day, f"{_window(one)}; {one.minutes:.0f} min at the machine"


def _window(one: Planned) -> str:
    if one.first_day > one.last_day:
        return "No day lies in every window"
    window = f"Window {one.first_day.isoformat()}"
    if one.first_day < one.last_day:
        window += f" to {one.last_day.isoformat()}"
    if one.is_late:
        window += ", this day is after it"
    elif one.is_early:
        window += ", this day is before it"
    return window


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
