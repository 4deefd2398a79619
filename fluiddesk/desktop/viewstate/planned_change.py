"""The next planned fluid change of a box, in words."""

from datetime import date

from fluiddesk.services.compartment_history.facts import DueFacts


def change_text(due: DueFacts, *, today: date) -> str:
    """When the fluid is to be changed next, and whether its sample was drawn.

    "" where none is planned, or where what is due says it already.
    """
    change = due.next_change
    if change is None or change.sets_due:
        return ""
    is_past = change.planned_on < today
    words = "Fluid change was planned" if is_past else "Next fluid change planned"
    about = f", about {change.planned_on.isoformat()}" if change.at_hours is not None else ""
    sampled = "; sample before it drawn" if change.is_sampled else ""
    return f"{words} {change.when}{about}{sampled}"
