"""Invented samples outside the plan for tests of the desktop, and use cases that only remember."""

from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

from fluiddesk.desktop.viewstate.outside_forms import OutsideDone
from fluiddesk.desktop.viewstate.record_form import Values
from fluiddesk.desktop.viewstate.record_trail import TrailLine
from fluiddesk.domain.identity import SampleId
from fluiddesk.domain.samples import SampleOrigin, SampleReason, SampleState
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.outside_plan.fluid_samples import FluidSampleFacts, FluidSampleKind
from fluiddesk.services.outside_plan.labels import SpareLabel
from fluiddesk.services.outside_plan.overview import BoxSampleFacts, FluidValue, OutsideFacts
from fluiddesk.services.papers.facts import PaperOwner
from tests.desktop.makers_register import TODAY, box_key, machine_key

SITE_NAME = "Kestrel pit (invented)"
WALK_UP = BoxSampleFacts(
    id=SampleId(b"walkup" + bytes(10)),
    site=SITE_NAME,
    machine_id=machine_key(1),
    machine="HT-01",
    compartment_id=box_key(1, 0),
    compartment="Engine",
    bottle_code="26W-00001-A",
    reason=SampleReason.SPECIAL,
    origin=SampleOrigin.WALK_UP,
    state=SampleState.TAKEN,
    taken_on=date(2026, 6, 28),
    taken_by="Kim",
    note="smelled burnt",
    first_bottle="",
    report_number="",
    rejected_reason="",
)
TWIN = replace(
    WALK_UP,
    bottle_code="26W-00002-8",
    reason=SampleReason.DUPLICATE,
    first_bottle=WALK_UP.bottle_code,
    report_number="R-2",
    rejected_reason="leaked",
    state=SampleState.REPORTED,
)
NEW_FLUID = FluidSampleFacts(
    id=b"drum" + bytes(12),
    site=SITE_NAME,
    kind=FluidSampleKind.NEW_FLUID,
    fluid_code="engine_oil_15w40",
    fluid="Engine oil 15W-40",
    container="Delivery D-12",
    bottle_code="26F-00001-B",
    state=SampleState.REPORTED,
    taken_on=date(2026, 6, 27),
    batch_id=None,
    tank_id=None,
    report_number="R-1",
    note="",
)
LABEL = SpareLabel(code="26S-00001-7", site=SITE_NAME, issued_on=TODAY)
FACTS = OutsideFacts(box_samples=(WALK_UP, TWIN), fluid_samples=(NEW_FLUID,), spare_labels=(LABEL,))
NOTHING = OutsideFacts(box_samples=(), fluid_samples=(), spare_labels=())
VALUES = (
    FluidValue(
        analyte="iron", symbol="Fe", printed="<1", printed_unit="mg/kg", reference=1.0, unit="mg/kg"
    ),
    FluidValue(
        analyte="zinc", symbol="Zn", printed="1120", printed_unit="mg/kg", reference=None, unit=""
    ),
)
CHANGES = Changes(subjects=frozenset({Subject.FLEET, Subject.RESULTS}))


DONE = OutsideDone(told="Bottle 26W-00002-8 is registered.", bottle="26W-00002-8", changes=CHANGES)


@dataclass
class OutsideDouble:
    """Use cases that answer from kept facts and remember what was asked."""

    kept: OutsideFacts = FACTS
    asked: list[tuple[str, Values]] = field(default_factory=list)
    error: Exception | None = None
    done: OutsideDone = DONE

    def facts(self) -> OutsideFacts:
        return self.kept

    def values(self, bottle: str) -> tuple[FluidValue, ...]:
        return VALUES

    def act(
        self, key: str, values: Values, offers: Any, *, moment: datetime, today: date
    ) -> OutsideDone:
        self.asked.append((key, values))
        if self.error is not None:
            raise self.error
        return self.done


@dataclass
class PapersDouble:
    """Papers and remarks that are only remembered."""

    asked: list[tuple[str, PaperOwner, str]] = field(default_factory=list)
    error: Exception | None = None

    def trail(self, owner: PaperOwner) -> tuple[TrailLine, ...]:
        return tuple(
            TrailLine(at="2026-06-30 08:00", who="Kim", what=what, words=words)
            for what, whose, words in self.asked
            if whose == owner
        )

    def attach(self, owner: PaperOwner, path: Path, *, moment: datetime) -> None:
        if self.error is not None:
            raise self.error
        self.asked.append(("attach", owner, path.name))

    def remark(self, owner: PaperOwner, words: str, *, moment: datetime) -> None:
        self.asked.append(("remark", owner, words))
