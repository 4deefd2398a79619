"""The sampling programme of a story: crews, service days, and who had each bottle when."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Final

from fluiddesk.domain.identity import new_row_id
from fluiddesk.services.simulated_fleet.rows import Keys
from fluiddesk.simulation.records import LOST, SimulatedFleet, bottle_code_of
from fluiddesk.simulation.story import ProgrammePlan
from fluiddesk.storage import Desk

_CARRIER: Final = "parcel van"
_BY_EVENING: Final = 4
"""Of five machines sampled on a day, four have their bottles handed in the same evening."""
_KEPT_BACK: Final = 3
"""Of three boxes that have more than two days on the road, one waits a day before it goes."""
_GIVEN_UP_AFTER_D: Final = 21
_LABELLED_BEFORE_D: Final = 7
_NEVER_CAME: Final = -1


@dataclass(frozen=True, slots=True)
class _Way:
    """The days of one machine's bottles of one visit."""

    taken: date
    handed_in: date
    shipped: date
    received: date | None


def write_programme(
    desk: Desk, fleet: SimulatedFleet, keys: Keys, plan: ProgrammePlan, *, moment: datetime
) -> None:
    """Write crews, service days and the hand-overs of the bottles since a day."""
    stamp = int(moment.timestamp() * 1000)
    crews = [
        (site + 1, new_row_id(milliseconds=stamp), name, hours) for site, name, hours in plan.crews
    ]
    desk.load("crew", ("site_id", "id", "name", "hours_per_day"), crews)
    places = {one.code: place for place, one in enumerate(fleet.machines)}
    services = [
        (
            keys.site_of_machine[place],
            new_row_id(milliseconds=stamp),
            keys.machines[place],
            on,
            note,
        )
        for place, on, note in ((places[code], on, note) for code, on, note in plan.services)
    ]
    desk.load("service_date", ("site_id", "id", "machine_id", "planned_on", "note"), services)
    if plan.custody_from is not None:
        _write_custody(desk, fleet, keys, plan.custody_from, stamp)


def _write_custody(desk: Desk, fleet: SimulatedFleet, keys: Keys, since: date, stamp: int) -> None:
    samples = fleet.samples
    first = since.toordinal()
    bottles = [place for place, day in enumerate(samples.taken_on.tolist()) if day >= first]
    ways = {place: _way(fleet, place) for place in bottles}
    shipped = _shipments(fleet, keys, ways, stamp)
    shipment = {place: one.row[1] for one in shipped for place in one.bottles}
    columns = ("site_id", "code", "lot", "sample_id", "issued_on")
    desk.load("bottle", columns, _bottle_rows(fleet, keys, bottles))
    desk.load(
        "shipment",
        ("site_id", "id", "laboratory_code", "carrier", "sent_on", "received_on",
         "manifest_count", "received_count"),
        [one.row for one in shipped],
    )  # fmt: skip
    inside = (
        (one.row[0], one.row[1], bottle_code_of(samples, place))
        for one in shipped
        for place in one.bottles
    )
    desk.load("shipment_bottle", ("site_id", "shipment_id", "bottle_code"), inside)
    steps = (
        (
            keys.site_of_box(int(samples.compartment[place])), new_row_id(milliseconds=stamp),
            bottle_code_of(samples, place), step, datetime.combine(on, at, UTC), "scanned",
            shipment[place] if step in ("shipped", "received") else None,
        )
        for place in bottles
        for step, on, at in _steps(fleet, place, ways[place])
    )  # fmt: skip
    told = ("site_id", "id", "bottle_code", "step", "at", "known_by", "shipment_id")
    desk.load("custody_step", told, steps)


def _bottle_rows(
    fleet: SimulatedFleet, keys: Keys, bottles: Sequence[int]
) -> Iterator[tuple[Any, ...]]:
    for place in bottles:
        labelled = int(fleet.samples.taken_on[place]) - _LABELLED_BEFORE_D
        yield (
            keys.site_of_box(int(fleet.samples.compartment[place])),
            bottle_code_of(fleet.samples, place), "", keys.samples[place],
            date.fromordinal(labelled),
        )  # fmt: skip


def _way(fleet: SimulatedFleet, place: int) -> _Way:
    """Handed in by evening as a rule; on the road no later than the day before it came."""
    samples = fleet.samples
    day, came = int(samples.taken_on[place]), int(samples.received_on[place])
    machine = fleet.compartments[int(samples.compartment[place])].machine
    handed_in = day if (machine + day) % (_BY_EVENING + 1) < _BY_EVENING else day + 1
    latest = came - 1 if came else day + 2
    waits = (machine + 2 * day) % _KEPT_BACK == 0
    shipped = max(handed_in, min(latest, day + (2 if waits else 1)))
    received = date.fromordinal(came) if came else None
    return _Way(
        date.fromordinal(day), date.fromordinal(handed_in), date.fromordinal(shipped), received
    )


def _steps(fleet: SimulatedFleet, place: int, way: _Way) -> Iterator[tuple[str, date, time]]:
    yield "taken", way.taken, time(10)
    yield "handed_in", way.handed_in, time(17)
    yield "shipped", way.shipped, time(18)
    if fleet.samples.state[place] == LOST:
        given_up = way.shipped + timedelta(days=_GIVEN_UP_AFTER_D)
        if given_up.toordinal() <= fleet.last_day:
            yield "lost", given_up, time(9)
    elif way.received is not None:
        yield "received", way.received, time(9)
        reported = int(fleet.samples.reported_on[place])
        if reported:
            yield "keyed", date.fromordinal(reported + 1), time(8)


@dataclass(frozen=True, slots=True)
class _Shipment:
    """A row of the table, and the bottles in it by their places among the samples."""

    row: tuple[Any, ...]
    bottles: Sequence[int]


def _shipments(
    fleet: SimulatedFleet, keys: Keys, ways: dict[int, _Way], stamp: int
) -> list[_Shipment]:
    """What one site sent to one laboratory on one day, and came on one day, is one shipment."""
    samples = fleet.samples
    together: dict[tuple[int, str, date, int], list[int]] = {}
    for place, way in ways.items():
        site = keys.site_of_box(int(samples.compartment[place]))
        laboratory = fleet.laboratories[int(samples.laboratory[place])]
        came = way.received.toordinal() if way.received else 0
        came = _NEVER_CAME if samples.state[place] == LOST else came
        together.setdefault((site, laboratory, way.shipped, came), []).append(place)
    _put_lost_with_others(together)
    return [
        _Shipment(
            (
                site, new_row_id(milliseconds=stamp), laboratory, _CARRIER, sent,
                date.fromordinal(came) if came > 0 else None, len(bottles),
                sum(bool(samples.received_on[one]) for one in bottles) if came > 0 else None,
            ),
            bottles,
        )
        for (site, laboratory, sent, came), bottles in sorted(together.items())
    ]  # fmt: skip


def _put_lost_with_others(together: dict[tuple[int, str, date, int], list[int]]) -> None:
    """A bottle that never came travelled with those that left with it and did."""
    for key in [one for one in together if one[3] == _NEVER_CAME]:
        with_it = [one for one in together if one[:3] == key[:3] and one[3] > 0]
        if with_it:
            together[min(with_it)] += together.pop(key)
