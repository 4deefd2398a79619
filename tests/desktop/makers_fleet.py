"""An invented fleet for the tests and pictures of the fleet page. No figure means anything."""

import random
from datetime import date, timedelta
from functools import cache
from typing import TYPE_CHECKING, cast

from fluiddesk.services.catalogue import Catalogue, load_catalogue
from fluiddesk.services.fleet_condition import BoxRow, FleetCondition, condition_columns
from fluiddesk.services.workplace import Workplace

if TYPE_CHECKING:
    from fluiddesk.storage import DeskStore

TODAY = date(2026, 11, 20)
SITES = ("North pit", "Quarry road", "Tunnel east")
PREFIX = {
    "excavator": "EX",
    "wheel_loader": "WL",
    "rigid_truck": "RT",
    "articulated_truck": "AT",
    "dozer": "DZ",
}
HEADLINES = {
    -1: "",
    0: "",
    1: "Silicon 24 mg/kg, limit 20",
    2: "Iron 112 mg/kg, limit 100; 1 more",
    3: "Water present; 2 more",
}


@cache
def catalogue() -> Catalogue:
    """The program's catalogue, read once."""
    return load_catalogue()


def workplace() -> Workplace:
    """A place without a store: the screens are given their facts."""
    return Workplace(store=cast("DeskStore", None), catalogue=catalogue(), who="J. Weaver")


def box_row(**given: object) -> BoxRow:
    """One box, well and just sampled unless told otherwise."""
    row = BoxRow(
        site_id=1,
        site="North pit",
        machine_id=b"m1",
        machine="EX-01",
        machine_kind="excavator",
        model="invented",
        machine_state="working",
        compartment_id=b"c1",
        kind="engine",
        position="",
        interval_hours=250.0,
        interval_days=180,
        severity=0,
        trust=0,
        taken_on=TODAY - timedelta(days=10),
        true_hours=4000.0,
        fluid_hours=120.0,
        direction=0,
        headline="",
        reasons="[]",
        first_seen_on=None,
        hours_now=4080.0,
        usage_as_of=TODAY,
        hours_per_day=8.0,
        sample_id=b"s1",
        previous_severity=0,
        criticality=3,
        fluid_code="engine_oil",
    )
    return row._replace(**given)  # type: ignore[arg-type]


def fleet(machines: int = 30, *, seed: int = 3, trouble: float = 0.12) -> FleetCondition:
    """An invented fleet of so many machines, some of them in trouble."""
    kinds = catalogue()
    chance = random.Random(seed)  # noqa: S311 - it makes up a fleet
    rows: list[BoxRow] = []
    for number in range(machines):
        rows += _machine(number, chance, kinds, trouble)
    rows.sort(
        key=lambda row: (
            row.site,
            row.machine,
            kinds.compartment_kinds[row.kind].order,
            row.position,
        )
    )
    return condition_columns(rows, today=TODAY)


def _machine(number: int, chance: random.Random, kinds: Catalogue, trouble: float) -> list[BoxRow]:
    kind = list(PREFIX)[number % len(PREFIX)]
    rows = []
    since = chance.randint(3, 45)
    for index, (box, position) in enumerate(kinds.machine_kinds[kind].boxes):
        bad = chance.random() < trouble
        severity = chance.choice([1, 1, 1, 2, 2, 3]) if bad else 0
        never = chance.random() < 0.01
        age = since + (chance.choice([60, 200, 420]) if chance.random() < 0.04 else 0)
        rows.append(
            box_row(
                site=SITES[number % 3],
                site_id=number % 3,
                machine_id=f"m{number}".encode(),
                machine=f"{PREFIX[kind]}-{number // len(PREFIX) + 1:02d}",
                machine_kind=kind,
                machine_state="standby" if number == 17 else "working",
                compartment_id=f"c{number}-{index}".encode(),
                kind=box,
                position=position,
                severity=None if never else severity,
                trust=1 if chance.random() < 0.03 else 0,
                taken_on=None if never else TODAY - timedelta(days=age),
                direction=chance.choice([0, 0, 0, 1, -1]) if not bad else chance.choice([1, 1, 0]),
                headline=HEADLINES[severity],
                previous_severity=0 if chance.random() < 0.97 else 1,
                interval_hours=500.0,
                hours_now=4000.0 + age * 6,
                hours_per_day=6.0,
            )
        )
    return rows
