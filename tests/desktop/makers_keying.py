"""Made-up reports, drafts, checks and calls for the clerk's desk."""

from dataclasses import replace
from datetime import date
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, cast

from fluiddesk.domain.identity import CompartmentId, SampleId, SiteId
from fluiddesk.domain.severity import Severity
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.event_questions import EventQuestion
from fluiddesk.services.keyed_results.basis import CheckBasis, SecondEntry
from fluiddesk.services.keyed_results.facts import (
    Answer,
    CellRead,
    Checked,
    Draft,
    Expected,
    GridCell,
    HeadField,
    KeyWarning,
    LayoutChoice,
    OpenReport,
    QueueLine,
    ResultsQueue,
    SavedReport,
    WarningKind,
)

if TYPE_CHECKING:
    from fluiddesk.domain.errors import OperatorError

CODE = "26K-01032-8"
OTHER_CODE = "26K-01033-6"
BOX = CompartmentId(b"b" * 16)


def make_cell(key: str, *, decides: bool = False, expected: str = "22", **changed: Any) -> GridCell:
    facts: dict[str, Any] = {
        "key": key,
        "heading": key,
        "name": f"Name of {key}",
        "unit": "mg/kg",
        "analytes": (key.lower(),),
        "is_presence_test": False,
        "is_expected": True,
        "expected": Expected(text=expected, low="8", high="56", last="19", last_on=None),
        "decides": decides,
    }
    return GridCell(**{**facts, **changed})


def make_report(*cells: GridCell, **changed: Any) -> OpenReport:
    facts: dict[str, Any] = {
        "bottle_code": CODE,
        "sample": SampleId(b"s" * 16),
        "site_id": SiteId(b"p" * 16),
        "site": "Pit North",
        "machine": "EX-01",
        "compartment": "Engine",
        "compartment_id": BOX,
        "taken_on": date(2026, 6, 8),
        "meter": 12884.0,
        "fluid_hours": 242.0,
        "layout": "lab_a",
        "laboratory": "lab_a",
        "layouts": (
            LayoutChoice(name="lab_a", laboratory="lab_a", title="lab_a (Lab A)"),
            LayoutChoice(name="lab_b", laboratory="lab_b", title="lab_b (Lab B)"),
        ),
        "heads": (HeadField.REPORT_NUMBER, HeadField.METER, HeadField.REMARK),
        "cells": cells or (make_cell("Fe"), make_cell("Cu"), make_cell("Si", is_expected=False)),
        "to_confirm": (("Boron", "74 mg/kg"), ("Zinc", "1 144 mg/kg"), ("Calcium", "2 384 mg/kg")),
        "severity": Severity.WATCH,
        "newest_issue": 0,
        "newest_report": "",
        "note": "",
        "basis": cast("CheckBasis", SimpleNamespace(second=SecondEntry())),
    }
    return OpenReport(**{**facts, **changed})


def make_draft(**changed: Any) -> Draft:
    facts: dict[str, Any] = {"bottle_code": CODE, "layout": "lab_a", "id": b"d" * 16, "version": 1}
    return Draft(**{**facts, **changed})


def make_warning(cell: str = "Fe", text: str = "220", **changed: Any) -> KeyWarning:
    kind = changed.pop("kind", WarningKind.DECIMAL_SLIP)
    facts: dict[str, Any] = {
        "key": f"{kind.value}:{cell}:{text}",
        "kind": kind,
        "cell": cell,
        "name": f"Name of {cell}",
        "text": text,
        "told": f"{cell} {text}: the decimal point seems moved, 22.0 would fit.",
        "why": "22 expected.",
        "proposed": "22.0",
    }
    return KeyWarning(**{**facts, **changed})


def make_checked(*warnings: KeyWarning, **changed: Any) -> Checked:
    facts: dict[str, Any] = {
        "cells": {},
        "warnings": warnings,
        "filled": 0,
        "missing": (),
        "second_wanted": (),
    }
    return Checked(**{**facts, **changed})


def make_line(code: str = CODE, **changed: Any) -> QueueLine:
    facts: dict[str, Any] = {
        "bottle_code": code,
        "site": "Pit North",
        "machine": "EX-01",
        "compartment": "Engine",
        "taken_on": date(2026, 6, 8),
        "days": 3,
    }
    return QueueLine(**{**facts, **changed})


def make_queue(**changed: Any) -> ResultsQueue:
    facts: dict[str, Any] = {
        "to_key": (),
        "warnings_open": (),
        "held_back": (),
        "waiting": (make_line(), make_line("26K-01033-6", machine="EX-02")),
        "questions": (),
    }
    return ResultsQueue(**{**facts, **changed})


def make_question() -> EventQuestion:
    return EventQuestion(
        id=b"q" * 16,
        site_id=SiteId(b"p" * 16),
        compartment_id=BOX,
        site="Pit North",
        machine="EX-01",
        compartment="Engine",
        bottle_code=CODE,
        told="Engine of EX-01 looks like a fluid change. Was the fluid changed?",
        since=date(2026, 5, 1),
        until=date(2026, 5, 31),
    )


