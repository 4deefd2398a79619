"""Made-up files of a laboratory and made-up limit sets, for the Results and the Rules page."""

from datetime import UTC, date, datetime
from threading import Event
from typing import Any

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.limits.limit_set import Limit, LimitKind, LimitSet, LimitSetState, Scope
from fluiddesk.domain.severity import Severity
from fluiddesk.intake.problems import IntakeReport
from fluiddesk.services.catalogue import Catalogue, load_catalogue
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.lab_intake.facts import (
    IntakePreview,
    IntakeResult,
    Moved,
    PastIntake,
    PreviewRow,
    ProblemFacts,
    RowFate,
)
from fluiddesk.services.limit_rules import LimitsShown, shown

NORMAL, WATCH, ACT, URGENT = Severity.NORMAL, Severity.WATCH, Severity.ACT, Severity.URGENT
LAYOUTS = ("comma_columns", "long_sheet")


def make_row(row: int, **changed: Any) -> PreviewRow:
    facts: dict[str, Any] = {
        "row": row,
        "bottle_code": f"26K-{row:04d}-X",
        "site": "North pit",
        "machine": f"EX-{200 + row}",
        "compartment": "Engine",
        "report": f"R26-{1000 + row}",
        "issue": 1,
        "sampled_on": date(2026, 6, 1),
        "fate": RowFate.NEW,
        "severity_before": NORMAL,
        "severity_after": NORMAL,
        "headline": "Every value inside its limits",
    }
    return PreviewRow(**{**facts, **changed})


def make_problem(row: int | None, **changed: Any) -> ProblemFacts:
    facts: dict[str, Any] = {
        "row": row,
        "column": "Fe",
        "value": "12,4O",
        "text": '"12,4O" is not a number.',
        "remedy": "Correct the cell, or hold the row.",
        "holds_row": row is not None,
    }
    return ProblemFacts(**{**facts, **changed})


def make_preview(rows: list[PreviewRow] | None = None, **changed: Any) -> IntakePreview:
    facts: dict[str, Any] = {
        "file_name": "results_2026-06-08.csv",
        "file_path": "results_2026-06-08.csv",
        "sha256": "00" * 32,
        "layout": LAYOUTS[0],
        "laboratory": "Laboratory North",
        "rows": tuple([make_row(2)] if rows is None else rows),
        "problems": (),
        "already_taken_in": "",
        "report": IntakeReport(file="", sha256="", layout="", laboratory=""),
    }
    return IntakePreview(**{**facts, **changed})


_BOXES = (
    "Engine",
    "Engine cooling system",
    "Powershift transmission",
    "Final drive, left",
    "Final drive, right",
    "Hydraulic system",
    "Swing drive",
)


def full_preview() -> IntakePreview:
    """Twenty-five rows as a clerk meets them: 22 to take in, 2 held, 1 unchanged."""
    rows = [
        make_row(
            number,
            machine=f"{('EX', 'HT', 'WL')[number % 3]}-{201 + number % 9}",
            site=("North pit", "South quarry")[number % 2],
            compartment=_BOXES[number % len(_BOXES)],
            sampled_on=date(2026, 6, 1 + number % 7),
        )
        for number in range(2, 27)
    ]
    rows[3] = make_row(
        5,
        machine="HT-104",
        severity_before=NORMAL,
        severity_after=URGENT,
        headline="Iron 164 mg/kg, beyond Urgent 150; silicon 38 above new fluid",
    )
    rows[8] = make_row(
        10,
        machine="WL-207",
        compartment="Final drive, left",
        severity_before=WATCH,
        severity_after=ACT,
        headline="Iron 640 mg/kg, beyond Act 500",
    )
    rows[11] = make_row(
        13,
        machine="EX-203",
        compartment="Hydraulic system",
        issue=2,
        fate=RowFate.REVISION,
        severity_before=ACT,
        severity_after=NORMAL,
        headline="Water corrected by the laboratory: 120 mg/kg",
    )
    rows[14] = make_row(
        16,
        machine="EX-205",
        fate=RowFate.UNCHANGED,
        severity_before=WATCH,
        severity_after=WATCH,
        headline="Copper 42 mg/kg, beyond Watch 40",
    )
    rows[15] = make_row(
        17,
        fate=RowFate.HELD,
        headline="",
        severity_before=WATCH,
        severity_after=Severity.NO_VERDICT,
    )
    rows[20] = make_row(
        22,
        bottle_code="26K-0O22-X",
        machine="",
        site="",
        compartment="",
        sampled_on=None,
        fate=RowFate.HELD,
        headline="",
        severity_before=Severity.NO_VERDICT,
        severity_after=Severity.NO_VERDICT,
    )
    return make_preview(
        rows,
        problems=(
            make_problem(17),
            make_problem(
                22,
                column="Bottle",
                value="26K-0O22-X",
                text='"26K-0O22-X" is not a bottle code: its check character does not fit.',
                remedy="Compare it with the label on the bottle and type it again.",
            ),
            make_problem(
                None,
                column="Remarks",
                value="",
                holds_row=False,
                text='Column "Remarks" is not known to the layout and was left out.',
                remedy="Nothing needs doing, unless it holds results.",
            ),
        ),
    )


