"""Labels read back with an independent reader of barcodes (zxing-cpp), as printed at 300 dots."""

from pathlib import Path

import pytest
import zxingcpp

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import bottle_code, normal_bottle_code
from fluiddesk.domain.samples import SampleReason
from fluiddesk.printing.bottle_labels import write_labels
from fluiddesk.services.visit_papers.facts import Label
from fluiddesk.services.visit_papers.procedures import label_stock, label_stocks
from tests.printing.makers_papers import make_label, page_image, page_texts

pytestmark = pytest.mark.usefixtures("qapp")

CODES = [bottle_code(f"26P{number:05}") for number in range(1, 31)]


def read_back(path: Path, page: int) -> list[str]:
    return [one.text for one in zxingcpp.read_barcodes(page_image(path, page))]


@pytest.mark.parametrize("stock", sorted(label_stocks()))
def test_that_every_label_reads_back_as_its_bottle_code(tmp_path: Path, stock: str) -> None:
    labels = [make_label(code) for code in CODES]
    pages = write_labels(labels, label_stock(stock), tmp_path / "l.pdf")
    found = [code for page in range(pages) for code in read_back(tmp_path / "l.pdf", page)]
    assert sorted(found) == sorted(CODES)
    assert [normal_bottle_code(one) for one in found] == found


def test_that_people_read_the_code_machine_box_fluid_and_reason(tmp_path: Path) -> None:
    write_labels([make_label(CODES[0])], label_stock("a4_2x7"), tmp_path / "l.pdf")
    [text] = page_texts(tmp_path / "l.pdf")
    for word in (CODES[0], "TT-77", "Final drive, left", "Final-drive oil SAE 50", "routine",
                 "litres added", "fluid changed", "filter changed", "meter"):  # fmt: skip
        assert word in " ".join(text.split())


def test_that_a_resample_carries_a_black_bar_and_a_routine_sample_none(tmp_path: Path) -> None:
    stock = label_stock("roll_76x38")

    def dark_rows(label: Label) -> int:
        write_labels([label], stock, tmp_path / "l.pdf")
        page = page_image(tmp_path / "l.pdf").min(axis=2) < 128
        return int((page.mean(axis=1) > 0.8).sum())

    assert dark_rows(make_label(CODES[0])) == 0
    bar = make_label(CODES[0], is_special=True, reason=SampleReason.RESAMPLE)
    assert dark_rows(bar) > 10
    assert read_back(tmp_path / "l.pdf", 0) == [CODES[0]]


def test_that_a_sheet_that_was_begun_is_used_up(tmp_path: Path) -> None:
    stock = label_stock("a4_3x8")
    pages = write_labels(
        [make_label(one) for one in CODES[:3]], stock, tmp_path / "l.pdf", start_at=23
    )
    assert pages == 2
    assert sorted(read_back(tmp_path / "l.pdf", 0)) == CODES[:2]
    assert read_back(tmp_path / "l.pdf", 1) == [CODES[2]]


def test_that_a_blank_label_has_its_code_and_site_alone(tmp_path: Path) -> None:
    blank = Label(code=CODES[5], site="Test site")
    write_labels([blank], label_stock("a4_3x8"), tmp_path / "l.pdf")
    [text] = page_texts(tmp_path / "l.pdf")
    assert "Test site" in text
    assert read_back(tmp_path / "l.pdf", 0) == [CODES[5]]


@pytest.mark.parametrize(("count", "place", "why"), [(0, 1, "no label"), (1, 25, "1 to 24")])
def test_that_nothing_to_print_and_a_place_off_the_sheet_are_refused(
    tmp_path: Path, count: int, place: int, why: str
) -> None:
    labels = [make_label(one) for one in CODES[:count]]
    with pytest.raises(OperatorError, match=why):
        write_labels(labels, label_stock("a4_3x8"), tmp_path / "l.pdf", start_at=place)
    assert not (tmp_path / "l.pdf").exists()


@pytest.mark.parametrize("stock", sorted(label_stocks()))
def test_that_a_long_name_of_the_fluid_never_hides_port_or_reason(
    tmp_path: Path, stock: str
) -> None:
    fluid = "Coolant 50 % ethylene glycol, conventional with nitrite, premixed, green"
    label = make_label(
        CODES[0], fluid=fluid, is_special=True, reason=SampleReason.POST_CHANGE, port="line probe"
    )
    write_labels([label], label_stock(stock), tmp_path / "l.pdf")
    [text] = page_texts(tmp_path / "l.pdf")
    plain = " ".join(text.split())
    assert "Line probe, post change" in plain
    assert "Coolant 50 %" in plain


@pytest.mark.parametrize("stock", sorted(label_stocks()))
def test_that_a_long_machine_code_stands_on_the_label_in_full(tmp_path: Path, stock: str) -> None:
    label = make_label(CODES[0], machine="Schaufelradbagger-Nord-4711-B")
    write_labels([label], label_stock(stock), tmp_path / "l.pdf")
    [text] = page_texts(tmp_path / "l.pdf")
    assert "Schaufelradbagger-Nord-4711-B" in "".join(text.split())
    assert "Final drive, left" in " ".join(text.split())
