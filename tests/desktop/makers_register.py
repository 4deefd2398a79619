"""An invented register for tests of the Register page, and use cases that only remember."""

import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

from fluiddesk.desktop.viewstate.record_form import Values
from fluiddesk.desktop.viewstate.record_history import HistoryLine, machine_lines
from fluiddesk.desktop.viewstate.record_trail import TrailLine
from fluiddesk.desktop.viewstate.register_words import Record, key_of
from fluiddesk.domain.errors import CancelledError
from fluiddesk.domain.fleet import Certainty, EventKind, MachineState
from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId
from fluiddesk.services.catalogue import load_catalogue
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.register.box_record import BoxRecord
from fluiddesk.services.register.facts import (
    BatchFacts,
    CompartmentFacts,
    EventFacts,
    FieldFault,
    FitFacts,
    FluidFacts,
    LaboratoryFacts,
    MachineFacts,
    MachineRecord,
    MeterFacts,
    MissingFact,
    PointFacts,
    ReadingFacts,
    RegisterFacts,
    SiteFacts,
    StateFacts,
    TankFacts,
    TestListFacts,
    UserFacts,
)
from fluiddesk.services.register.saving import Saved
from fluiddesk.services.register_files.facts import (
    ExportedFile,
    FileOutcome,
    FileProblem,
    RegisterImported,
    RegisterPreview,
)

TODAY = date(2026, 6, 30)
CATALOGUE = load_catalogue()
SITE = SiteId(1)
CHANGES = Changes(subjects=frozenset({Subject.FLEET}))

EMPTY = RegisterFacts(
    sites=(),
    machines=(),
    meters=(),
    compartments=(),
    points=(),
    fluids=tuple(
        FluidFacts(
            code=one.code,
            name=one.name,
            fluid_class=one.fluid_class,
            viscosity_grade=one.viscosity_grade,
            version=1,
        )
        for one in CATALOGUE.fluids.values()
    ),
    batches=(),
    tanks=(),
    laboratories=(),
    test_lists=(),
    users=(),
)


def machine_key(number: int) -> MachineId:
    return MachineId(b"machine" + number.to_bytes(9))


def box_key(number: int, place: int) -> CompartmentId:
    return CompartmentId(b"box" + number.to_bytes(8) + place.to_bytes(5))


def make_machine(number: int, *, kind: str = "rigid_truck") -> MachineFacts:
    return MachineFacts(
        site=SITE,
        id=machine_key(number),
        code=f"HT-{number:02d}",
        kind=kind,
        model=f"R{number % 3 + 1}00",
        serial=f"S{7000 + number}",
        in_service_on=date(2021, 3, 1),
        state=MachineState.STANDBY if number % 7 == 0 else MachineState.WORKING,
        state_since=date(2021, 3, 1),
        site_name="Kestrel pit (invented)",
        kind_name="Rigid haul truck",
        hours_now=12_000.0 + 137 * number,
        hours_as_of=TODAY,
        version=2,
    )


def make_boxes(number: int, *, kind: str = "rigid_truck") -> tuple[CompartmentFacts, ...]:
    """The boxes a kind usually has; every fourth machine's first lacks its capacity."""
    made = []
    for place, (box, position) in enumerate(CATALOGUE.machine_kinds[kind].boxes):
        usual = CATALOGUE.compartment_kinds[box]
        lacks = number % 4 == 0 and place == 0
        made.append(
            CompartmentFacts(
                site=SITE,
                machine=machine_key(number),
                id=box_key(number, place),
                kind=box,
                position=position,
                fluid="engine_oil_15w40" if box == "engine" else "powertrain_sae50",
                capacity_l=None if lacks else usual.capacity_l,
                residue_share=usual.residue_share,
                interval_hours=usual.interval_hours,
                interval_days=usual.interval_days,
                name=CATALOGUE.box_name(box, position),
                machine_code=f"HT-{number:02d}",
                version=1,
            )
        )
    return tuple(made)


