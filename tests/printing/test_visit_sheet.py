from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication

from fluiddesk.domain.errors import CannotWriteError
from fluiddesk.domain.samples import SampleReason
from fluiddesk.printing.kit_list import write_kit_list
from fluiddesk.printing.visit_sheet import write_visit_sheets
from fluiddesk.services.visit_papers.sheets import kit_list
from tests.printing.makers_papers import PRINTED, make_row, make_sheet, page_image, page_texts

pytestmark = pytest.mark.usefixtures("qapp")


def plain(text: str) -> str:
    """Text with every stretch of blanks as one, since lines are broken by the paper's width."""
    return " ".join(text.split())


def test_that_each_machine_has_its_own_page_with_every_bottle(
    tmp_path: Path, qapp: QApplication
) -> None:
    sheets = [make_sheet(9), make_sheet(3, machine="TT-78")]
    assert write_visit_sheets(sheets, tmp_path / "s.pdf", printed_on=PRINTED) == 2
    first, second = (plain(one) for one in page_texts(tmp_path / "s.pdf"))
    assert "TT-77" in first
    assert "TT-78" in second
    assert "2026-07-06" in first
    for row in sheets[0].rows:
        assert row.bottle_code in first
        assert row.compartment in first


def test_that_every_caution_and_step_is_on_the_page_in_full(tmp_path: Path) -> None:
    sheet = make_sheet(9)
    write_visit_sheets([sheet], tmp_path / "s.pdf", printed_on=PRINTED)
    [text] = [plain(one) for one in page_texts(tmp_path / "s.pdf")]
    for caution in sheet.cautions:
        assert plain(caution.text) in text
    for step in (*sheet.before, *sheet.after, *(one for way in sheet.ways for one in way.steps)):
        assert plain(step) in text


def test_that_nothing_is_drawn_beyond_the_margins_or_over_the_footer(tmp_path: Path) -> None:
    for count in (1, 5, 9):
        write_visit_sheets([make_sheet(count)], tmp_path / "s.pdf", printed_on=PRINTED)
        page = page_image(tmp_path / "s.pdf", dpi=72.0)
        ink = page.min(axis=2) < 200
        high, wide = ink.shape
        assert not ink[:, : int(wide * 100 / 2100)].any()
        assert not ink[:, int(wide * 2000 / 2100) :].any()
        assert not ink[int(high * 2935 / 2970) :].any()


def test_that_a_long_list_goes_on_over_the_page_and_loses_no_bottle(tmp_path: Path) -> None:
    sheet = make_sheet(31)
    pages = write_visit_sheets([sheet], tmp_path / "s.pdf", printed_on=PRINTED)
    texts = [plain(one) for one in page_texts(tmp_path / "s.pdf")]
    assert pages == len(texts) >= 2
    for row in sheet.rows:
        assert sum(row.bottle_code in one for one in texts) == 1
    assert "continued" in texts[1]
    assert all("licensed practice" in one for one in texts)


def test_that_a_resample_and_a_hazard_are_told_on_the_sheet(tmp_path: Path) -> None:
    rows = (make_row(1, is_special=True, reason=SampleReason.RESAMPLE, hazards="hot manifold"),)
    sheet = make_sheet(0, rows=rows, no_way=("Swing drive",))
    write_visit_sheets([sheet], tmp_path / "s.pdf", printed_on=PRINTED)
    [text] = [plain(one) for one in page_texts(tmp_path / "s.pdf")]
    assert "resample" in text
    assert "hot manifold" in text
    assert "Not on this sheet: Swing drive." in text


def test_that_a_sample_before_a_fluid_change_says_so_on_the_sheet(tmp_path: Path) -> None:
    """Before every fluid change a sample is taken (US Army TB 43-0211, para 6-3c)."""
    told = "before the fluid change at 12,500 h"
    for count in (4, 9, 14):
        rows = tuple(make_row(at, before_change=told) for at in range(1, count + 1))
        write_visit_sheets([make_sheet(0, rows=rows)], tmp_path / "s.pdf", printed_on=PRINTED)
        text = plain(" ".join(page_texts(tmp_path / "s.pdf")))
        assert text.count(f"Draw {told}; tick the change here") == count
    write_visit_sheets([make_sheet(4)], tmp_path / "s.pdf", printed_on=PRINTED)
    assert "before the fluid change" not in plain(" ".join(page_texts(tmp_path / "s.pdf")))


