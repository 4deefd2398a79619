"""`visits`, `worthwhile`, `sheets` and `labels`."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pypdfium2

from fluiddesk.cli.output import Exit
from fluiddesk.services.visits.book import issue_bottles, save_visits
from fluiddesk.services.visits.plan import PlanWishes, propose_visits
from tests.cli.conftest import Run
from tests.fleets import LAST_DAY, NOW, Fleet, differing_tables


def test_that_proposed_visits_change_nothing_until_they_are_kept(run: Run, fleet: Fleet) -> None:
    before = fleet.dump()
    told = run("visits", "--within", "4w", "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK
    assert differing_tables(before, fleet.dump()) == set()
    assert {"planned_on", "machine", "boxes", "first_day", "last_day"} <= set(told.json[0])
    kept = run("visits", "--within", "4w", "--save", "--database", fleet.address)
    assert f"{len(told.json)} visits kept." in kept.err
    shown = run(
        "visits", "--kept", "--within", "4w", "--database", fleet.address, "--format", "json"
    ).json
    assert len(shown) == len(told.json)
    assert {one["state"] for one in shown} == {"planned"}


def test_that_sheets_kit_and_labels_are_written_for_the_kept_visits(
    run: Run, fleet: Fleet, tmp_path: Path
) -> None:
    where = ("--within", "4w", "--database", fleet.address)
    out = tmp_path / "sheets.pdf"
    nothing = run("sheets", "--out", out, *where)
    assert nothing.code == Exit.NO_INPUT
    assert "fluiddesk visits --save" in nothing.err
    run("visits", "--save", *where)
    told = run("sheets", "--out", out, "--kit", tmp_path / "kit.pdf", *where)
    assert told.code == Exit.OK
    assert (tmp_path / "kit.pdf").read_bytes().startswith(b"%PDF")
    kept = run("visits", "--kept", *where, "--format", "json").json
    codes = [box["bottle_code"] for one in kept for box in one["boxes"]]
    assert all(codes)
    with pypdfium2.PdfDocument(str(out)) as document:
        text = " ".join(page.get_textpage().get_text_bounded() for page in document)
    assert all(code in text for code in codes)
    labels = run("labels", "--out", tmp_path / "labels.pdf", "--stock", "a4_2x7", *where)
    assert labels.code == Exit.OK
    assert f"Wrote {len(codes)} labels" in labels.err


def test_that_blank_labels_need_a_site_that_is_there(
    run: Run, fleet: Fleet, tmp_path: Path
) -> None:
    where = ("--within", "4w", "--database", fleet.address)
    run("visits", "--save", *where)
    told = run("labels", "--out", tmp_path / "l.pdf", "--blank", 3, *where)
    assert told.code == Exit.NO_INPUT
    assert "Name the site the labels are for." in told.err
    site = fleet.boxes()[0].site
    told = run("labels", "--out", tmp_path / "l.pdf", "--blank", 3, "--site", site, *where)
    assert told.code == Exit.OK


def test_that_worthwhile_bottles_come_with_their_reason(run: Run, fleet: Fleet) -> None:
    told = run("worthwhile", "--count", 5, "--database", fleet.address, "--format", "json")
    assert len(told.json) == 5
    assert all("intervals since the last sample" in one["why"] for one in told.json)


def test_that_a_span_that_is_none_is_refused(run: Run, fleet: Fleet) -> None:
    told = run("visits", "--within", "soon", "--database", fleet.address)
    assert told.code == Exit.USAGE
    assert '"soon" is not a span of days' in told.err


def test_that_bottles_that_join_a_kept_visit_are_told_and_kept(run: Run, fleet: Fleet) -> None:
    where = ("--within", "4w", "--database", fleet.address)
    plan = propose_visits(fleet.place, today=LAST_DAY, wishes=PlanWishes(days=28))
    one = next(one for one in plan.visits if len(one.boxes) >= 2)
    [key] = save_visits(fleet.place, [replace(one, boxes=one.boxes[:1])], moment=NOW)
    issue_bottles(fleet.place, [key], today=LAST_DAY, moment=NOW)
    told = run("visits", *where, "--format", "json")
    [join] = [row for row in told.json if row["joins_kept_visit"]]
    assert join["state"] == f"joins the visit of {one.planned_on}"
    assert (join["machine"], join["bottles"]) == (one.machine, len(one.boxes) - 1)
    assert f"joins the visit of {one.planned_on}" in run("visits", *where).out
    kept = run("visits", "--save", *where)
    more = f"{len(one.boxes) - 1} bottle{'' if len(one.boxes) == 2 else 's'}"
    assert f"{more} added to 1 kept visit." in kept.err
    assert f"print sheet and labels of {one.machine} on {one.planned_on} again" in kept.err


def test_that_visits_that_passed_undone_are_told_and_moved_on(run: Run, fleet: Fleet) -> None:
    where = ("--within", "4w", "--database", fleet.address)
    plan = propose_visits(fleet.place, today=LAST_DAY, wishes=PlanWishes(days=28))
    one = plan.visits[0]
    past = replace(one, planned_on=LAST_DAY - timedelta(days=3))
    save_visits(fleet.place, [past], moment=NOW)
    told = run("visits", *where)
    assert "1 kept visit passed undone" in told.err
    assert f"Passed undone: {one.machine} of {past.planned_on}" in told.err
    assert "fluiddesk visits --move-on" in told.err
    assert run("visits", "--kept", *where, "--format", "json").json[0]["passed_undone"]
    moved = run("visits", "--move-on", "--kept", *where, "--format", "json")
    assert f"Moved: {one.machine} from {past.planned_on} to {LAST_DAY}." in moved.err
    assert not moved.json[0]["passed_undone"]
    again = run("visits", "--move-on", *where)
    assert "No kept visit lies in the past" in again.err
    assert again.code != Exit.OK
