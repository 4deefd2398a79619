"""`intake`: counts, problems, exit codes; a refused file is answered in full."""

from pathlib import Path

import pytest

from fluiddesk.cli.output import Exit
from fluiddesk.domain.errors import StaleEditError
from fluiddesk.domain.severity import Severity
from fluiddesk.services.lab_intake import take_in
from tests.cli.conftest import Run
from tests.fleets import Fleet, differing_tables, results

KEYS = {"taken_in", "held", "unchanged", "problems"}
LAB_FILES = Path(__file__).parents[1] / "lab_files"


@pytest.fixture
def box(fleet: Fleet):
    return fleet.boxes("engine", Severity.NORMAL)[0]


@pytest.fixture
def lab_file(fleet: Fleet, box) -> Path:
    """One sound row, one whose bottle is nobody's."""
    return fleet.lab_file(
        "results.csv", results(fleet.draw(box, 1), iron=480), results("26T-99999-9", iron=1)
    )


def test_that_intake_counts_and_names_the_boxes_that_moved(run: Run, fleet: Fleet, lab_file, box):
    told = run("intake", lab_file, "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK
    answer = told.json
    assert set(answer) >= KEYS
    assert (answer["taken_in"], answer["held"], answer["unchanged"]) == (1, 1, 0)
    [problem] = answer["problems"]
    assert (problem["row"], problem["value"]) == (3, "26T-99999-9")
    assert problem["remedy"]
    [moved] = answer["moved"]
    assert (moved["machine"], moved["compartment"]) == (box.machine, "Engine")
    assert (moved["before"], moved["after"]) == ("Normal", "Urgent")
    assert moved["headline"].startswith("Iron 480 mg/kg")
    assert fleet.check() == []


def test_that_a_preview_counts_the_same_and_changes_nothing(run: Run, fleet: Fleet, lab_file):
    before = fleet.dump()
    seen = run("intake", lab_file, "--preview", "--database", fleet.address, "--format", "json")
    assert differing_tables(before, fleet.dump()) == set()
    done = run("intake", lab_file, "--database", fleet.address, "--format", "json")
    assert seen.json == done.json


def test_that_text_says_what_was_done_and_each_problem_in_one_line_beside_it(
    run: Run, fleet: Fleet, lab_file
):
    seen = run("intake", lab_file, "--preview", "--database", fleet.address)
    assert "nothing was changed" in seen.out
    assert "1 to take in, 1 held, 0 unchanged, 1 problem." in seen.out
    assert "1 compartment would change condition:" in seen.out
    done = run("intake", lab_file, "--database", fleet.address)
    assert "1 taken in, 1 held, 0 unchanged, 1 problem." in done.out
    assert "1 compartment changed condition:" in done.out
    [line] = done.err.splitlines()
    assert line.startswith('Row 3, column "bottle": "26T-99999-9"')


def test_that_the_same_file_again_says_when_and_changes_nothing(run: Run, fleet: Fleet, lab_file):
    run("intake", lab_file, "--database", fleet.address)
    before = fleet.dump()
    again = run("intake", lab_file, "--database", fleet.address)
    assert again.code == Exit.OK
    assert "was taken in on 20" in again.out
    assert "already; nothing has changed." in again.out
    counts = run("intake", lab_file, "--database", fleet.address, "--format", "json").json
    assert (counts["taken_in"], counts["unchanged"]) == (0, 1)
    assert differing_tables(before, fleet.dump()) == set()


@pytest.mark.parametrize(
    ("file", "code"),
    [
        (LAB_FILES / "empty.csv", Exit.BAD_DATA),
        (LAB_FILES / "really_pdf.csv", Exit.BAD_DATA),
        (LAB_FILES / "strange_headings.csv", Exit.BAD_DATA),
        (LAB_FILES / "damaged.xlsx", Exit.BAD_DATA),
        (LAB_FILES / "nowhere.csv", Exit.NO_INPUT),
    ],
)
def test_that_a_refused_file_is_answered_in_full_and_changes_nothing(
    run: Run, fleet: Fleet, file: Path, code: Exit
):
    before = fleet.dump()
    told = run("intake", file, "--database", fleet.address, "--format", "json")
    assert told.code == code
    answer = told.json
    assert {key: answer[key] for key in KEYS - {"problems"}} == {
        "taken_in": 0, "held": 0, "unchanged": 0,
    }  # fmt: skip
    [problem] = answer["problems"]
    assert problem["problem"]
    assert told.err.strip() == f"fluiddesk: {problem['problem']}"
    assert differing_tables(before, fleet.dump()) == set()


def test_that_an_unknown_layout_is_told_which_there_are(run: Run, fleet: Fleet, lab_file):
    told = run("intake", lab_file, "--layout", "lab_x", "--database", fleet.address)
    assert told.code != Exit.OK
    assert "lab_x" in told.err
    assert "lab_a" in told.err


def test_that_a_file_outrun_by_another_desk_is_answered_in_full(
    run: Run, fleet: Fleet, lab_file, monkeypatch: pytest.MonkeyPatch
):
    def outrun(*_given, **_named):
        raise StaleEditError("Bottle X was reported at another desk. Open the file again.")

    monkeypatch.setattr(take_in, "take_in", outrun)
    told = run("intake", lab_file, "--database", fleet.address, "--format", "json")
    assert told.code == Exit.TRY_AGAIN
    assert told.json["problems"][0]["problem"].startswith("Bottle X was reported")


def test_that_csv_lists_the_boxes_that_moved_alone(run: Run, fleet: Fleet, lab_file, box):
    told = run("intake", lab_file, "--database", fleet.address, "--format", "csv")
    head, line = told.out.splitlines()
    assert head == "site,machine,compartment,before,after,headline"
    assert line.startswith(f"{box.site},{box.machine},Engine,Normal,Urgent,")


# --- undo, guess, saved layouts ------------------------------------------------------------------


def test_that_undo_takes_back_what_the_file_brought(run: Run, fleet: Fleet, lab_file, box):
    run("intake", lab_file, "--database", fleet.address)
    told = run("intake", lab_file, "--undo", "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK
    [moved] = told.json["moved"]
    assert (moved["before"], moved["after"]) == ("Urgent", "Normal")
    assert fleet.check() == []
    again = run("intake", lab_file, "--undo", "--database", fleet.address)
    assert again.code == Exit.NO_INPUT
    assert "Nothing of results.csv stands" in again.err
    gone = run("intake", "nowhere.csv", "--undo", "--database", fleet.address)
    assert gone.code == Exit.NO_INPUT


@pytest.fixture
def unknown_file(fleet: Fleet, box) -> Path:
    """A file in no layout the program has."""
    path = fleet.folder / "north.csv"
    code = fleet.draw(box, 7)
    path.write_text(f"Label;Lab no;Iron (ppm);Smell\n{code};=N-1;480,5;=1+1\n", encoding="utf-8")
    return path


def test_that_a_guess_names_columns_and_changes_nothing(run: Run, fleet: Fleet, unknown_file):
    before = fleet.dump()
    told = run("intake", unknown_file, "--guess", "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK
    answer = told.json
    assert (answer["decimal_mark"], answer["delimiter"], answer["header_row"]) == (",", ";", 1)
    carried = {one["heading"]: one["carries"] for one in answer["columns"]}
    assert carried == {"Label": "bottle", "Lab no": "report", "Iron (ppm)": "iron", "Smell": ""}
    text = run("intake", unknown_file, "--guess", "--database", fleet.address)
    assert "one sample a row" in text.out
    assert differing_tables(before, fleet.dump()) == set()


def test_that_a_saved_layout_reads_the_file(run: Run, fleet: Fleet, unknown_file, box):
    nobody = run("intake", unknown_file, "--save-layout", "north", "--database", fleet.address)
    assert nobody.code == Exit.USAGE
    assert "--laboratory" in nobody.err
    saved = run(
        "intake", unknown_file, "--save-layout", "north", "--laboratory", "lab_north",
        "--database", fleet.address,
    )  # fmt: skip
    assert 'Saved as layout "north"' in saved.out
    done = run(
        "intake", unknown_file, "--layout", "north", "--database", fleet.address, "--format", "json"
    )
    assert done.json["taken_in"] == 1
    [moved] = done.json["moved"]
    assert moved["headline"].startswith("Iron 480")


def test_that_text_like_a_formula_is_made_harmless_in_an_answer_for_a_spreadsheet(
    run: Run, fleet: Fleet
):
    path = fleet.folder / "formula.csv"
    path.write_text("Bottle,=cmd|x,Iron\n26T-00001-H,1,2\n", encoding="utf-8")
    told = run("intake", path, "--guess", "--database", fleet.address, "--format", "csv")
    assert "'=cmd|x" in told.out
    assert "\n=cmd" not in told.out


def test_that_what_a_revision_changed_is_told(run: Run, fleet: Fleet, box) -> None:
    code = fleet.draw(box, 1)
    run("intake", fleet.lab_file("a.csv", results(code, iron=12)), "--database", fleet.address)
    second = fleet.lab_file("b.csv", results(code, iron=14, issue=2))
    told = run("intake", second, "--preview", "--database", fleet.address)
    assert "1 value revised:" in told.out
    answer = run("intake", second, "--database", fleet.address, "--format", "json").json
    [one] = answer["revised"]
    assert (one["value"], one["before"], one["after"]) == ("Iron", "12 mg/kg", "14 mg/kg")


def test_that_a_file_of_held_rows_alone_says_where_they_wait(run: Run, fleet: Fleet) -> None:
    file = fleet.lab_file("bad.csv", results("26T-99999-9", iron=1))
    told = run("intake", file, "--database", fleet.address)
    assert "the rows wait on the Results page" in told.out
    assert "0 taken in, 1 held" in told.out
