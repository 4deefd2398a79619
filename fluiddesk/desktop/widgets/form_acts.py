"""What acts that ask by a form share: the form that is open, and how it closes."""

from collections.abc import Callable

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QWidget

from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.record_form import RecordForm, Values
from fluiddesk.desktop.widgets.form_dialog import FormDialog


class FormActs(QObject):
    """Opens one form at a time over a window. ``dialog``: the one that is open."""

    def __init__(self, window: QWidget) -> None:
        super().__init__(window)
        self._window = window
        self._theme: Theme | None = None
        self.dialog: FormDialog | None = None

    def apply_theme(self, theme: Theme) -> None:
        """Open forms in another theme from now on."""
        self._theme = theme

    def _ask(self, form: RecordForm, then: Callable[[Values], None]) -> None:
        if self._theme is None:
            return
        self.dialog = FormDialog(form, theme=self._theme, parent=self._window)
        self.dialog.agreed.connect(then)
        self.dialog.rejected.connect(self._forget_dialog)
        self.dialog.open()

    def _close(self) -> None:
        dialog, self.dialog = self.dialog, None
        if dialog is not None:
            dialog.accept()

    def _forget_dialog(self) -> None:
        self.dialog = None
