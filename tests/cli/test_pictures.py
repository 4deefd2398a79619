"""`picture`: every page in both themes, of the size asked for, and clear refusals."""

from pathlib import Path

import pytest
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication

from fluiddesk import wiring
from fluiddesk.cli.output import Exit
from tests.cli.conftest import Run
from tests.fleets import differing_tables, dump

DARKEST_OF_LIGHT = 200
LIGHTEST_OF_DARK = 80


def shown(path: Path) -> tuple[tuple[int, int], int, int]:
    """Size, lightness of the ground (by the commonest of a grid), and how many colours."""
    image = QImage(str(path))
    assert not image.isNull()
    grid = [
        image.pixelColor(x, y)
        for x in range(5, image.width(), 12)
        for y in range(5, image.height(), 12)
    ]
    names = [colour.name() for colour in grid]
    ground = max(set(names), key=names.count)
    lightness = next(one.lightness() for one in grid if one.name() == ground)
    return (image.width(), image.height()), lightness, len(set(names))


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(
    "page", ["fleet", "compartment", "results", "rules", "reckoner", "register"]
)
def test_that_every_page_is_drawn_in_both_themes(
    run: Run, qapp: QApplication, sample_fleet_file: Path, tmp_path: Path, page: str, theme: str
):
    del qapp
    out = tmp_path / "page.png"
    told = run(
        "picture", page, "--theme", theme, "--size", "1200x700", "--out", out,
        "--database", sample_fleet_file, "--file", wiring.sample_lab_files()[0],
    )  # fmt: skip
    assert (told.code, told.out) == (Exit.OK, "")
    assert told.err == f"Wrote {out}.\n"
    size, ground, colours = shown(out)
    assert size == (1200, 700)
    assert ground > DARKEST_OF_LIGHT if theme == "light" else ground < LIGHTEST_OF_DARK
    assert colours > 8, "an empty page has fewer"


def test_that_a_compartment_that_is_asked_for_is_another_picture(
    run: Run, qapp: QApplication, sample_fleet_file: Path, tmp_path: Path
):
    del qapp
    asked = ("picture", "compartment", "--database", sample_fleet_file, "--size", "900x600")
    run(*asked, "--out", tmp_path / "worst.png")
    told = run(
        *asked, "--machine", "EX-101", "--compartment", "engine", "--out", tmp_path / "asked.png"
    )
    assert told.code == Exit.OK
    assert QImage(str(tmp_path / "worst.png")) != QImage(str(tmp_path / "asked.png"))


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (["--size", "big"], Exit.USAGE, "Write width x height"),
        (["--size", "10x10"], Exit.USAGE, "is not a size"),
        (["--machine", "XX-1"], Exit.NO_INPUT, 'no machine "XX-1"'),
        (["--machine", "EX-101", "--compartment", "wing"], Exit.NO_INPUT, "no compartment"),
        (["--out", "/proc/none/x.png"], Exit.CANNOT_CREATE, "cannot be written"),
    ],
)
def test_that_a_picture_that_cannot_be_drawn_says_why(
    run: Run, qapp: QApplication, sample_fleet_file: Path, tmp_path: Path, words, code, told
):
    del qapp
    out = tmp_path / "x.png"
    answer = run("picture", "compartment", "--database", sample_fleet_file, "--out", out, *words)
    assert (answer.code, answer.out) == (code, "")
    assert told in answer.err
    assert not out.exists()


def test_that_without_a_database_the_sample_fleet_is_drawn_with_a_file_that_waits(
    run: Run, qapp: QApplication, tmp_path: Path, sample_fleet_file: Path,
    monkeypatch: pytest.MonkeyPatch,
):  # fmt: skip
    del qapp
    asked: list[Path] = []

    def scratch() -> Path:
        asked.append(tmp_path / "scratch.fluiddesk")
        asked[0].write_bytes(sample_fleet_file.read_bytes())
        return asked[0]

    monkeypatch.setattr(wiring, "sample_scratch_copy", scratch)
    out = tmp_path / "fleet.png"
    assert run("picture", "fleet", "--out", out).code == Exit.OK
    assert asked
    assert shown(out)[0] == (1280, 800)


@pytest.mark.parametrize("section", ["wear", "hours", "samples"])
def test_that_each_section_of_a_compartment_is_another_picture(
    run: Run, qapp: QApplication, sample_fleet_file: Path, tmp_path: Path, section: str
):
    del qapp
    asked = ("picture", "compartment", "--database", sample_fleet_file, "--size", "1100x700")
    box = ("--machine", "EX-101", "--compartment", "engine")
    run(*asked, *box, "--out", tmp_path / "curves.png")
    told = run(*asked, *box, "--section", section, "--out", tmp_path / "section.png")
    assert told.code == Exit.OK
    assert (tmp_path / "section.png").read_bytes() != (tmp_path / "curves.png").read_bytes()


def test_that_the_curves_of_a_picture_can_stand_against_dates(
    run: Run, qapp: QApplication, sample_fleet_file: Path, tmp_path: Path
):
    del qapp
    asked = ("picture", "compartment", "--database", sample_fleet_file, "--size", "1100x700")
    box = ("--machine", "EX-101", "--compartment", "engine")
    for axis in ("hours", "date"):
        run(*asked, *box, "--axis", axis, "--out", tmp_path / f"{axis}.png")
    assert (tmp_path / "date.png").read_bytes() != (tmp_path / "hours.png").read_bytes()


def test_that_the_chance_to_catch_is_a_picture_of_its_own(
    run: Run, qapp: QApplication, sample_fleet_file: Path, tmp_path: Path
) -> None:
    del qapp
    asked = ("picture", "sampling", "--database", sample_fleet_file, "--size", "1100x700")
    run(*asked, "--section", "due", "--out", tmp_path / "due.png")
    told = run(*asked, "--section", "chance", "--out", tmp_path / "chance.png")
    assert told.code == Exit.OK
    assert (tmp_path / "chance.png").read_bytes() != (tmp_path / "due.png").read_bytes()


@pytest.mark.parametrize("section", ["keying", "mapping"])
def test_that_each_section_of_the_results_is_another_picture_and_changes_nothing(
    run: Run, qapp: QApplication, sample_fleet_file: Path, tmp_path: Path, section: str
):
    del qapp
    copy = tmp_path / "fleet.fluiddesk"
    copy.write_bytes(sample_fleet_file.read_bytes())
    before = dump(str(copy))
    file = next(iter(wiring.sample_lab_files()))
    asked = ("picture", "results", "--database", copy, "--size", "1100x700", "--file", file)
    run(*asked, "--section", "queue", "--out", tmp_path / "queue.png")
    told = run(*asked, "--section", section, "--out", tmp_path / "section.png")
    assert told.code == Exit.OK
    assert (tmp_path / "section.png").read_bytes() != (tmp_path / "queue.png").read_bytes()
    assert differing_tables(before, dump(str(copy))) == set()
