"""A planner's fortnight: a round planned, printed, taken, shipped, received and reported."""

from collections.abc import Iterable
from datetime import date, timedelta
from pathlib import Path

import pytest
import zxingcpp

from fluiddesk.domain.identity import SiteId
from fluiddesk.domain.samples import DrawMethod, SampleState
from fluiddesk.domain.sampling.outcome import Outcome
from fluiddesk.domain.trust.taking import FillLevel
from fluiddesk.printing.bottle_labels import write_labels
from fluiddesk.printing.kit_list import write_kit_list
from fluiddesk.printing.visit_sheet import write_visit_sheets
from fluiddesk.services.custody.facts import Step
from fluiddesk.services.custody.move import Dispatch, hand_in, receive, ship
from fluiddesk.services.custody.read import custody, shipments, trail_of
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.interval_compliance.events import event_columns
from fluiddesk.services.interval_compliance.facts import ComplianceTable, GroupBy
from fluiddesk.services.interval_compliance.tables import compliance_table, event_lines
from fluiddesk.services.takings.facts import BottleTaken, VisitDone
from fluiddesk.services.takings.record import record_visit
from fluiddesk.services.visit_papers.labels import visit_labels
from fluiddesk.services.visit_papers.procedures import label_stock
from fluiddesk.services.visit_papers.sheets import kit_list, visit_sheets
from fluiddesk.services.visits.book import issue_bottles, save_visits
from fluiddesk.services.visits.facts import Visit, VisitState
from fluiddesk.services.visits.plan import PlanWishes, propose_visits
from fluiddesk.services.visits.read import visits
from fluiddesk.storage import RecordKey, RecordKind, check_store
from tests.fleets import LAST_DAY, NOW, Fleet, results
from tests.printing.makers_papers import page_image, page_texts

pytestmark = pytest.mark.usefixtures("qapp")

LAB = "lab_t"


def done(fleet: Fleet, visit: Visit, *, on_day: int) -> VisitDone:
    """A visit taken as the sheet asks, the machine having run eight hours a day meanwhile."""
    with fleet.place.store.reading() as desk:
        last = max(desk.fleet.meter_readings(visit.machine_id), key=lambda one: one.read_on)
    day = LAST_DAY + timedelta(days=on_day)
    return VisitDone(
        visit_id=visit.id,
        taken_on=day,
        taken_at="14:00",
        taken_by="Robin",
        meter_value=last.value + 8.0 * (day - last.read_on).days,
        bottles=tuple(
            BottleTaken(
                visit_box_id=box.id,
                method=DrawMethod.VALVE_PROBE,
                flushed=True,
                warm=True,
                mixed=True,
                fill_level=FillLevel.ABOVE_LINE,
                cap_marked=True,
                litres_added=0.0,
                fluid_changed=False,
            )
            for box in visit.boxes
        ),
    )


def test_that_a_round_goes_from_the_plan_to_the_verdict_and_compliance_moves(
    fleet: Fleet, tmp_path: Path
) -> None:
    place, later = fleet.place, LAST_DAY + timedelta(days=30)
    ids, codes = planned_and_printed(fleet, tmp_path)
    before = compliance_of(fleet, later)
    round_of = visits(place, today=LAST_DAY, ids=ids)
    take(fleet, round_of)
    assert {one.state for one in visits(place, today=later, ids=ids)} == {VisitState.DONE}
    send(fleet, codes)
    waiting = custody(place, today=LAST_DAY + timedelta(days=18)).out
    assert codes <= {one.code for one in waiting}

    file = fleet.lab_file("july.csv", *(results(code, iron=5) for code in sorted(codes)))
    fleet.take_in(file, moment=NOW + timedelta(days=20))
    assert not codes & {one.code for one in custody(place, today=later).out}
    with place.store.reading() as desk:
        states = {one.state for one in desk.sampling.by_bottle(sorted(codes)).values()}
    assert states == {SampleState.REPORTED}
    steps = [one.step for one in trail_of(place, min(codes))]
    assert steps == [Step.ISSUED, Step.TAKEN, Step.HANDED_IN, Step.SHIPPED, Step.RECEIVED]

    ages = ages_of(fleet, round_of, LAST_DAY + timedelta(days=20))
    assert max(ages) <= 20
    after = compliance_of(fleet, later)
    assert after.total.on_time + after.total.late > before.total.on_time + before.total.late
    assert after.total.missed < before.total.missed
    lines = event_lines(event_columns(place, today=later), first_day=LAST_DAY, last_day=later)
    answered = [one for one in lines if one.sampler == "Robin"]
    assert {one.outcome for one in answered} <= {Outcome.ON_TIME, Outcome.LATE, Outcome.EARLY}
    assert check_store(place.store) == []


