"""A box past an Urgent limit has no hours left, whatever brought it there."""

from datetime import date
from pathlib import Path

from fluiddesk.domain.severity import Severity
from fluiddesk.services.catalogue import load_catalogue
from fluiddesk.services.compartment_history.read import compartment_history, find_compartment
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import open_store

TODAY = date(2026, 11, 20)


def test_that_a_box_past_urgent_for_water_has_no_hours_left(sample_fleet_file: Path) -> None:
    with open_store(str(sample_fleet_file)) as store:
        place = Workplace(store=store, catalogue=load_catalogue(), who="a test")
        box = find_compartment(place, "AT-604", "hydraulic")
        shown = compartment_history(place, box, today=TODAY)
    water = next(one for one in shown.series if one.analyte.code == "water")
    assert water.severity[-1] == Severity.URGENT
    left = shown.hours_left
    assert (left.p10, left.p50, left.p90) == (0.0, 0.0, 0.0)
    assert left.why == "None left: water, Karl Fischer is past its Urgent limit already."