def make_register(machines: int = 20) -> RegisterFacts:
    numbers = range(1, machines + 1)
    boxes = tuple(box for number in numbers for box in make_boxes(number))
    missing = tuple(
        MissingFact(
            record="compartment",
            key=bytes(box.id),
            name=f"{box.machine_code} {box.name}",
            field="capacity_l",
            text=f"{box.machine_code} {box.name.lower()}: the capacity is missing. Write it.",
            blocks=True,
            site=SITE,
            machine=box.machine,
        )
        for box in boxes
        if box.capacity_l is None
    )
    return replace(
        EMPTY,
        sites=(SiteFacts(site=SITE, name="Kestrel pit (invented)", version=1),),
        machines=tuple(make_machine(number) for number in numbers),
        compartments=boxes,
        points=tuple(
            PointFacts(
                site=SITE,
                compartment=box.id,
                id=b"point" + bytes(box.id),
                kind="live valve",
                location="left frame, behind the cover",
                flush_ml=100.0,
                version=1,
            )
            for box in boxes
            if box.kind == "engine"
        ),
        meters=tuple(
            MeterFacts(
                site=SITE,
                machine=machine_key(number),
                id=b"meter" + number.to_bytes(11),
                fitted_on=date(2021, 3, 1),
                last_value=12_000.0 + 137 * number,
                last_read_on=TODAY,
                version=1,
            )
            for number in numbers
        ),
        tanks=(
            TankFacts(
                site=SITE, id=b"tank" + bytes(12), code="T-1", fluid="engine_oil_15w40",
                capacity_l=5000.0, location="workshop yard", version=1,
            ),
        ),
        batches=(
            BatchFacts(
                site=SITE, id=b"batch" + bytes(11), fluid="engine_oil_15w40", batch="D-12",
                delivered_on=date(2026, 5, 4), version=1,
            ),
        ),
        laboratories=(
            LaboratoryFacts(
                code="lab_a", name="Laboratory A (invented)", layout="lab_a", version=1
            ),
        ),
        test_lists=(
            TestListFacts(code="basic", name="Basic", analytes=("Fe", "Cu", "Si"), version=1),
        ),
        users=(UserFacts(name="Kim", role="planner", version=1),),
        missing=missing,
    )  # fmt: skip


PREVIEW = RegisterPreview(
    files=(
        FileOutcome(file="machines.csv", kind="machines", sha256="0" * 64, rows=20, added=18,
                    changed=0, unchanged=2),
        FileOutcome(file="compartments.csv", kind="compartments", sha256="1" * 64, rows=120,
                    added=110, changed=4, unchanged=6),
    ),
    problems=(
        FileProblem(file="compartments.csv", row=14, column="capacity_l", value="",
                    text="The engine of HT-07 has no capacity.",
                    remedy="Write its litres, as the machine's manual gives them.", refuses=True),
    ),
    problem_count=1,
)  # fmt: skip


RECORD = MachineRecord(
    machine=make_machine(1),
    states=(
        StateFacts(state=MachineState.WORKING, since=date(2021, 3, 1)),
        StateFacts(state=MachineState.DOWN, since=date(2025, 2, 3), note="slew ring"),
    ),
    meters=(
        MeterFacts(
            site=SITE, machine=machine_key(1), id=b"meter", fitted_on=date(2021, 3, 1),
            removed_on=date(2026, 1, 7), end_value=9_990.0, rolls_over_at=10_000.0, version=1,
        ),
    ),
    readings=(
        ReadingFacts(
            site=SITE, machine=machine_key(1), id=b"reading", read_on=date(2026, 6, 1),
            value=12_100.0, true_hours=12_100.0, meter=b"meter",
        ),
        ReadingFacts(
            site=SITE, machine=machine_key(1), id=b"wrong", read_on=date(2026, 5, 1),
            value=99.0, meter=b"meter", voided_reason="another machine's",
        ),
    ),
    compartments=(),
    points=(),
    fits=(),
)  # fmt: skip
BOX = BoxRecord(
    events=(
        EventFacts(
            site=SITE, compartment=box_key(1, 0), id=b"top-up", kind=EventKind.TOP_UP,
            happened_on=date(2026, 6, 2), true_hours=12_110.0, litres=4.5,
            fluid="engine_oil_15w40",
        ),
        EventFacts(
            site=SITE, compartment=box_key(1, 0), id=b"denied", kind=EventKind.FLUID_CHANGE,
            happened_on=date(2026, 4, 2), certainty=Certainty.DENIED,
        ),
        EventFacts(
            site=SITE, compartment=box_key(1, 0), id=b"fitted", kind=EventKind.COMPONENT_FIT,
            happened_on=date(2025, 4, 2), note="ENG-2",
        ),
    ),
    fits=(
        FitFacts(
            site=SITE, compartment=box_key(1, 0), id=b"old", serial="ENG-1",
            fitted_on=date(2021, 3, 1), removed_on=date(2025, 4, 2), removed_at_hours=9_800.0,
            reason="worn",
        ),
        FitFacts(
            site=SITE, compartment=box_key(1, 0), id=b"new", serial="ENG-2",
            fitted_on=date(2025, 4, 2), condition="overhauled", hours_before=100.0,
        ),
    ),
)  # fmt: skip
HAPPENED = machine_lines(RECORD)


