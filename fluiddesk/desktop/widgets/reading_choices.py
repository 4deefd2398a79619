"""How a file is read: each rule's finding shown, and changeable at once."""

from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QIntValidator
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QWidget

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.file_mapping import DAY_FORMS, day_words
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.services.lab_intake.mapping import ReadingChoices, TableLook

LAST_ROW: Final = 400
"""Headings are looked for so far down."""
_ENCODINGS = ("utf-8", "utf-16", "cp1252", "cp1250", "cp1251", "latin-1")
_DELIMITERS = {";": "semicolon", ",": "comma", "\t": "tab", "|": "bar"}
_MARKS = {".": "point", ",": "comma"}
_FORM_WIDTH = 112
_SIGN_WIDTH = 104
_FORMS = {"sample": False, "value": True}


class ReadingBar(QWidget):
    """Form, encoding, sign between columns, decimal mark, headings and sheet in one line.

    Signals:
        changed: a rule was overruled, or given its way again.
        days_chosen: another way to read days was chosen.
    """

    changed = Signal()
    days_chosen = Signal()

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._labels: list[QuietLabel] = []
        self.form = QComboBox()
        self.encoding = QComboBox()
        self.delimiter = QComboBox()
        self.mark = QComboBox()
        self.header = QLineEdit()
        self.header.setValidator(QIntValidator(1, LAST_ROW, self))
        self.header.setFixedWidth(48)
        self.header.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.days = QComboBox()
        self.sheet = QComboBox()
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(STEP)
        self._groups: dict[QWidget, QuietLabel] = {}
        for part, words in (
            (self.form, self.tr("A row is")),
            (self.sheet, self.tr("Sheet")),
            (self.header, self.tr("Headings in row")),
            (self.encoding, self.tr("Encoding")),
            (self.delimiter, self.tr("Between columns")),
            (self.mark, self.tr("Decimal mark")),
            (self.days, self.tr("Days")),
        ):
            self._add(part, words, theme)
        self._row.addStretch(1)
        for combo in (self.form, self.encoding, self.delimiter, self.mark, self.sheet):
            # What they offer is known only when a file is looked at, after the first showing.
            combo.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
        self.form.setMinimumWidth(_FORM_WIDTH)
        self.delimiter.setMinimumWidth(_SIGN_WIDTH)
        self.days.setMinimumWidth(_FORM_WIDTH)
        for combo in (self.form, self.encoding, self.delimiter, self.mark, self.sheet):
            combo.activated.connect(lambda _: self.changed.emit())
        self.days.activated.connect(lambda _: self.days_chosen.emit())
        self.header.editingFinished.connect(self._header_edited)
        self._shown_header = 0
        self._own_header: int | None = None

    def _add(self, part: QWidget, words: str, theme: Theme) -> None:
        label = QuietLabel("small", theme, words)
        label.setWordWrap(False)
        label.setBuddy(part)
        part.setAccessibleName(words)
        part.setToolTip(self.tr("Found by rule; choose another to overrule it"))
        if self._groups:
            self._row.addSpacing(GAP)
        self._groups[part] = label
        self._row.addWidget(label)
        self._row.addWidget(part)

    def choices(self) -> ReadingChoices:
        """What a person overruled; ``None`` where the rules hold."""
        return ReadingChoices(
            code_page=self.encoding.currentData(),
            delimiter=self.delimiter.currentData(),
            decimal_mark=self.mark.currentData(),
            sheet=self.sheet.currentData(),
            header_row=self._own_header,
            is_long_form=_FORMS.get(self.form.currentData()),
        )

    @property
    def date_forms(self) -> tuple[str, ...]:
        """How days are read, where a person chose; empty where the rule holds."""
        chosen = self.days.currentData()
        return (chosen,) if chosen else ()

    def show_days(self, found: Sequence[str]) -> None:
        """Show how days are read: the way found first, then every other."""
        words = {form: day_words(form) for form in (*found, *DAY_FORMS)}
        _fill(self.days, words[found[0]] if found else self.tr("none"), words)

    def forget(self) -> None:
        """Let the rules hold again: another file is looked at."""
        self._own_header = None
        for combo in (
            *(self.form, self.encoding, self.delimiter),
            *(self.mark, self.sheet, self.days),
        ):
            combo.clear()

    def show_form(self, *, is_long: bool) -> None:
        """Show whether a row is a sample or one value."""
        words = {"sample": self.tr("one sample"), "value": self.tr("one value")}
        _fill(self.form, words["value" if is_long else "sample"], words)

    def show_look(self, look: TableLook) -> None:
        """Show how the file was read."""
        is_csv = look.table.kind == "csv"
        found = look.encoding or ""
        _fill(self.encoding, found, {one: one for one in _ENCODINGS})
        sign = look.delimiter or ""
        _fill(self.delimiter, _DELIMITERS.get(sign, sign), _DELIMITERS)
        _fill(self.mark, _MARKS[look.decimal_mark], _MARKS)
        _fill(self.sheet, look.sheet, {one: one for one in look.sheets})
        self._show(self.encoding, shown=is_csv)
        self._show(self.delimiter, shown=is_csv)
        self._show(self.sheet, shown=len(look.sheets) > 1)
        self._shown_header = look.header.number
        self.header.setText(str(look.header.number))

    def _show(self, part: QWidget, *, shown: bool) -> None:
        part.setVisible(shown)
        self._groups[part].setVisible(shown)

    def _header_edited(self) -> None:
        wanted = int(self.header.text())
        if wanted != self._shown_header:
            self._own_header = self._shown_header = wanted
            self.changed.emit()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for label in self._groups.values():
            label.apply_theme(theme)


def _fill(combo: QComboBox, found: str, offers: dict[str, str]) -> None:
    """The rule's finding first; what a person chose stays chosen."""
    chosen = combo.currentData()
    combo.blockSignals(True)  # noqa: FBT003 - Qt's own signature
    combo.clear()
    combo.addItem(found if chosen is None else combo.tr("by rule"), None)
    for key, words in offers.items():
        combo.addItem(words, key)
    at = combo.findData(chosen) if chosen is not None else 0
    combo.setCurrentIndex(max(at, 0))
    combo.blockSignals(False)  # noqa: FBT003 - Qt's own signature
