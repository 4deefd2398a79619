"""What stands once on a visit sheet: day, time, who, and the meter."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLabel, QLineEdit, QWidget

from fluiddesk.desktop.theme import GAP, give_look
from fluiddesk.desktop.viewstate.taking_draft import SheetHead


class SheetHeadFields(QWidget):
    """The fields of a ``SheetHead``; writes into it what is typed.

    Signals:
        typed: something was typed.
    """

    typed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._head: SheetHead | None = None
        self.fields = {
            "taken_on": self._field(self.tr("Day"), 100),
            "taken_at": self._field(self.tr("Time"), 64, "14:30"),
            "taken_by": self._field(self.tr("Taken by"), 148),
            "meter": self._field(self.tr("Meter"), 96),
        }
        self.unreadable = QCheckBox(self.tr("Meter not readable"))
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(GAP)
        for key, edit in self.fields.items():
            label = QLabel(edit.accessibleName())
            give_look(label, "faint")
            label.setBuddy(edit)
            row.addWidget(label)
            row.addWidget(edit)
            edit.textEdited.connect(lambda text, key=key: self._type(key, text))
        row.addWidget(self.unreadable)
        row.addStretch(1)
        self.unreadable.toggled.connect(self._set_unreadable)

    def _field(self, name: str, width: int, hint: str = "") -> QLineEdit:
        edit = QLineEdit()
        edit.setAccessibleName(name)
        edit.setFixedWidth(width)
        edit.setPlaceholderText(hint)
        return edit

    def show_head(self, head: SheetHead) -> None:
        """Show another sheet's head."""
        self._head = None
        for name, edit in self.fields.items():
            edit.setText(str(getattr(head, name)))
        self.unreadable.setChecked(head.meter_unreadable)
        self._head = head

    def _type(self, key: str, text: str) -> None:
        if self._head is not None:
            setattr(self._head, key, text)
            self.typed.emit()

    def _set_unreadable(self, is_unreadable: bool) -> None:  # noqa: FBT001 - a Qt slot
        self.fields["meter"].setEnabled(not is_unreadable)
        if self._head is not None:
            self._head.meter_unreadable = is_unreadable
            self.typed.emit()
