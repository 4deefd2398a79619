"""A machine taken up today, with two years of reports that know nothing of our codes."""

from datetime import timedelta
from pathlib import Path

from fluiddesk.domain.identity import SiteId, bottle_code
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.founding import found
from fluiddesk.services.outside_plan.walk_up import WalkUp, register_sample
from fluiddesk.services.past_results.preview import preview_past_results
from fluiddesk.services.past_results.take_in import take_in_past_results
from fluiddesk.services.register.facts import MachineFacts, SiteFacts
from fluiddesk.services.register.sites import save_site
from fluiddesk.services.register.templates import add_machine_by_template
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import check_store, open_store
from tests.fleets import CLERK, LAST_DAY, NOW, the_catalogue, write_lab_file

HOURS_NOW = 6000.0
HOURS_PER_DAY = 5.0


def founded(folder: Path) -> Workplace:
    address = str(folder / "own.fluiddesk")
    found(address, the_catalogue(), who=CLERK, moment=NOW)
    place = Workplace(store=open_store(address), catalogue=the_catalogue(), who=CLERK)
    save_site(place, SiteFacts(site=SiteId(1), name="Own pit"), today=LAST_DAY, moment=NOW)
    facts = MachineFacts(site=SiteId(1), code="EX-01", kind="excavator", model="A")
    add_machine_by_template(place, facts, hours_now=HOURS_NOW, today=LAST_DAY, moment=NOW)
    return place


def reports(folder: Path) -> Path:
    """A report each 25 days over two years, iron rising to three times as much at the end."""
    days = [LAST_DAY - timedelta(days=25 * back) for back in range(28, 0, -1)]
    return write_lab_file(
        folder / "past.csv",
        *(
            {
                "machine": "EX 1",
                "compartment": box,
                "sampled on": day.isoformat(),
                "meter": HOURS_NOW - (LAST_DAY - day).days * HOURS_PER_DAY,
                "report": f"P{number}-{box}",
                "iron [mg/kg]": 20 if number < 27 else 900,
            }
            for number, day in enumerate(days)
            for box in ("Eng", "Hyd", "FD LH", "FD RH")
        ),
    )


def test_that_two_years_of_reports_make_histories_verdicts_and_due_days(tmp_path: Path):
    place = founded(tmp_path)
    preview = preview_past_results(place, reports(tmp_path), today=LAST_DAY)
    taken = take_in_past_results(place, preview, moment=NOW, today=LAST_DAY)
    assert (taken.taken_in, taken.waiting, taken.held) == (112, 0, 0)
    assert {one.compartment for one in taken.moved} >= {"Engine", "Hydraulic system"}
    with place.store.reading() as desk:
        machine = desk.fleet.machine("EX-01")
        usage = desk.fleet.usage()[machine.id]
        engine = next(box for box in desk.fleet.compartments() if box.kind == "engine")
        samples = desk.sampling.samples_of(engine.id)
    assert (round(usage.hours_per_day, 6), usage.hours_now) == (HOURS_PER_DAY, HOURS_NOW)
    ages = [one.true_hours for one in samples]
    assert ages == [HOURS_NOW - 25 * back * HOURS_PER_DAY for back in range(28, 0, -1)]
    fleet = fleet_condition(place, today=LAST_DAY)
    row = next(row for row in fleet.rows if row.kind == "engine")
    assert str(row.taken_on) == "2026-06-05"
    assert check_store(place.store) == []
    place.store.close()


def test_that_a_reading_of_today_is_taken_after_readings_from_before_the_meter(tmp_path: Path):
    place = founded(tmp_path)
    preview = preview_past_results(place, reports(tmp_path), today=LAST_DAY)
    take_in_past_results(place, preview, moment=NOW, today=LAST_DAY)
    with place.store.reading() as desk:
        engine = next(box for box in desk.fleet.compartments() if box.kind == "engine")
    told = WalkUp(
        bottle_code=bottle_code("26W00001"),
        compartment_id=engine.id,
        taken_on=LAST_DAY,
        meter_value=HOURS_NOW + 3,
    )
    made = register_sample(place, told, moment=NOW, today=LAST_DAY)
    with place.store.reading() as desk:
        assert desk.sampling.sample(made.sample_id).true_hours == HOURS_NOW + 3
    place.store.close()
