"""The files that the program reads, where it runs from a checkout and where it is installed."""

from pathlib import Path

import pytest
from PySide6.QtGui import QFont, QFontDatabase, QFontMetricsF
from pytestqt.qtbot import QtBot

from fluiddesk import assets

WEIGHTS = ["Regular", "Medium", "SemiBold"]


def test_that_a_checkout_reads_the_files_beside_the_package() -> None:
    assert assets.resource("licences", "LICENSE").is_file()
    assert assets.resource().parent == assets.sample_story().parent


def test_that_an_installed_copy_reads_the_files_inside_the_package(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for folder in ("resources", "sample_db"):
        (tmp_path / folder).mkdir()
    monkeypatch.setattr(assets, "_INSTALLED", tmp_path)
    assert assets.resource("icons") == tmp_path / "resources" / "icons"
    assert assets.sample_story("story.toml") == tmp_path / "sample_db" / "story.toml"


def test_that_the_texts_of_the_licences_we_pass_on_are_there() -> None:
    first_words = {
        "LICENSE": "Apache License",
        "LGPL-3.0.txt": "GNU LESSER GENERAL PUBLIC LICENSE",
        "GPL-3.0.txt": "GNU GENERAL PUBLIC LICENSE",
    }
    for name, words in first_words.items():
        text = assets.resource("licences", name).read_text(encoding="utf-8")
        assert words in text[:300]
    font = assets.resource("fonts", "LICENCE-Inter.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in font


@pytest.mark.parametrize("weight", WEIGHTS)
def test_that_the_bundled_font_has_figures_of_one_width(weight: str, qtbot: QtBot) -> None:
    number = QFontDatabase.addApplicationFont(str(assets.resource("fonts", f"Inter-{weight}.otf")))
    assert "Inter" in QFontDatabase.applicationFontFamilies(number)
    even, running = widths_of_figures(tabular=True), widths_of_figures(tabular=False)
    # A sixty-fourth of a pixel is the grain of the measure.
    assert max(even) - min(even) < 0.05
    assert max(running) - min(running) > 1
    assert QFontDatabase.removeApplicationFont(number)


def widths_of_figures(*, tabular: bool) -> list[float]:
    """Measure the ten figures of the bundled font at twenty points, in pixels."""
    font = QFont("Inter", 20)
    font.setFeature(QFont.Tag("tnum"), int(tabular))
    return [QFontMetricsF(font).horizontalAdvance(figure) for figure in "0123456789"]
