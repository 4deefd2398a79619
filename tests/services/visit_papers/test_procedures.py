import tomllib
from pathlib import Path

import pytest

from fluiddesk.assets import resource
from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.services.visit_papers.procedures import label_stock, label_stocks, load_procedure

BUNDLED = resource("procedures", "visit.toml").read_text(encoding="utf-8")


def own(folder: Path, text: str) -> Path:
    (folder / "procedures").mkdir()
    (folder / "procedures" / "visit.toml").write_text(text, encoding="utf-8")
    return folder


def test_that_every_step_and_caution_says_where_it_comes_from() -> None:
    told = tomllib.loads(BUNDLED)
    for part in (*told["before"], *told["after"], *told["caution"], *told["way"].values()):
        assert part["source"].strip()
    assert {one.topic for one in load_procedure().cautions} >= {
        "Order of authority", "Injection", "Running machine", "Hot fluid", "Coolant",
        "Used fluids",
    }  # fmt: skip


def test_that_the_first_caution_defers_to_manual_site_rules_and_licensed_practice() -> None:
    words = load_procedure().cautions[0].text
    for part in ("manual", "site's rules", "licensed practice", "named person decides"):
        assert part in words


def test_that_a_site_may_change_the_steps(tmp_path: Path) -> None:
    changed = BUNDLED.replace("Find the port by its kind", "Ask the shift leader first. Find it")
    procedure = load_procedure(own(tmp_path, changed))
    assert procedure.ways["valve_probe"].steps[0].startswith("Ask the shift leader first.")


def test_that_no_site_can_add_the_drain_stream_as_a_way(tmp_path: Path) -> None:
    added = BUNDLED + '\n[way.drain_stream]\ntitle = "Drain"\nsource = "x"\nsteps = ["catch it"]\n'
    assert "drain_stream" not in load_procedure(own(tmp_path, added)).ways


@pytest.mark.parametrize(
    ("text", "why"), [("[[before]", "cannot be read"), ("[kit]\nitems = []", "lacks 'before'")]
)
def test_that_a_bad_file_is_named_with_what_is_wrong(tmp_path: Path, text: str, why: str) -> None:
    with pytest.raises(OperatorError, match=why) as raised:
        load_procedure(own(tmp_path, text))
    assert "visit.toml" in str(raised.value)


def test_that_every_bundled_stock_fits_its_page() -> None:
    assert {"a4_3x8", "a4_2x7", "roll_76x38"} <= label_stocks().keys()


def test_that_labels_that_leave_the_page_are_refused_with_the_figures(tmp_path: Path) -> None:
    (tmp_path / "label_stock").mkdir()
    wide = resource("label_stock", "a4_3x8.toml").read_text().replace("columns = 3", "columns = 4")
    (tmp_path / "label_stock" / "wide.toml").write_text(wide)
    with pytest.raises(OperatorError, match=r"4 labels end at 280 mm, but the page is 210 mm wide"):
        label_stocks(tmp_path)


def test_that_an_unknown_stock_is_answered_with_those_there_are() -> None:
    with pytest.raises(NotFoundError, match=r'"a5".*a4_3x8'):
        label_stock("a5")
