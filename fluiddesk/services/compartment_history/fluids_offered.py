"""The fluids that can be named when an event is logged."""

from fluiddesk.services.workplace import Workplace


def fluids_offered(place: Workplace) -> tuple[tuple[str, str], ...]:
    """Code and name of every fluid on the register, by name."""
    with place.store.reading() as desk:
        fluids = [(one.code, one.name) for one in desk.fleet.fluids()]
    return tuple(sorted(fluids, key=lambda one: one[1].casefold()))