def test_that_the_kit_list_tells_every_line(tmp_path: Path) -> None:
    kit = kit_list([make_sheet(9)])
    write_kit_list(kit, tmp_path / "k.pdf", round_name="North, 6 July", printed_on=PRINTED)
    text = " ".join(plain(one) for one in page_texts(tmp_path / "k.pdf"))
    for line in kit.lines:
        assert line.what in text
        assert plain(line.how_much) in text


def test_that_a_folder_that_is_missing_is_named_and_nothing_is_left(tmp_path: Path) -> None:
    with pytest.raises(CannotWriteError, match="There is no folder"):
        write_visit_sheets([make_sheet(1)], tmp_path / "no" / "s.pdf", printed_on=PRINTED)
    assert list(tmp_path.iterdir()) == []


def test_that_a_short_list_is_set_larger_than_a_long_one(tmp_path: Path) -> None:
    def ink_below(count: int) -> int:
        write_visit_sheets([make_sheet(count)], tmp_path / "s.pdf", printed_on=PRINTED)
        ink = (page_image(tmp_path / "s.pdf", dpi=72.0).min(axis=2) < 200).any(axis=1)
        return int(ink[int(len(ink) * 0.7) : int(len(ink) * 0.9)].sum())

    assert write_visit_sheets([make_sheet(14)], tmp_path / "s.pdf", printed_on=PRINTED) <= 2
    assert ink_below(4) > 60


def test_that_a_long_name_and_a_long_area_stand_in_full(tmp_path: Path) -> None:
    sheet = make_sheet(
        6,
        machine="Schaufelradbagger-Nord-4711-B",
        area="northern overburden cut, second bench, beyond the haul road bridge",
        crew="Overburden crew, night shift of the second week",
    )
    assert write_visit_sheets([sheet], tmp_path / "s.pdf", printed_on=PRINTED) == 1
    [text] = [plain(one) for one in page_texts(tmp_path / "s.pdf")]
    for part in (sheet.machine, sheet.area, f"crew {sheet.crew}"):
        assert part in text
    # Nothing is drawn over anything else: what stands in the head is found at other heights.
    page = page_image(tmp_path / "s.pdf", dpi=72.0).min(axis=2) < 200
    assert not page[:, int(page.shape[1] * 2000 / 2100) :].any()


def test_that_letters_of_any_script_are_drawn(tmp_path: Path) -> None:
    sheet = make_sheet(2, machine="экс-7", site="石灰石採石場", area="محجر", crew="Łukasz")
    write_visit_sheets([sheet], tmp_path / "s.pdf", printed_on=PRINTED)
    [text] = [plain(one) for one in page_texts(tmp_path / "s.pdf")]
    assert "экс-7" in text
    assert "石灰石採石場" in text
    assert "Łukasz" in text


@pytest.mark.parametrize("count", [12, 14, 26])
def test_that_a_list_too_long_for_one_page_is_set_large_with_the_steps_at_its_end(
    tmp_path: Path, count: int
) -> None:
    sheet = make_sheet(count)
    pages = write_visit_sheets([sheet], tmp_path / "s.pdf", printed_on=PRINTED)
    texts = [plain(one) for one in page_texts(tmp_path / "s.pdf")]
    assert pages == len(texts) == (2 if count < 20 else 3)
    assert all("over the page" in one for one in texts[:-1])
    assert plain(sheet.ways[0].steps[0]) in texts[-1]
    assert plain(sheet.cautions[1].text) in texts[-1]
    assert plain(sheet.before[0]) in texts[0]


def test_that_a_long_line_of_the_kit_pushes_down_what_follows(tmp_path: Path) -> None:
    kit = kit_list([make_sheet(4, rows=tuple(make_row(n, tube_mm=None) for n in range(1, 5)))])
    write_kit_list(kit, tmp_path / "k.pdf", round_name="North", printed_on=PRINTED)
    [text] = [plain(one) for one in page_texts(tmp_path / "k.pdf")]
    told = next(line.how_much for line in kit.lines if "unknown length" in line.how_much)
    assert plain(told) in text