def make_saved(**changed: Any) -> SavedReport:
    facts: dict[str, Any] = {
        "bottle_code": CODE,
        "intake_id": b"i" * 16,
        "before": Severity.NORMAL,
        "after": Severity.ACT,
        "headline": "Iron 112 mg/kg, limit 100",
        "sentence": "Engine of EX-01: Normal to Act. Iron 112 mg/kg, limit 100",
        "revised": (),
        "question": None,
        "changes": Changes(
            subjects=frozenset({Subject.RESULTS, Subject.ASSESSMENTS}),
            compartments=frozenset({BOX}),
        ),
    }
    return SavedReport(**{**facts, **changed})


class MadeUpKeying:
    """Answers in place of the services: 220 for iron slips, "x" is no number; all is noted."""

    def __init__(self) -> None:
        self.place: Any = None
        self.report = make_report()
        self.stored = make_draft()
        self.asked: list[Any] = []
        self.refusal: OperatorError | None = None
        self.waits = make_queue()
        self.setting = SecondEntry()

    def queue(self, *, today: Any) -> ResultsQueue:
        return self.waits

    def second_entry(self) -> SecondEntry:
        return self.setting

    def set_second_entry(self, setting: SecondEntry, *, moment: Any) -> None:
        self.setting = setting

    def layout_of(self, laboratory: str) -> str:
        return laboratory

    def open_report(self, code: str, *, layout: str, today: Any) -> OpenReport:
        self.asked.append(("open", code, layout))
        if self.refusal is not None:
            raise self.refusal
        return replace(self.report, layout=layout or self.report.layout)

    def open_draft(self, report: OpenReport, *, moment: Any) -> Draft:
        return self.stored

    def keep(self, report: OpenReport, draft: Draft, *, moment: Any) -> Draft:
        return self._store(draft)

    def _store(self, draft: Draft) -> Draft:
        if self.refusal is not None:
            raise self.refusal
        assert draft.version == self.stored.version
        self.stored = replace(draft, version=draft.version + 1)
        return self.stored

    def check(self, report: OpenReport, draft: Draft) -> Checked:
        found = []
        if draft.cells.get("Fe") == "220":
            slip = make_warning()
            found.append(replace(slip, answer=draft.answers.get(slip.key)))
        if draft.cells.get("Fe") == "999":
            found.append(
                make_warning(
                    "",
                    kind=WarningKind.OTHER_BOTTLE,
                    other_bottle=OTHER_CODE,
                    proposed="",
                    told=f"The values fit bottle {OTHER_CODE} better.",
                )
            )
        missing = tuple(
            one.key for one in report.cells if one.is_expected and not draft.cells.get(one.key)
        )
        wanted = tuple(
            one.key
            for one in report.cells
            if one.decides and draft.cells.get(one.key) and not draft.second.get(one.key)
        )
        reads = {key: CellRead(key=key, text=text, shown=text) for key, text in draft.cells.items()}
        return make_checked(*found, cells=reads, missing=missing, second_wanted=wanted)

    def answer(
        self, report: OpenReport, draft: Draft, warning: KeyWarning, answer: Answer, *, moment: Any
    ) -> Draft:
        self.asked.append(("answer", warning.cell, answer))
        if answer is Answer.CORRECTED:
            return self._store(
                replace(draft, cells={**draft.cells, warning.cell: warning.proposed})
            )
        return self._store(replace(draft, answers={**draft.answers, warning.key: answer}))

    def enter_second(
        self, report: OpenReport, draft: Draft, key: str, text: str, *, moment: Any
    ) -> Draft:
        return self._store(replace(draft, second={**draft.second, key: text}))

    def park(self, draft: Draft, *, note: str, moment: Any) -> Draft:
        self.asked.append("park")
        return self._store(replace(draft, state="parked"))

    def drop(self, draft: Draft, *, moment: Any) -> None:
        self.asked.append("drop")

    def move(
        self, report: OpenReport, draft: Draft, code: str, *, moment: Any, today: Any
    ) -> tuple[OpenReport, Draft]:
        self.asked.append(("move", report.bottle_code, code))
        self.stored = replace(draft, bottle_code=code, id=b"o" * 16, version=1)
        return replace(report, bottle_code=code, machine="EX-02"), self.stored

    def save(self, report: OpenReport, draft: Draft, *, moment: Any, today: Any) -> SavedReport:
        self.asked.append(("save", dict(draft.cells)))
        if self.refusal is not None:
            raise self.refusal
        return make_saved()

    def answer_question(
        self, question: EventQuestion, answer: Any, *, on: Any, moment: Any, today: Any
    ) -> Changes:
        self.asked.append(("question", answer, on))
        self.waits = replace(self.waits, questions=())
        return Changes(subjects=frozenset({Subject.RESULTS}))
