"""The style sheet: flat controls, one hairline, one accent."""

from string import Template
from typing import Final

from fluiddesk.charts.palette import Palette

_SHEET: Final = Template("""
QPushButton, QLineEdit, QComboBox, QDateEdit, QSpinBox, QDoubleSpinBox {
    min-height: 24px; border: 1px solid $hairline; border-radius: 3px;
    background: $ground; color: $ink; padding: 0 8px;
    selection-background-color: $accent_ground; selection-color: $ink;
}
QPushButton { color: $accent; background: $raised; padding: 0 12px; }
QPushButton:hover { border-color: $accent; }
QPushButton:pressed, QPushButton:checked { background: $accent_ground; border-color: $accent; }
QPushButton:default { border-color: $accent; }
QPushButton:disabled, QLineEdit:disabled, QComboBox:disabled { color: $faint_ink; }
QPushButton:focus, QLineEdit:focus, QComboBox:focus, QDateEdit:focus, QSpinBox:focus,
QDoubleSpinBox:focus { border: 2px solid $accent; padding: 0 7px; }
QPushButton:focus { padding: 0 11px; }
QComboBox::drop-down { border: none; width: 20px; }
QComboBox::down-arrow { image: url("$chevron"); width: 10px; height: 10px; }
QComboBox QAbstractItemView { background: $ground; border: 1px solid $hairline; }
QCheckBox, QRadioButton { min-height: 26px; spacing: 6px; }
QCheckBox::indicator {
    width: 13px; height: 13px; border: 1px solid $faint_ink; border-radius: 2px;
    background: $ground;
}
QCheckBox::indicator:checked { background: $accent; border-color: $accent; image: url("$tick"); }
QCheckBox:focus { color: $accent; }
QAbstractScrollArea::corner { background: transparent; border: none; }
QSizeGrip { width: 0; height: 0; }
QLabel[look="sentence"] { font-size: 18px; }
QLabel[look="strong"], QLabel[look="caption"] { font-weight: 600; }
QLabel[look="small"], QLabel[look="caption"] { font-size: 11px; color: $faint_ink; }
QLabel[look="faint"] { color: $faint_ink; }
QHeaderView { font-size: 11px; }
QHeaderView { background: $ground; border: none; }
QHeaderView::section {
    background: $ground; color: $faint_ink; border: none;
    border-bottom: 1px solid $hairline; padding: 4px 8px;
}
QTableView, QTreeView, QListView, QTextEdit { border: none; background: $ground; }
QPlainTextEdit {
    border: 1px solid $hairline; border-radius: 3px; background: $ground; padding: 2px 4px;
}
QPlainTextEdit:focus { border: 2px solid $accent; padding: 1px 3px; }
QTableView { gridline-color: $hairline; }
QTableCornerButton::section { background: $ground; border: none; }
QMenuBar { background: $raised; }
QMenuBar::item { padding: 5px 10px; background: transparent; }
QMenuBar::item:selected, QMenu::item:selected { background: $accent_ground; color: $ink; }
QMenu { background: $ground; border: 1px solid $hairline; padding: 4px 0; }
QMenu::item { padding: 5px 24px 5px 24px; }
QMenu::separator { height: 1px; background: $hairline; margin: 4px 0; }
QToolTip { background: $raised; color: $ink; border: 1px solid $hairline; padding: 6px 8px; }
QStatusBar { background: $raised; border-top: 1px solid $hairline; color: $faint_ink; }
QStatusBar QLabel { font-size: 11px; color: $faint_ink; }
QStatusBar::item { border: none; }
QSplitter::handle { background: $hairline; }
QProgressBar {
    border: none; background: $hairline; border-radius: 2px; max-height: 4px; min-height: 4px;
}
QProgressBar::chunk { background: $accent; border-radius: 2px; }
QScrollBar:vertical { background: transparent; width: 12px; margin: 0; }
QScrollBar:horizontal { background: transparent; height: 12px; margin: 0; }
QScrollBar::handle { background: $hairline; border-radius: 3px; margin: 3px; }
QScrollBar::handle:vertical { min-height: 24px; }
QScrollBar::handle:horizontal { min-width: 24px; }
QScrollBar::handle:hover { background: $faint_ink; }
QScrollBar::add-line, QScrollBar::sub-line { width: 0; height: 0; }
QScrollBar::add-page, QScrollBar::sub-page { background: transparent; }
""")


def style_sheet(colors: Palette, *, chevron: str, tick: str) -> str:
    """The sheet in the colours of a palette, with the files of the fold-out and the check mark."""
    return _SHEET.substitute(
        ground=colors.ground,
        raised=colors.raised,
        ink=colors.ink,
        faint_ink=colors.faint_ink,
        hairline=colors.hairline,
        accent=colors.accent,
        accent_ground=colors.accent_ground,
        chevron=chevron,
        tick=tick,
    )
