"""A form on the page itself: fields with their problems beside them, undo, save and discard."""

from collections.abc import Callable
from functools import partial
from itertools import pairwise
from typing import Final

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QUndoCommand, QUndoStack
from PySide6.QtWidgets import (
    QComboBox,
    QCompleter,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)
from typing_extensions import override

from fluiddesk.desktop.theme import GAP, STEP, Theme, give_look
from fluiddesk.desktop.viewstate.record_form import FieldKind, FormDraft, FormField, RecordForm
from fluiddesk.desktop.widgets.quiet_label import QuietLabel

Editor = QLineEdit | QComboBox | QPlainTextEdit

_LABEL_WIDTH: Final = 148
_EDITOR_WIDTH: Final = 232
_NUMBER_WIDTH: Final = 112
_PICK_WIDTH: Final = 288
_LONG_WIDTH: Final = 376
_LONG_HEIGHT: Final = 60
_OFFERED: Final = 12


class RecordEditor(QWidget):
    """Edits one record. Typing into one field without leaving it is undone in one step.

    Signals:
        save_pressed: the form is sound and is to be saved; holds the ``FormDraft``.
        discarded: what was written was thrown away.
        drafted: something was written, or taken back.
    """

    save_pressed = Signal(object)
    discarded = Signal()
    drafted = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.draft: FormDraft | None = None
        self.undo_stack = QUndoStack(self)
        self._editors: dict[str, Editor] = {}
        self._marks: dict[str, QLabel] = {}
        self._run = 0
        self._fields = QWidget()
        self.save_button = QPushButton()
        self.save_button.setDefault(True)
        self.discard_button = QPushButton(self.tr("Discard"))
        self._why = QuietLabel("small", theme)
        self._why.setContentsMargins(_LABEL_WIDTH, 0, 0, 0)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(GAP)
        self._column.addWidget(self._fields)
        buttons = QHBoxLayout()
        buttons.setContentsMargins(0, 0, 0, 0)
        buttons.setSpacing(GAP)
        buttons.addSpacing(_LABEL_WIDTH)
        buttons.addWidget(self.save_button)
        buttons.addWidget(self.discard_button)
        buttons.addStretch(1)
        self._column.addLayout(buttons)
        self._column.addWidget(self._why)
        self.save_button.clicked.connect(self.save)
        self.discard_button.clicked.connect(self.discard)

    @property
    def is_dirty(self) -> bool:
        """Whether something is written that is not saved."""
        return self.draft is not None and self.draft.is_changed

    def editor(self, key: str) -> Editor:
        """The control of a field."""
        return self._editors[key]

    def problem(self, key: str) -> str:
        """What stands beside a field."""
        return self._marks[key].text()

    def show_form(self, form: RecordForm) -> None:
        """Show a form with what is saved; anything written before is thrown away."""
        self.draft = FormDraft(form)
        self.undo_stack.clear()
        self._build(form)
        self.save_button.setText(form.save_label)
        self._tell()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self._why.apply_theme(theme)

    def write(self, key: str, text: str) -> None:
        """Write into a field as if by hand."""
        editor = self._editors[key]
        if isinstance(editor, QComboBox):
            editor.setCurrentIndex(editor.findData(text))
        elif isinstance(editor, QPlainTextEdit):
            # Setting what stands there already would take the cursor away from the typing hand.
            if editor.toPlainText() != text:
                editor.setPlainText(text)
        elif editor.text() != text:
            editor.setText(text)

    def save(self) -> None:
        """Ask for the form to be saved if it is sound."""
        if self.draft is not None and self.draft.can_save:
            self.save_pressed.emit(self.draft)

    def discard(self) -> None:
        """Throw away what was written."""
        if self.draft is not None:
            self.show_form(self.draft.form)
            self.discarded.emit()

    def forget(self) -> None:
        """Let go of what was written: it was saved, or is to be shown otherwise."""
        if self.draft is not None:
            self.draft = FormDraft(self.draft.form)
            self.undo_stack.clear()

    def focus_first(self) -> None:
        """Lead the keyboard to the first field that can be written and is not settled already."""
        for editor in self._editors.values():
            is_settled = isinstance(editor, QComboBox) and editor.count() == 1
            if editor.isEnabled() and not is_settled:
                editor.setFocus(Qt.FocusReason.OtherFocusReason)
                return

    def focus(self, key: str) -> None:
        """Lead the keyboard to a field."""
        self._editors[key].setFocus(Qt.FocusReason.OtherFocusReason)

    # --- building ---------------------------------------------------------------------------

    def _build(self, form: RecordForm) -> None:
        fresh = QWidget()
        grid = QGridLayout(fresh)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(GAP)
        grid.setVerticalSpacing(STEP)
        grid.setColumnMinimumWidth(0, _LABEL_WIDTH - GAP)
        grid.setColumnStretch(1, 1)
        self._editors, self._marks = {}, {}
        for row, one in enumerate(form.fields):
            self._add_field(grid, row, one)
        self._column.replaceWidget(self._fields, fresh)
        self._fields.hide()
        self._fields.deleteLater()
        self._fields = fresh
        ordered = [*self._editors.values(), self.save_button, self.discard_button]
        for before, after in pairwise(ordered):
            QWidget.setTabOrder(before, after)

    def _add_field(self, grid: QGridLayout, row: int, one: FormField) -> None:
        label = QLabel(one.label)
        give_look(label, "faint")
        label.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        editor = self._make_editor(one)
        editor.setAccessibleName(f"{one.label} ({one.unit})" if one.unit else one.label)
        editor.setEnabled(not one.is_fixed)
        label.setBuddy(editor)
        mark = QLabel()
        mark.setWordWrap(True)
        mark.setTextFormat(Qt.TextFormat.PlainText)
        give_look(mark, "small")
        editor.installEventFilter(self)
        self._editors[one.key] = editor
        self._marks[one.key] = mark
        grid.addWidget(label, row, 0)
        # A unit stands right beside its number, however short the number's box is; what is said
        # of a wide one stands below it.
        is_wide = one.kind in (FieldKind.LONG, FieldKind.PICK)
        beside = QVBoxLayout() if is_wide else QHBoxLayout()
        beside.setSpacing(0 if is_wide else GAP)
        beside.addWidget(editor)
        beside.addWidget(mark, 1)
        grid.addLayout(beside, row, 1)

    def _make_editor(self, one: FormField) -> Editor:
        heard = partial(self._heard, one.key)
        if one.kind is FieldKind.CHOICE:
            return _choice_box(one, heard)
        if one.kind is FieldKind.PICK:
            return self._pick_line(one)
        if one.kind is FieldKind.LONG:
            area = QPlainTextEdit(one.value)
            area.setFixedSize(_LONG_WIDTH, _LONG_HEIGHT)
            area.setTabChangesFocus(True)
            area.textChanged.connect(lambda: heard(area.toPlainText()))
            return area
        line = QLineEdit(one.value)
        is_short = one.kind in (FieldKind.NUMBER, FieldKind.WHOLE, FieldKind.DAY)
        line.setFixedWidth(_NUMBER_WIDTH if is_short else _EDITOR_WIDTH)
        if one.kind in (FieldKind.NUMBER, FieldKind.WHOLE):
            line.setAlignment(Qt.AlignmentFlag.AlignRight)
        if one.kind is FieldKind.DAY:
            line.setPlaceholderText(self.tr("yyyy-mm-dd"))
        line.textChanged.connect(heard)
        line.returnPressed.connect(self.save)
        return line

    def _pick_line(self, one: FormField) -> QLineEdit:
        """A line that offers the choices with what is typed anywhere in their words."""
        line = QLineEdit(one.value)
        line.setFixedWidth(_PICK_WIDTH)
        line.setPlaceholderText(self.tr("Type a part of it"))
        offered = QCompleter([words for _code, words in one.choices], line)
        offered.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        offered.setFilterMode(Qt.MatchFlag.MatchContains)
        offered.setMaxVisibleItems(_OFFERED)
        edge = self._theme.colors.hairline
        popup = offered.popup()
        if popup is not None:
            popup.setStyleSheet(f"QListView {{ border: 1px solid {edge}; padding: 2px; }}")
        line.setCompleter(offered)
        line.textChanged.connect(partial(self._heard, one.key))
        line.returnPressed.connect(self.save)
        return line

    # --- writing ----------------------------------------------------------------------------

    def _heard(self, key: str, text: str) -> None:
        draft = self.draft
        if draft is None or draft.texts[key] == text:
            return
        self.undo_stack.push(_Written(self, key, before=draft.texts[key], after=text))

    def put(self, key: str, text: str) -> None:
        """Bring draft and control to a text; what the undo steps do."""
        if self.draft is None:
            return
        self.draft.write(key, text)
        self.write(key, text)
        self._tell()
        self.drafted.emit()

    @property
    def run(self) -> int:
        """Counts up whenever a field is left, so that later typing is a step of its own."""
        return self._run

    def _tell(self) -> None:
        draft = self.draft
        if draft is None:
            return
        problems = draft.problems
        for one in draft.form.fields:
            was_written = draft.texts[one.key] != one.value or not draft.form.is_new
            # A part of the words is no mistake while it is being typed.
            is_picking = one.kind is FieldKind.PICK and self._editors[one.key].hasFocus()
            problem = problems.get(one.key, "") if was_written and not is_picking else ""
            unit = f"{one.unit}   {one.note}".strip()
            self._marks[one.key].setText(problem or unit)
            self._marks[one.key].setVisible(one.kind is not FieldKind.PICK or bool(problem or unit))
            give_look(self._marks[one.key], "body" if problem else "small")
            self._restyle(self._marks[one.key])
        is_shown = draft.is_changed or draft.form.is_new
        self.save_button.setVisible(is_shown)
        self.discard_button.setVisible(draft.is_changed)
        self.save_button.setEnabled(draft.can_save)
        self._why.setText(self._reason(draft))
        self._why.setVisible(bool(self._why.text()))

    def _reason(self, draft: FormDraft) -> str:
        missing = [
            one.label.lower()
            for one in draft.form.fields
            if one.is_needed and not draft.texts[one.key].strip()
        ]
        if missing and (draft.is_changed or draft.form.is_new):
            return self.tr("Still needed: {0}").format(", ".join(missing))
        return ""

    def _restyle(self, label: QLabel) -> None:
        style = label.style()
        style.unpolish(label)
        style.polish(label)

    # --- keys -------------------------------------------------------------------------------

    @override
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.FocusOut:
            self._run += 1
            self._tell()
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            return self._take_key(event)
        return super().eventFilter(watched, event)

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        if not self._take_key(event):
            super().keyPressEvent(event)

    def _take_key(self, event: QKeyEvent) -> bool:
        """Undo and redo over the whole form, save, and discard, in place of a field's own."""
        if event.matches(QKeySequence.StandardKey.Undo):
            self.undo_stack.undo()
        elif event.matches(QKeySequence.StandardKey.Redo):
            self.undo_stack.redo()
        elif event.matches(QKeySequence.StandardKey.Save):
            self.save()
        elif event.key() == Qt.Key.Key_Escape and self.is_dirty:
            self.discard()
        else:
            return False
        return True


class _Written(QUndoCommand):
    """A text written into one field."""

    def __init__(self, editor: RecordEditor, key: str, *, before: str, after: str) -> None:
        super().__init__()
        self._editor = editor
        self.key, self.before, self.after = key, before, after
        self.run = editor.run

    @override
    def id(self) -> int:
        return 1

    @override
    def mergeWith(self, other: QUndoCommand) -> bool:
        if not isinstance(other, _Written) or (other.key, other.run) != (self.key, self.run):
            return False
        self.after = other.after
        return True

    @override
    def undo(self) -> None:
        self._editor.put(self.key, self.before)

    @override
    def redo(self) -> None:
        self._editor.put(self.key, self.after)


def _choice_box(one: FormField, heard: Callable[[str], None]) -> QComboBox:
    box = QComboBox()
    box.setFixedWidth(_EDITOR_WIDTH)
    if not one.value and "" not in {code for code, _words in one.choices}:
        box.addItem("", "")
    for code, words in one.choices:
        box.addItem(words, code)
    box.setCurrentIndex(box.findData(one.value))
    box.currentIndexChanged.connect(lambda place: heard(str(box.itemData(place) or "")))
    return box
