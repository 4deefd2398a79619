"""What the desk saw last."""

from pathlib import Path

import pytest

from fluiddesk.desktop.viewstate.last_look import read_look, write_look
from tests.desktop.makers_fleet import fleet


def test_that_a_look_is_read_as_it_was_kept(tmp_path: Path) -> None:
    facts = fleet(5)
    target = tmp_path / "looks" / "one.json"
    write_look(target, facts)
    seen = read_look(target)
    assert seen == {
        row.compartment_id: int(severity)
        for row, severity in zip(facts.rows, facts.severity, strict=True)
    }
    assert [path.name for path in target.parent.iterdir()] == ["one.json"]


@pytest.mark.parametrize("text", ["", "{", "[]", '{"boxes": {"zz": 1}}', '{"boxes": 3}'])
def test_that_a_look_that_cannot_be_read_is_no_look(tmp_path: Path, text: str) -> None:
    target = tmp_path / "one.json"
    target.write_text(text)
    assert read_look(target) is None
    assert read_look(tmp_path / "none.json") is None
    assert read_look(None) is None
