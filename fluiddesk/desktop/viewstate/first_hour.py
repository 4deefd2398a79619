"""The way from an empty database to the first labels: each step says what is still missing."""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from fluiddesk.desktop.viewstate.register_words import counted
from fluiddesk.domain.fleet import MachineState
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.register.facts import CompartmentFacts, RegisterFacts

_LISTED = 3
_LATER = "Follows from the steps above."


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step. ``actions`` are what can be done now, by key and words."""

    title: str
    told: str
    is_done: bool
    actions: tuple[tuple[str, str], ...] = ()


def steps(facts: RegisterFacts) -> tuple[Step, ...]:
    """The steps in the order in which they are taken."""
    return (_site(facts), _machines(facts), _meters(facts), _fluids(facts), _intervals(facts),
            _labels(facts))  # fmt: skip


def is_under_way(facts: RegisterFacts, taken: Sequence[Step]) -> bool:
    """Whether the first hour is still to be finished; the labels come after it."""
    return not facts.machines or not all(one.is_done for one in taken[:-1])


def label_texts(facts: RegisterFacts, catalogue: Catalogue) -> str:
    """What to write on the label of each working box's bottle, as tab-separated text."""
    codes = {bytes(one.id): one.code for one in facts.machines}
    fluids = {one.code: one.name for one in facts.fluids}
    lines = ["machine\tcompartment\tfluid\tmeter\tdate"]
    lines += [
        f"{codes[bytes(box.machine)]}\t{catalogue.box_name(box.kind, box.position)}\t"
        f"{fluids.get(box.fluid, box.fluid)}\t\t"
        for box in _boxes(facts)
    ]
    return "\n".join(lines)


def _boxes(facts: RegisterFacts) -> list[CompartmentFacts]:
    """The boxes in use of machines that owe samples."""
    working = {bytes(one.id) for one in facts.machines if one.state is MachineState.WORKING}
    return [one for one in facts.compartments if not one.retired and bytes(one.machine) in working]


def _site(facts: RegisterFacts) -> Step:
    names = ", ".join(one.name for one in facts.sites)
    return Step(
        title="Site",
        told=names or "Where your machines work. Its records stay its own for good.",
        is_done=bool(facts.sites),
        actions=() if facts.sites else (("new_site", "Add your site"),),
    )


def _machines(facts: RegisterFacts) -> Step:
    count = len(facts.machines)
    lacking = _machines_without(facts, lambda box: True)
    told = f"{counted(count, 'machine')} with {counted(len(_boxes(facts)), 'compartment')}"
    if lacking:
        told += f"; without any compartment: {_listed(lacking)}"
    return Step(
        title="Machines",
        told=told if count else "From your list as a file, or one by one from the usual kinds.",
        is_done=count > 0 and not lacking,
        actions=(("files", "From files…"), ("new_machine", "Add a machine")) if facts.sites else (),
    )


def _meters(facts: RegisterFacts) -> Step:
    read = {bytes(one.machine) for one in facts.meters if one.last_value is not None}
    lacking = [one.code for one in facts.machines if bytes(one.id) not in read]
    return Step(
        title="Meter readings",
        told=_told(lacking, none="Every machine has one.", some="without a reading")
        if facts.machines
        else _LATER,
        is_done=bool(facts.machines) and not lacking,
        actions=(("lacking_meter", "Show the first"),) if lacking else (),
    )


def _fluids(facts: RegisterFacts) -> Step:
    lacking = [one for one in _boxes(facts) if not one.fluid or one.capacity_l is None]
    return _box_step(
        facts,
        lacking,
        title="Fluids and capacities",
        none="Every compartment has its fluid and litres.",
        some="without a fluid or litres",
        key="lacking_fluid",
    )


def _intervals(facts: RegisterFacts) -> Step:
    lacking = [
        one for one in _boxes(facts) if one.interval_hours is None and one.interval_days is None
    ]
    return _box_step(
        facts,
        lacking,
        title="Intervals",
        none="Every compartment has one.",
        some="without an interval",
        key="lacking_interval",
    )


def _labels(facts: RegisterFacts) -> Step:
    boxes = _boxes(facts)
    told = f"{counted(len(boxes), 'bottle')} for a first round: one for each compartment in use"
    return Step(
        title="First labels",
        told=told if boxes else _LATER,
        is_done=False,
        actions=(("labels", "Copy the label texts"),) if boxes else (),
    )


def _box_step(
    facts: RegisterFacts,
    lacking: Sequence[CompartmentFacts],
    *,
    title: str,
    none: str,
    some: str,
    key: str,
) -> Step:
    codes = {bytes(one.id): one.code for one in facts.machines}
    told = [f"{codes[bytes(one.machine)]} {one.name.lower()}" for one in lacking]
    return Step(
        title=title,
        told=_told(told, none=none, some=some) if _boxes(facts) else _LATER,
        is_done=bool(_boxes(facts)) and not lacking,
        actions=((key, "Show the first"),) if lacking else (),
    )


def _machines_without(
    facts: RegisterFacts, counts: Callable[[CompartmentFacts], bool]
) -> list[str]:
    held = Counter(bytes(one.machine) for one in facts.compartments if counts(one))
    return [one.code for one in facts.machines if not held[bytes(one.id)]]


def _told(lacking: Sequence[str], *, none: str, some: str) -> str:
    return f"{len(lacking)} {some}: {_listed(lacking)}" if lacking else none


def _listed(names: Iterable[str]) -> str:
    told = list(names)
    more = len(told) - _LISTED
    shown = ", ".join(told[:_LISTED])
    return f"{shown} and {more} more" if more > 0 else shown
