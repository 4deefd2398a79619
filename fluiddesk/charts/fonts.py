"""The bundled font, loaded once, so that pages, pictures and papers look the same everywhere."""

from collections.abc import Iterator
from functools import cache

from PySide6.QtGui import QFont, QFontDatabase, QGuiApplication

from fluiddesk import assets


@cache
def font_family() -> str:
    """Load the bundled fonts once and give their family's name."""
    families = [name for number in _loaded_fonts() for name in _families(number)]
    return families[0] if families else QGuiApplication.font().family()


def make_font(
    pixels: int, weight: QFont.Weight = QFont.Weight.Normal, *, is_tabular: bool = True
) -> QFont:
    """The bundled font in a size.

    Args:
        pixels: its size.
        weight: how bold it is.
        is_tabular: digits of one width, so that columns of numbers line up. Not on paper: a PDF
            does not say which letters those glyphs are, and its text could not be found or copied.
    """
    font = QFont(font_family())
    font.setPixelSize(pixels)
    font.setWeight(weight)
    font.setFeature(QFont.Tag("tnum"), int(is_tabular))
    if not is_tabular:
        font.setFeature(QFont.Tag("calt"), 0)
    return font


def _loaded_fonts() -> Iterator[int]:
    for path in sorted(assets.resource("fonts").glob("Inter-*.otf")):
        yield QFontDatabase.addApplicationFontFromData(path.read_bytes())


def _families(number: int) -> list[str]:
    return QFontDatabase.applicationFontFamilies(number) if number >= 0 else []