@dataclass
class CallsDouble:
    """Use cases that answer from a kept register and remember what was asked."""

    register: RegisterFacts = field(default_factory=make_register)
    asked: list[tuple[Any, ...]] = field(default_factory=list)
    error: Exception | None = None
    is_slow: bool = False
    preview: RegisterPreview = PREVIEW
    lines: tuple[TrailLine, ...] = ()
    happened: tuple[HistoryLine, ...] = ()
    paper: Path = Path("paper.pdf")
    warnings: tuple[FieldFault, ...] = ()
    told: str = ""

    def _note(self, *asked: Any) -> None:
        self.asked.append(asked)
        if self.error is not None:
            error, self.error = self.error, None
            raise error

    def _wait(self, progress: Any) -> None:
        """Go on until told to stop, where the work is slow."""
        while self.is_slow:
            if not progress(1, 10):
                raise CancelledError("Nothing was changed.")
            time.sleep(0.01)

    def facts(self, *, today: date) -> RegisterFacts:
        return self.register

    def layouts(self) -> tuple[str, ...]:
        return ("lab_a", "plain")

    def save(self, record: Record, *, moment: datetime, today: date) -> Saved:
        self._note("save", record)
        return Saved(changes=CHANGES, key=key_of(record)[1], told=self.told)

    def act(
        self, key: str, record: Record, values: Values, *, moment: datetime, today: date
    ) -> Saved:
        self._note(key, record, values)
        return Saved(changes=CHANGES, key=key_of(record)[1], warnings=self.warnings)

    def history(self, record: Record, *, fluids: Any, today: date) -> tuple[HistoryLine, ...]:
        return self.happened

    def act_on(
        self, key: str, line: HistoryLine, values: Values, *, moment: datetime, today: date
    ) -> Saved:
        self._note(key, line.subject, values)
        return Saved(changes=CHANGES, key=b"")

    def undo(self, record: Record, *, moment: datetime, today: date) -> Saved:
        self._note("undo", record)
        return Saved(changes=CHANGES, key=key_of(record)[1])

    def trail(self, record: Record) -> tuple[TrailLine, ...]:
        return self.lines

    def attach(self, record: Record, path: Path, *, moment: datetime) -> Saved:
        self._note("attach", record, path)
        return Saved(changes=CHANGES, key=key_of(record)[1])

    def open_paper(self, paper: bytes) -> Path:
        self._note("open", paper)
        return self.paper

    def preview_files(self, paths: Sequence[Path], *, today: date, progress: Any) -> Any:
        self._note("preview", tuple(paths))
        self._wait(progress)
        return self.preview

    def import_files(
        self, paths: Sequence[Path], *, preview: Any, moment: datetime, today: date, progress: Any
    ) -> RegisterImported:
        self._note("import", tuple(paths))
        self._wait(progress)
        return RegisterImported(files=self.preview.files, problems=(), moved=(), changes=CHANGES)

    def export_files(self, folder: Path) -> Sequence[ExportedFile]:
        self._note("export", folder)
        return (ExportedFile(path=str(folder / "machines.csv"), kind="machines", rows=20),)