def planned_and_printed(fleet: Fleet, folder: Path) -> tuple[tuple[bytes, ...], set[str]]:
    """A fortnight's visits with their papers; their identifiers and bottle codes."""
    place = fleet.place
    with place.store.transaction(who="planner", moment=NOW) as desk:
        key = RecordKey(RecordKind.LABORATORY, SiteId(0), LAB)
        desk.register.add(key, {"name": "Lab T"}, name="laboratory")
    plan = propose_visits(place, today=LAST_DAY, wishes=PlanWishes(days=14))
    ids = save_visits(place, plan.visits, moment=NOW)
    issued = issue_bottles(place, ids, today=LAST_DAY, moment=NOW)
    sheets = visit_sheets(place, ids, today=LAST_DAY)
    write_visit_sheets(sheets, folder / "sheets.pdf", printed_on=LAST_DAY)
    write_kit_list(kit_list(sheets), folder / "kit.pdf", round_name="July", printed_on=LAST_DAY)
    labels = visit_labels(place, ids, today=LAST_DAY)
    pages = write_labels(labels, label_stock("a4_2x7"), folder / "labels.pdf")
    read = {
        one.text
        for page in range(pages)
        for one in zxingcpp.read_barcodes(page_image(folder / "labels.pdf", page))
    }
    codes = {code for some in issued.codes.values() for code in some}
    assert read == codes
    text = " ".join(page_texts(folder / "sheets.pdf"))
    assert all(code in text for code in codes)

    return ids, codes


def take(fleet: Fleet, round_of: Iterable[Visit]) -> None:
    """Every visit taken on its day."""
    for visit in round_of:
        on_day = (visit.planned_on - LAST_DAY).days
        came = record_visit(
            fleet.place,
            done(fleet, visit, on_day=on_day),
            today=LAST_DAY + timedelta(days=on_day),
            moment=NOW + timedelta(days=on_day, hours=4),
        )
        assert len(came.samples) == len(visit.boxes)
        assert came.suspect == ()


def send(fleet: Fleet, codes: set[str]) -> None:
    """All bottles handed in, shipped and received."""
    hand_in(fleet.place, sorted(codes), moment=NOW + timedelta(days=15))
    sent = Dispatch(
        codes=tuple(sorted(codes)),
        laboratory=LAB,
        sent_on=LAST_DAY + timedelta(days=15),
        manifest_count=len(codes),
    )
    ship(fleet.place, sent, today=sent.sent_on, moment=NOW + timedelta(days=15, hours=1))
    for shipment in shipments(fleet.place):
        receive(
            fleet.place,
            shipment.id,
            received_on=LAST_DAY + timedelta(days=17),
            count=len(shipment.codes),
            version=shipment.version,
            today=LAST_DAY + timedelta(days=17),
            moment=NOW + timedelta(days=17),
        )


def ages_of(fleet: Fleet, round_of: Iterable[Visit], day: date) -> list[int]:
    """Days since the last sample of every box of a round."""
    visited = {box.compartment_id for one in round_of for box in one.boxes}
    now = fleet_condition(fleet.place, today=day)
    return [
        int(now.age_days[at]) for at, row in enumerate(now.rows) if row.compartment_id in visited
    ]


def compliance_of(fleet: Fleet, day: date) -> ComplianceTable:
    events = event_columns(fleet.place, today=day)
    return compliance_table(
        events,
        fleet.place.catalogue,
        first_day=LAST_DAY - timedelta(days=14),
        last_day=day,
        by=GroupBy.SITE,
    )
