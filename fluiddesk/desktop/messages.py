"""The one opener of message boxes. None of them blocks: each is opened and answers by a call."""

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QCoreApplication, Qt, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QMessageBox, QWidget

from fluiddesk.domain.errors import OperatorError


def show_error(parent: QWidget | None, error: Exception, *, log_folder: Path | None) -> QMessageBox:
    """Tell of an error: what the person can mend, or that it is the program's own fault."""
    if isinstance(error, OperatorError):
        return show_problem(parent, str(error))
    return show_our_fault(parent, error, log_folder=log_folder)


def show_problem(parent: QWidget | None, text: str) -> QMessageBox:
    """Tell of something the person at the desk can put right; the text holds the remedy."""
    return _opened(_box(parent, QMessageBox.Icon.Warning, text))


def show_note(parent: QWidget | None, text: str, *, details: str = "") -> QMessageBox:
    """Tell what was done."""
    box = _box(parent, QMessageBox.Icon.Information, text)
    box.setInformativeText(details)
    return _opened(box)


def show_our_fault(
    parent: QWidget | None, error: Exception, *, log_folder: Path | None
) -> QMessageBox:
    """Tell that the program failed; nothing is sent anywhere, the log can be looked at."""
    text = _tr("This is a fault of the program, not yours. Nothing was saved by the last step.")
    box = _box(parent, QMessageBox.Icon.Critical, text)
    box.setInformativeText(f"{type(error).__name__}: {error}")
    if log_folder is not None:
        opener = box.addButton(_tr("Open the folder of the log"), QMessageBox.ButtonRole.HelpRole)
        folder = QUrl.fromLocalFile(str(log_folder))
        opener.clicked.connect(lambda: QDesktopServices.openUrl(folder))
    return _opened(box)


def ask(
    parent: QWidget | None, text: str, *, action: str, then: Callable[[], None], details: str = ""
) -> QMessageBox:
    """Ask before something is done; ``action`` is the button's text and says what it does."""
    box = _box(parent, QMessageBox.Icon.Question, text)
    box.setInformativeText(details)
    agree = box.addButton(action, QMessageBox.ButtonRole.AcceptRole)
    leave = box.addButton(QMessageBox.StandardButton.Cancel)
    box.removeButton(box.button(QMessageBox.StandardButton.Ok))
    box.setDefaultButton(leave)
    agree.clicked.connect(then)
    return _opened(box)


def _box(parent: QWidget | None, icon: QMessageBox.Icon, text: str) -> QMessageBox:
    box = QMessageBox(parent)
    box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    box.setWindowTitle("fluiddesk")
    box.setIcon(icon)
    box.setTextFormat(Qt.TextFormat.PlainText)
    box.setText(text)
    box.setStandardButtons(QMessageBox.StandardButton.Ok)
    return box


def _opened(box: QMessageBox) -> QMessageBox:
    box.open()
    return box


def _tr(text: str) -> str:
    return QCoreApplication.translate("messages", text)
