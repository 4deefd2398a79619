"""Crews with their hours a day, and the days on which machines stand for service."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final, Protocol

from PySide6.QtCore import QAbstractItemModel, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.record_form import RecordForm, Values
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls, SamplingFacts
from fluiddesk.desktop.viewstate.sampling_forms import (
    crew_form,
    crew_of,
    service_form,
    service_of,
)
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.form_dialog import FormDialog
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.services.visits.facts import Crew, ServiceDate
from fluiddesk.wiring import Clock

Lines = Sequence[tuple[bytes, tuple[str, ...]]]
_TABLES_WIDTH: Final = 760


class KeyedLines(Protocol):
    """A table of lines with a key each."""

    def show(self, rows: Lines) -> None:
        """Show these lines."""

    def key(self, row: int) -> bytes | None:
        """The key of a line."""


class CrewsView(QWidget):
    """Sets up who samples and when machines stand anyway.

    Signals:
        saved: something was saved, so the plan is to be made anew.
    """

    saved = Signal()

    def __init__(
        self,
        crews: tuple[KeyedLines, QAbstractItemModel],
        services: tuple[KeyedLines, QAbstractItemModel],
        calls: SamplingCalls,
        *,
        work: PageWork,
        clock: Clock,
        theme: Theme,
    ) -> None:
        super().__init__()
        self._crews, self._services = crews[0], services[0]
        self._calls, self._work, self._clock, self._theme = calls, work, clock, theme
        self._facts: SamplingFacts | None = None
        self.dialog: FormDialog | None = None
        self.crew_table = FactTable(crews[1], name=self.tr("Crews"))
        self.crew_table.set_widths({0: 240, 1: 200, 2: 96})
        self.crew_table.grow_with_rows()
        self.service_table = FactTable(services[1], name=self.tr("Service days"))
        self.service_table.set_widths({0: 100, 1: 100, 2: 240})
        self.add_crew = QPushButton(self.tr("Add a crew..."))
        self.change_crew = QPushButton(self.tr("Change..."))
        self.add_service = QPushButton(self.tr("Add a service day..."))
        self.drop_service = QPushButton(self.tr("Take back"))
        self._titles = (
            QuietLabel("strong", theme, self.tr("Crews")),
            QuietLabel("strong", theme, self.tr("Service days")),
        )
        self._notes = (
            QuietLabel(
                "small",
                theme,
                self.tr(
                    "Visits are shared out over the crews of their site; a day is overfull when "
                    "its work takes more than the crew's hours."
                ),
            ),
            QuietLabel(
                "small",
                theme,
                self.tr("A visit goes to the day its machine stands anyway, inside its window."),
            ),
        )
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(STEP)
        parts = (
            (self.crew_table, (self.add_crew, self.change_crew)),
            (self.service_table, (self.add_service, self.drop_service)),
        )
        for title, note, (table, buttons) in zip(self._titles, self._notes, parts, strict=True):
            table.setMaximumWidth(_TABLES_WIDTH)
            row = QHBoxLayout()
            row.setSpacing(STEP)
            for button in buttons:
                button.setAutoDefault(True)
                row.addWidget(button)
            row.addStretch(1)
            column.addWidget(title)
            column.addWidget(note)
            column.addSpacing(STEP)
            column.addLayout(row)
            column.addSpacing(GAP)
            column.addWidget(table, 1)
            column.addSpacing(MARGIN)

    def _connect(self) -> None:
        self.add_crew.clicked.connect(lambda: self._ask_crew(None))
        self.change_crew.clicked.connect(lambda: self._ask_crew(self._crew()))
        self.crew_table.row_opened.connect(lambda _row: self._ask_crew(self._crew()))
        self.add_service.clicked.connect(self._ask_service)
        self.drop_service.clicked.connect(self._drop_service)
        self.crew_table.row_chosen.connect(lambda row: self.change_crew.setEnabled(row >= 0))
        self.service_table.row_chosen.connect(lambda row: self.drop_service.setEnabled(row >= 0))

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        for label in (*self._titles, *self._notes):
            label.apply_theme(theme)

    def show_facts(self, facts: SamplingFacts) -> None:
        """Show crews and service days as they are kept."""
        self._facts = facts
        codes = {one.id: one.code for one in facts.machines}
        self._crews.show(
            [
                (
                    one.id,
                    (
                        facts.sites.get(one.site, ""),
                        one.name,
                        f"{one.hours_per_day:g}",
                        self.tr("no longer in use") if one.retired else "",
                    ),
                )
                for one in facts.crews
            ]
        )
        self._services.show(
            [
                (
                    one.id,
                    (
                        one.planned_on.isoformat(),
                        codes.get(one.machine, ""),
                        facts.sites.get(one.site, ""),
                        one.note,
                    ),
                )
                for one in facts.service_days
                if one.planned_on >= facts.plan.today
            ]
        )
        self.change_crew.setEnabled(False)
        self.drop_service.setEnabled(False)

    def _crew(self) -> Crew | None:
        key = self._crews.key(self.crew_table.currentIndex().row())
        crews = () if self._facts is None else self._facts.crews
        return next((one for one in crews if one.id == key), None)

    def _ask_crew(self, crew: Crew | None) -> None:
        if self._facts is not None:
            form = crew_form(crew, self._facts.sites)
            self._ask(form, lambda values: self._save_crew(crew_of(values, crew)))

    def _save_crew(self, crew: Crew) -> None:
        moment = self._clock.moment()
        self._save(
            lambda: self._calls.save_crew(crew, moment=moment),
            refusal=self.tr("The crew was not saved"),
        )

    def _ask_service(self) -> None:
        facts = self._facts
        if facts is not None:
            form = service_form(facts.machines, today=self._clock.today())
            self._ask(form, lambda values: self._save_service(service_of(values, facts.machines)))

    def _drop_service(self) -> None:
        key = self._services.key(self.service_table.currentIndex().row())
        days = () if self._facts is None else self._facts.service_days
        found = next((one for one in days if one.id == key), None)
        if found is not None:
            self._save_service(replace(found, dropped=True))

    def _save_service(self, service: ServiceDate) -> None:
        moment = self._clock.moment()
        self._save(
            lambda: self._calls.save_service_day(service, moment=moment),
            refusal=self.tr("The service day was not saved"),
        )

    def _save(self, act: Callable[[], object], *, refusal: str) -> None:
        if self.dialog is not None:
            self.dialog.accept()
            self.dialog = None
        self._work.start(
            lambda _: act(),
            done=lambda _answer: self.saved.emit(),
            refusal=refusal,
            label=self.tr("Saving"),
            saves=True,
        )

    def _ask(self, form: RecordForm, then: Callable[[Values], None]) -> None:
        self.dialog = FormDialog(form, theme=self._theme, parent=self)
        self.dialog.agreed.connect(then)
        self.dialog.rejected.connect(self._forget_dialog)
        self.dialog.open()

    def _forget_dialog(self) -> None:
        self.dialog = None
