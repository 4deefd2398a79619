"""Beside the list of samples outside the plan: one of them with its values, or a form."""

from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import QAbstractItemModel, Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme, give_look
from fluiddesk.desktop.viewstate.record_form import RecordForm
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.record_editor import RecordEditor

_CAPTION_WIDTH: Final = 112
_SELECTABLE: Final = (
    Qt.TextInteractionFlag.TextSelectableByMouse | Qt.TextInteractionFlag.TextSelectableByKeyboard
)


class OutsidePanel(QWidget):
    """Shows one sample or label, or the form of another one.

    Signals:
        action_pressed: the key of a button above the facts.
        closed: the form was put away.
    """

    action_pressed = Signal(str)
    closed = Signal()

    def __init__(
        self,
        values: QAbstractItemModel,
        papers: QWidget,
        *,
        theme: Theme,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._theme = theme
        self._papers = papers
        self._told: Sequence[tuple[str, str]] = ()
        self.title = QuietLabel("strong", theme)
        self.close_button = QPushButton(self.tr("Put the form away"))
        self.editor = RecordEditor(theme)
        self._actions: list[QPushButton] = []
        self._action_row = QHBoxLayout()
        self._facts = QWidget()
        self.caption = QuietLabel("caption", theme)
        self.values = FactTable(values, name=self.tr("What was measured"))
        self.values.set_widths({0: 128, 1: 96, 2: 96, 3: 112})
        self._scroll = QScrollArea()
        self._lay_out()
        self.close_button.clicked.connect(self.closed)
        self.show_nothing()

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setSpacing(GAP)
        head.addWidget(self.title, 1)
        head.addWidget(self.close_button)
        self._action_row.setSpacing(STEP)
        self._action_row.addStretch(1)
        inside = QWidget()
        self._inner = QVBoxLayout(inside)
        self._inner.setContentsMargins(0, STEP, GAP, GAP)
        self._inner.setSpacing(GAP)
        self._inner.addWidget(self._facts)
        self._inner.addWidget(self.editor)
        self._inner.addStretch(1)
        self._scroll.setWidget(inside)
        self._scroll.setWidgetResizable(True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        page = QVBoxLayout(self)
        page.setContentsMargins(MARGIN, 0, 0, 0)
        page.setSpacing(GAP)
        page.addLayout(head)
        page.addLayout(self._action_row)
        page.addWidget(self._scroll, 1)
        page.addWidget(self.caption)
        page.addWidget(self.values, 2)
        page.addWidget(self._papers, 1)

    @property
    def is_entering(self) -> bool:
        """Whether a form stands here."""
        return not self.editor.isHidden()

    @property
    def told(self) -> Sequence[tuple[str, str]]:
        """The facts shown, as captions and words."""
        return self._told

    def show_nothing(self) -> None:
        """Show that nothing is chosen."""
        self.show_facts("", ())

    def show_facts(
        self,
        title: str,
        told: Sequence[tuple[str, str]],
        actions: Sequence[tuple[str, str]] = (),
    ) -> None:
        """Show a sample or label, with what can be done with it."""
        self._turn(title, is_form=False)
        self._told = told
        fresh = QWidget()
        grid = QGridLayout(fresh)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(GAP)
        grid.setVerticalSpacing(STEP)
        grid.setColumnMinimumWidth(0, _CAPTION_WIDTH)
        grid.setColumnStretch(1, 1)
        top = Qt.AlignmentFlag.AlignTop
        for row, (caption, words) in enumerate(told):
            head = QLabel(caption)
            give_look(head, "faint")
            grid.addWidget(head, row, 0, top)
            label = QuietLabel("body", self._theme, words)
            label.setWordWrap(True)
            label.setTextInteractionFlags(_SELECTABLE)
            grid.addWidget(label, row, 1, top)
        self._inner.replaceWidget(self._facts, fresh)
        self._facts.hide()
        self._facts.deleteLater()
        self._facts = fresh
        self._show_actions(actions)

    def show_values(self, caption: str, *, has_values: bool) -> None:
        """Show the values below the facts, or say why there are none; nothing without a caption."""
        self.caption.setText(caption)
        self.caption.setVisible(bool(caption) and not self.is_entering)
        self.values.setVisible(has_values and not self.is_entering)

    def show_form(self, form: RecordForm) -> None:
        """Show a form with the keyboard on its first empty field."""
        self._turn(form.title, is_form=True)
        self._show_actions(())
        self.editor.show_form(form)
        self._scroll.verticalScrollBar().setValue(0)
        empty = [one.key for one in form.fields if not one.value and not one.is_fixed]
        self.editor.focus(empty[0] if empty else form.fields[-1].key)

    def _turn(self, title: str, *, is_form: bool) -> None:
        self.title.setText(title)
        self.close_button.setVisible(is_form)
        self.editor.setVisible(is_form)
        self._papers.hide()
        self._facts.setVisible(not is_form)
        self.show_values("", has_values=False)

    def _show_actions(self, actions: Sequence[tuple[str, str]]) -> None:
        for button in self._actions:
            self._action_row.removeWidget(button)
            button.hide()
            button.deleteLater()
        self._actions = []
        for place, (key, words) in enumerate(actions):
            button = QPushButton(words)
            button.clicked.connect(lambda _=False, key=key: self.action_pressed.emit(key))
            self._action_row.insertWidget(place, button)
            self._actions.append(button)

    @property
    def actions_shown(self) -> tuple[QPushButton, ...]:
        """The buttons above the facts, from left to right."""
        return tuple(self._actions)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        for part in (self.title, self.editor, self.caption):
            part.apply_theme(theme)
        for label in self._facts.findChildren(QuietLabel):
            label.apply_theme(theme)
