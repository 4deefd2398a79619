"""A clerk at the desk, for tests: opens a bottle, types, answers, saves."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta

from fluiddesk.domain.severity import Severity
from fluiddesk.services.keyed_results.checking import check_report
from fluiddesk.services.keyed_results.drafts import answer_warning, keep_draft, open_draft
from fluiddesk.services.keyed_results.facts import (
    Answer,
    Checked,
    Draft,
    HeadField,
    KeyWarning,
    OpenReport,
    SavedReport,
    WarningKind,
)
from fluiddesk.services.keyed_results.open_report import open_report
from fluiddesk.services.keyed_results.saving import save_report
from fluiddesk.services.workplace import Workplace
from tests.fleets import LAST_DAY, NOW, Fleet

LATER = NOW + timedelta(hours=1)


@dataclass
class Clerk:
    """One report on the desk."""

    place: Workplace
    report: OpenReport
    draft: Draft

    def type(self, **texts: str) -> Checked:
        """Type into cells by the code of their first analyte, and keep the draft."""
        cells = {self.key(code): text for code, text in texts.items()}
        return self.keep(cells={**self.draft.cells, **cells})

    def head(self, **texts: str) -> Checked:
        return self.keep(heads={**self.draft.heads, **texts})

    def keep(self, **parts: Mapping[str, str]) -> Checked:
        changed = replace(self.draft, **parts)
        self.draft = keep_draft(self.place, self.report, changed, moment=NOW)
        return self.checked

    @property
    def checked(self) -> Checked:
        return check_report(self.report, self.draft)

    def key(self, code: str) -> str:
        return next(one.key for one in self.report.cells if code in one.analytes)

    def cell(self, code: str):
        return next(one for one in self.report.cells if code in one.analytes)

    def warning(self, kind: WarningKind) -> KeyWarning:
        return next(one for one in self.checked.warnings if one.kind is kind)

    def kinds(self) -> set[WarningKind]:
        return {one.kind for one in self.checked.warnings}

    def answer(self, warning: KeyWarning, answer: Answer, *, new_text: str = "") -> Checked:
        self.draft = answer_warning(
            self.place, self.report, self.draft, warning, answer, new_text=new_text, moment=NOW
        )
        return self.checked

    def type_as_expected(self) -> Checked:
        """Type what the ghosts say into every cell that is expected."""
        cells = {
            one.key: one.expected.text if one.expected else "n"
            for one in self.report.cells
            if one.is_expected
        }
        self.keep(cells=cells)
        return self.head(**{HeadField.REPORT_NUMBER.value: "A26-00001"})

    def save(self) -> SavedReport:
        return save_report(self.place, self.report, self.draft, moment=NOW, today=LAST_DAY)


def at_the_desk(fleet: Fleet, *, kind: str = "engine", number: int = 1, layout: str = "") -> Clerk:
    """A sample of a calm box is drawn, and its bottle opened for keying."""
    box = fleet.boxes(kind, Severity.NORMAL)[0]
    return open_for(fleet, fleet.draw(box, number), layout=layout)


def open_for(fleet: Fleet, code: str, *, layout: str = "", who: str = "") -> Clerk:
    place = replace(fleet.place, who=who) if who else fleet.place
    report = open_report(place, code, layout=layout, today=LAST_DAY)
    return Clerk(place, report, open_draft(place, report, moment=NOW))