def make_result(**changed: Any) -> IntakeResult:
    facts: dict[str, Any] = {
        "intake_id": b"\x01" * 16,
        "file_name": "results_2026-06-08.csv",
        "layout": LAYOUTS[0],
        "taken_in": 22,
        "held": 2,
        "unchanged": 1,
        "problems": full_preview().problems,
        "moved": (
            make_moved("WL-207", "Final drive, left", WATCH, ACT, "Iron 640 mg/kg, beyond Act 500"),
            make_moved(
                "HT-104",
                "Engine",
                NORMAL,
                URGENT,
                "Iron 164 mg/kg, beyond Urgent 150; silicon 38 above new fluid",
            ),
            make_moved("EX-203", "Hydraulic system", ACT, NORMAL, "Every value inside its limits"),
        ),
        "changes": Changes(subjects=frozenset({Subject.RESULTS, Subject.ASSESSMENTS})),
    }
    return IntakeResult(**{**facts, **changed})


def make_moved(
    machine: str, compartment: str, before: Severity, after: Severity, headline: str
) -> Moved:
    return Moved(
        site="North pit",
        machine=machine,
        compartment=compartment,
        before=before,
        after=after,
        headline=headline,
    )


def make_past(number: int = 1, **changed: Any) -> PastIntake:
    facts: dict[str, Any] = {
        "intake_id": bytes([number]) * 16,
        "file_name": f"results_2026-05-{number:02d}.csv",
        "layout": LAYOUTS[number % 2],
        "taken_in_at": datetime(2026, 5, number, 9, 30, tzinfo=UTC),
        "who": "First clerk",
        "taken_in": 30 + number,
        "held": number % 3,
        "is_undone": False,
    }
    return PastIntake(**{**facts, **changed})


class MadeUpCalls:
    """Answers in place of the services; what is asked is noted. ``hold`` delays taking in."""

    def __init__(self) -> None:
        self.next_preview: IntakePreview | OperatorError = full_preview()
        self.next_result = make_result()
        self.next_undo = make_result(
            intake_id=None, taken_in=0, held=0, unchanged=0, moved=(), problems=()
        )
        self.asked: list[tuple[Any, ...]] = []
        self.hold = Event()
        self.hold.set()

    def preview(self, path: Any, *, layout_name: Any, today: Any, progress: Any) -> IntakePreview:
        self.asked.append(("preview", path, layout_name))
        progress(1, 2)
        if isinstance(self.next_preview, OperatorError):
            raise self.next_preview
        return self.next_preview

    def take_in(self, preview: Any, *, moment: Any, today: Any, progress: Any) -> IntakeResult:
        self.asked.append(("take_in", preview.file_name))
        self.hold.wait(10)
        return self.next_result

    def undo(self, intake_id: bytes, *, moment: Any, today: Any) -> IntakeResult:
        self.asked.append(("undo", intake_id))
        return self.next_undo

    def past(self) -> tuple[PastIntake, ...]:
        return (make_past(1), make_past(2, is_undone=True), make_past(3))

    def layouts(self) -> dict[str, str]:
        return {name: f"{name} (Laboratory of {name})" for name in LAYOUTS}


def make_limit(**changed: Any) -> Limit:
    facts: dict[str, Any] = {
        "scope": Scope(compartment_kind="engine"),
        "analyte": "iron",
        "kind": LimitKind.LEVEL,
        "direction": "up",
        "watch": 60.0,
        "act": 100.0,
        "urgent": 150.0,
        "source": "common practice, no source",
        "set_by": "starter set",
    }
    return Limit(**{**facts, **changed})


def make_limits_shown(*limits: Limit, catalogue: Catalogue | None = None) -> LimitsShown:
    return shown(
        LimitSet(
            number=1,
            name="Starter limits",
            state=LimitSetState.IN_FORCE,
            valid_from=date(2026, 1, 1),
            valid_until=None,
            author="starter set",
            note="",
            limits=limits,
        ),
        catalogue or load_catalogue(),
    )


def starter_limits_shown() -> LimitsShown:
    """Every starter limit, with two of a narrower scope."""
    catalogue = load_catalogue()
    own = (
        make_limit(
            scope=Scope(machine_kind="excavator", compartment_kind="engine"),
            watch=40.0,
            act=70.0,
            urgent=110.0,
            source="own history",
            set_by="Reliability engineer",
        ),
        make_limit(
            scope=Scope(compartment_kind="engine", compartment="0123456789abcdef" * 2),
            watch=30.0,
            act=None,
            urgent=None,
            set_by="Reliability engineer",
        ),
    )
    return make_limits_shown(*catalogue.starter_limits, *own, catalogue=catalogue)
