"""How the window looks: fonts, sizes, rhythm and the colours of the chosen theme.

Colours come from ``charts/palette.py`` alone. Dark is a palette of our own, as asking Qt for its
dark scheme does nothing on platforms without one.
"""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final, Literal

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QFont, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication, QWidget

from fluiddesk import assets
from fluiddesk.charts.fonts import make_font
from fluiddesk.charts.palette import Palette, palette
from fluiddesk.desktop.theme.sheet import style_sheet

BODY_PX: Final = 13
SENTENCE_PX: Final = 18
SMALL_PX: Final = 11

STEP: Final = 4
"""The rhythm: every gap is 4, 8, 12, 16 or 24 pixels."""
GAP: Final = 8
MARGIN: Final = 16
CONTROL_HEIGHT: Final = 26
"""Least height of what is clicked (WCAG 2.2, success criterion 2.5.8, asks for 24)."""
ROW_HEIGHT: Final = 28


Look = Literal["sentence", "strong", "body", "faint", "small", "caption"]
"""How a label is written; faint, small and caption in faint ink."""


class ThemeChoice(StrEnum):
    """What the person chose; ``SYSTEM`` follows the desktop's own setting."""

    SYSTEM = "system"
    LIGHT = "light"
    DARK = "dark"


@dataclass(frozen=True, kw_only=True)
class Theme:
    """The colours and fonts that screens draw with."""

    colors: Palette
    body: QFont = field(default_factory=lambda: make_font(BODY_PX))
    strong: QFont = field(default_factory=lambda: make_font(BODY_PX, QFont.Weight.DemiBold))
    small: QFont = field(default_factory=lambda: make_font(SMALL_PX))
    small_strong: QFont = field(default_factory=lambda: make_font(SMALL_PX, QFont.Weight.DemiBold))
    sentence: QFont = field(default_factory=lambda: make_font(SENTENCE_PX))

    @property
    def name(self) -> str:
        """``light`` or ``dark``."""
        return self.colors.name


def give_look(widget: QWidget, look: Look) -> None:
    """Have the style sheet write a label in one of the page's looks, in every theme.

    A font set by hand does not last: the style sheet takes it back when the label is moved.
    """
    widget.setProperty("look", look)


def make_theme(choice: ThemeChoice | str) -> Theme:
    """The theme for a choice. A running application is needed, as fonts are loaded."""
    return Theme(colors=palette(_resolved(ThemeChoice(choice))))


def apply_theme(app: QApplication, theme: Theme) -> None:
    """Give the whole application this theme."""
    if app.style().name() != "fusion":
        app.setStyle("Fusion")
    app.setFont(theme.body)
    app.setPalette(_qt_palette(theme.colors))
    chevron = assets.resource("marks", "chevron_down.svg").as_posix()
    tick = assets.resource("marks", f"tick_{theme.name}.svg").as_posix()
    app.setStyleSheet(style_sheet(theme.colors, chevron=chevron, tick=tick))


def _resolved(choice: ThemeChoice) -> str:
    if choice is not ThemeChoice.SYSTEM:
        return choice.value
    hints = QGuiApplication.styleHints()
    return "dark" if hints.colorScheme() == Qt.ColorScheme.Dark else "light"


def _qt_palette(colors: Palette) -> QPalette:
    made = QPalette()
    role = QPalette.ColorRole
    for one, color in (
        (role.Window, colors.ground),
        (role.WindowText, colors.ink),
        (role.Base, colors.ground),
        (role.AlternateBase, colors.raised),
        (role.Text, colors.ink),
        (role.PlaceholderText, colors.faint_ink),
        (role.Button, colors.raised),
        (role.ButtonText, colors.ink),
        (role.BrightText, colors.ink),
        (role.ToolTipBase, colors.raised),
        (role.ToolTipText, colors.ink),
        (role.Link, colors.accent),
        (role.LinkVisited, colors.accent),
        (role.Accent, colors.accent),
        (role.Highlight, colors.accent_ground),
        (role.HighlightedText, colors.ink),
        (role.Light, colors.raised),
        (role.Midlight, colors.hairline),
        (role.Mid, colors.hairline),
        (role.Dark, colors.hairline),
        (role.Shadow, colors.hairline),
    ):
        made.setColor(one, QColor(color))
    faint = QColor(colors.faint_ink)
    for one in (role.WindowText, role.Text, role.ButtonText, role.HighlightedText):
        made.setColor(QPalette.ColorGroup.Disabled, one, faint)
    return made
