"""An invented register for tests of the Register page, and use cases that only remember."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

from fluiddesk.desktop.viewstate.record_form import Values
from fluiddesk.desktop.viewstate.record_trail import TrailLine
from fluiddesk.desktop.viewstate.register_words import Record, key_of
from fluiddesk.domain.fleet import MachineState
from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId
from fluiddesk.services.catalogue import load_catalogue
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.register.facts import (
    CompartmentFacts,
    FluidFacts,
    LaboratoryFacts,
    MachineFacts,
    MeterFacts,
    MissingFact,
    PointFacts,
    RegisterFacts,
    SiteFacts,
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
    )


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


@dataclass
class CallsDouble:
    """Use cases that answer from a kept register and remember what was asked."""

    register: RegisterFacts = field(default_factory=make_register)
    asked: list[tuple[Any, ...]] = field(default_factory=list)
    error: Exception | None = None
    preview: RegisterPreview = PREVIEW
    lines: tuple[TrailLine, ...] = ()

    def _note(self, *asked: Any) -> None:
        self.asked.append(asked)
        if self.error is not None:
            error, self.error = self.error, None
            raise error

    def facts(self, *, today: date) -> RegisterFacts:
        return self.register

    def layouts(self) -> tuple[str, ...]:
        return ("lab_a", "plain")

    def save(self, record: Record, *, moment: datetime, today: date) -> Saved:
        self._note("save", record)
        return Saved(changes=CHANGES, key=key_of(record)[1])

    def act(
        self, key: str, record: Record, values: Values, *, moment: datetime, today: date
    ) -> Saved:
        self._note(key, record, values)
        return Saved(changes=CHANGES, key=key_of(record)[1])

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
        return Path("paper.pdf")

    def preview_files(self, paths: Sequence[Path], *, today: date, progress: Any) -> Any:
        self._note("preview", tuple(paths))
        return self.preview

    def import_files(
        self, paths: Sequence[Path], *, preview: Any, moment: datetime, today: date, progress: Any
    ) -> RegisterImported:
        self._note("import", tuple(paths))
        return RegisterImported(files=self.preview.files, problems=(), moved=(), changes=CHANGES)

    def export_files(self, folder: Path) -> Sequence[ExportedFile]:
        self._note("export", folder)
        return (ExportedFile(path=str(folder / "machines.csv"), kind="machines", rows=20),)
