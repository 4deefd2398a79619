"""What a fluid change recorded, or taken back, after samples were drawn means for them."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.samples import Sample
from fluiddesk.services.register.boxes import hours_on
from fluiddesk.storage import Desk, EventRecord


def fluid_changes(events: Sequence[EventRecord]) -> list[EventRecord]:
    """The changes among a box's events that hold: recorded or inferred, not denied, by day."""
    return [
        one
        for one in events
        if one.kind is EventKind.FLUID_CHANGE and one.certainty is not Certainty.DENIED
    ]


def renew_fills(desk: Desk, compartment: CompartmentId, *, day: date, step: int) -> list[Sample]:
    """Move the samples drawn after a day to a later fill, or back, and count their hours anew.

    The events of the box must stand as they are to hold already. A sample of the day itself was
    drawn before the change, as is usual. Only samples up to the next change get other hours on the
    fluid.

    Args:
        desk: an open transaction.
        compartment: whose samples.
        day: of the change that was recorded or taken back.
        step: 1 where it was recorded, -1 where it was taken back.

    Returns:
        The samples that moved, as they stand now.
    """
    box = desk.fleet.compartment(compartment)
    changes = fluid_changes(desk.fleet.events(compartment))
    until = min((one.happened_on for one in changes if one.happened_on > day), default=date.max)
    before = [one for one in changes if one.happened_on <= day]
    since = None
    if before:
        since = before[-1].true_hours
        since = hours_on(desk, box.machine, before[-1].happened_on) if since is None else since
    moved = []
    for sample in desk.sampling.samples_of(compartment):
        if sample.taken_on is None or sample.taken_on <= day:
            continue
        hours = sample.fluid_hours
        if sample.taken_on <= until:
            hours = None
            if since is not None and sample.true_hours is not None:
                hours = max(0.0, sample.true_hours - since)
        number = max(sample.fill_number + step, 0)
        moved.append(replace(sample, fill_number=number, fluid_hours=hours))
    desk.sampling.update_samples(moved)
    return moved
