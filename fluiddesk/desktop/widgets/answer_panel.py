"""An answer with its values, and beneath them what to mind, method, source and steps."""

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QScrollArea, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.reckoner import Shown, ValueLine
from fluiddesk.desktop.widgets.quiet_label import Look, QuietLabel

_CAPTION_WIDTH = 52
_SELECTABLE = (
    Qt.TextInteractionFlag.TextSelectableByMouse | Qt.TextInteractionFlag.TextSelectableByKeyboard
)


class AnswerPanel(QScrollArea):
    """Shows what a reckoning came to."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._shown: Shown | None = None
        self.setWidgetResizable(True)
        self.setFrameShape(QScrollArea.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName(self.tr("Answer"))

    @property
    def text(self) -> str:
        """Everything it says, a line a text."""
        inside = self.widget()
        if inside is None:
            return ""
        return "\n".join(label.text() for label in inside.findChildren(QuietLabel) if label.text())

    def show_answer(self, shown: Shown) -> None:
        """Say what a reckoning came to."""
        if shown == self._shown:
            return
        self._shown = shown
        self._build(shown)

    def _build(self, shown: Shown) -> None:
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, GAP, 0)
        column.setSpacing(GAP)
        if shown.headline:
            column.addWidget(self._label("sentence", shown.headline))
        column.addWidget(self._label("body", shown.sentence))
        if shown.lines:
            column.addSpacing(STEP)
            column.addLayout(self._values(shown.lines))
        if shown.cautions:
            column.addSpacing(STEP)
            column.addLayout(self._notes([("Mind", text) for text in shown.cautions], look="body"))
        if shown.notes:
            column.addSpacing(GAP)
            column.addLayout(self._notes(shown.notes))
        column.addStretch(1)
        self.setWidget(inside)
        self.setAccessibleDescription(f"{shown.headline}. {shown.sentence}")

    def _values(self, lines: tuple[ValueLine, ...]) -> QGridLayout:
        grid = QGridLayout()
        grid.setHorizontalSpacing(GAP)
        grid.setVerticalSpacing(STEP)
        grid.setColumnStretch(0, 1)
        top = Qt.AlignmentFlag.AlignTop
        for row, line in enumerate(lines):
            grid.addWidget(self._label("body", line.label), row, 0, top)
            value = self._label("strong", line.text, wraps=False)
            if line.is_number:
                grid.addWidget(value, row, 1, top | Qt.AlignmentFlag.AlignRight)
                unit = self._label("body", line.unit, wraps=False)
                grid.addWidget(unit, row, 2, top | Qt.AlignmentFlag.AlignLeft)
            else:
                value.setText(f"{line.text} {line.unit}".strip())
                grid.addWidget(value, row, 1, 1, 2, top | Qt.AlignmentFlag.AlignRight)
        return grid

    def _notes(self, notes: Sequence[tuple[str, str]], *, look: Look = "small") -> QGridLayout:
        grid = QGridLayout()
        grid.setHorizontalSpacing(MARGIN)
        grid.setVerticalSpacing(GAP)
        grid.setColumnMinimumWidth(0, _CAPTION_WIDTH)
        grid.setColumnStretch(1, 1)
        line = Qt.AlignmentFlag.AlignTop
        for row, (caption, text) in enumerate(notes):
            is_again = row > 0 and notes[row - 1][0] == caption
            grid.addWidget(self._label("caption", "" if is_again else caption), row, 0, line)
            grid.addWidget(self._label(look, text), row, 1)
        return grid

    def _label(self, look: Look, text: str, *, wraps: bool = True) -> QuietLabel:
        label = QuietLabel(look, self._theme, text)
        label.setWordWrap(wraps and look != "caption")
        label.setTextInteractionFlags(_SELECTABLE)
        label.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        return label

    def apply_theme(self, theme: Theme) -> None:
        """Write in another theme."""
        self._theme = theme
        if self._shown is not None:
            self._build(self._shown)
