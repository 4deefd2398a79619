"""`visits`, `worthwhile`, `sheets` and `labels`."""

from pathlib import Path

import pypdfium2

from fluiddesk.cli.output import Exit
from tests.cli.conftest import Run
from tests.fleets import Fleet, differing_tables


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
