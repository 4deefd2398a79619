"""One import in an open transaction: what each file did, what is wrong, and what it touched."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final

from fluiddesk.domain.fleet import Meter
from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId
from fluiddesk.intake.problems import KEPT_IN_DETAIL, Problem, ProblemSeverity
from fluiddesk.intake.values import Fault
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.register_files.counting import RowCount
from fluiddesk.services.register_files.facts import FileOutcome, FileProblem
from fluiddesk.services.register_files.reading import FileRow, ReadFile
from fluiddesk.services.register_files.register_index import Record, RegisterIndex
from fluiddesk.storage import Desk, RecordKey

WHOLE_FILE: Final = FileRow(number=0, values={}, is_sound=True)
"""Where a problem belongs to no row."""


@dataclass(slots=True, kw_only=True)
class Touched:
    """What an import touched, for what must be worked out anew afterwards.

    ``judged``: compartments whose verdicts may change; ``fluids``: fluids whose class or reference
    changed; ``states``: what machines.csv says of machines; ``metered``: machines with new readings
    or meters; ``meters_before``: their meters as they stood, where they changed, and
    ``meters_since`` the first day from which they count differently.
    """

    judged: set[CompartmentId] = field(default_factory=set)
    fluids: set[str] = field(default_factory=set)
    states: dict[bytes, str] = field(default_factory=dict)
    metered: set[MachineId] = field(default_factory=set)
    meters_before: dict[MachineId, list[Meter]] = field(default_factory=dict)
    meters_since: dict[MachineId, date] = field(default_factory=dict)
    meter_rows: dict[bytes, "Origin"] = field(default_factory=dict)
    readings: list["NewReading"] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Origin:
    """The row of a file that a record came from."""

    file: "FileWork"
    row: FileRow


@dataclass(frozen=True, slots=True, kw_only=True)
class NewReading:
    """A meter reading of a file that is not on the register yet."""

    site: SiteId
    machine: MachineId
    read_on: date
    value: float
    source: str
    origin: Origin


@dataclass(slots=True, kw_only=True)
class ImportWork:
    """Everything the import of several files shares."""

    desk: Desk
    catalogue: Catalogue
    today: date
    index: RegisterIndex
    count: RowCount
    touched: Touched = field(default_factory=Touched)
    problems: list[FileProblem] = field(default_factory=list)
    problem_count: int = 0
    refusals: int = 0
    doubtful_sites: set[str] = field(default_factory=set)
    doubtful_machines: set[str] = field(default_factory=set)
    """Names in rows that were refused: what hangs on them is not told again."""

    def note(self, file: str, problem: Problem) -> None:
        """Keep a problem; beyond a few thousand they are only counted."""
        refuses = problem.severity is not ProblemSeverity.WARNING
        self.problem_count += 1
        self.refusals += refuses
        if len(self.problems) < KEPT_IN_DETAIL or (refuses and self.refusals == 1):
            self.problems.append(_file_problem(file, problem, refuses=refuses))


def _file_problem(file: str, problem: Problem, *, refuses: bool) -> FileProblem:
    return FileProblem(
        file=file,
        row=problem.row,
        column=problem.column or "",
        value=problem.printed or "",
        text=problem.text().removesuffix(problem.remedy).strip(),
        remedy=problem.remedy,
        refuses=refuses,
    )


@dataclass(slots=True, kw_only=True)
class FileWork:
    """The import of one file."""

    shared: ImportWork
    file: ReadFile
    added: int = 0
    changed: int = 0
    unchanged: int = 0
    seen: dict[Any, int] = field(default_factory=dict)
    added_at: dict[SiteId, int] = field(default_factory=dict)
    lacking: set[str] = field(default_factory=set)

    @property
    def desk(self) -> Desk:
        """The open transaction."""
        return self.shared.desk

    @property
    def index(self) -> RegisterIndex:
        """The register by names."""
        return self.shared.index

    def rows(self) -> Iterator[FileRow]:
        """The file's rows, each counted once its turn comes."""
        for row in self.file.rows:
            self.shared.count.step()
            yield row

    @property
    def outcome(self) -> FileOutcome:
        """What the file did."""
        return FileOutcome(
            file=self.file.name,
            kind=self.file.kind.name,
            sha256=self.file.sha256,
            rows=len(self.file.rows),
            added=self.added,
            changed=self.changed,
            unchanged=self.unchanged,
        )

    def refuse(self, row: FileRow, column: str, fault: Fault, value: object = None) -> None:
        """A problem that stands in the way of the whole import."""
        self._note(row, column, fault, value, ProblemSeverity.HELD)

    def warn(self, row: FileRow, column: str, fault: Fault, value: object = None) -> None:
        """Something to look at."""
        self._note(row, column, fault, value, ProblemSeverity.WARNING)

    def _note(
        self, row: FileRow, column: str, fault: Fault, value: object, severity: ProblemSeverity
    ) -> None:
        printed = None if value is None or value == "" else str(value)
        self.shared.note(
            self.file.name,
            Problem(
                row=row.number or None,
                column=column or None,
                printed=printed,
                wrong=fault.wrong,
                remedy=fault.remedy,
                severity=severity,
            ),
        )

    def is_repeated(self, row: FileRow, key: Any, column: str, value: str) -> bool:
        """Whether a row stands for the same record as an earlier one, which is refused."""
        first = self.seen.setdefault(key, row.number)
        if first == row.number:
            return False
        fault = Fault(
            f"is the same {self.file.kind.thing} as in row {first}", "Take one of the rows out."
        )
        self.refuse(row, column, fault, value)
        return True

    def lacks(self, row: FileRow, needed: tuple[str, ...] | None = None) -> bool:
        """Whether the file lacks a column that a new record cannot be without.

        That is refused, and told once for the whole file.
        """
        columns = [
            column
            for column in self.file.kind.columns
            if column.needed and (needed is None or column.name in needed)
        ]
        missing = [column for column in columns if column.name not in self.file.given]
        for column in missing:
            if column.name not in self.lacking:
                self.lacking.add(column.name)
                remedy = f"Row {row.number} needs it. {column.remedy}"
                fault = Fault("the file has no such column", remedy)
                self.refuse(WHOLE_FILE, column.name, fault)
        return bool(missing)

    def count_added(self, site: SiteId, count: int = 1) -> None:
        """Count new records."""
        self.added += count
        self.added_at[site] = self.added_at.get(site, 0) + count

    def tell_trail(self) -> None:
        """One line of the audit trail for each site with new records: what came from which file."""
        kind = self.file.kind
        for site, count in sorted(self.added_at.items()):
            what = f"{count} {kind.thing if count == 1 else kind.things} from {self.file.name}"
            told = {"file": self.file.name, "sha256": self.file.sha256, "added": count}
            self.desk.audit.append(site, what, None, told)

    def site_of(self, row: FileRow) -> Record | None:
        """The site a row names; refused where there is none."""
        name = row.values.get("site", "")
        found = self.index.site(name)
        if isinstance(found, Fault):
            if name.casefold() not in self.shared.doubtful_sites:
                self.refuse(row, "site", found, name)
            return None
        return found

    def machine_of(self, row: FileRow) -> Record | None:
        """The machine a row names; refused where there is none."""
        site = self.site_of(row)
        code = row.values.get("machine")
        if code is None:
            self.lacks(row, ("machine",))
        if site is None or code is None:
            return None
        found = self.index.machine(site["site_id"], code)
        if isinstance(found, Fault):
            self.refuse(row, "machine", found, code)
            return None
        if found is None and code.casefold() not in self.shared.doubtful_machines:
            remedy = "Correct the number, or import it in machines.csv too."
            self.refuse(row, "machine", Fault("is no machine of the register", remedy), code)
        return found

    def kind_of_box(self, row: FileRow) -> str | None:
        """The kind of compartment a row names; refused where there is none."""
        text = row.values.get("compartment")
        if text is None:
            self.lacks(row, ("compartment",))
            return None
        found = self.index.compartment_kind(text)
        if isinstance(found, Fault):
            self.refuse(row, "compartment", found, text)
            return None
        return found

    def box_of(self, row: FileRow) -> Record | None:
        """The compartment a row names; refused where there is none."""
        machine = self.machine_of(row)
        kind = self.kind_of_box(row)
        if machine is None or kind is None:
            return None
        position = row.values.get("position", "")
        found = self.index.box(machine, kind, position)
        if found is None and machine["code"].casefold() not in self.shared.doubtful_machines:
            told = f"{kind} {position}".strip()
            fault = Fault(
                f"is no compartment of machine {machine['code']}",
                f"It has: {self.index.box_names(machine)}. Correct compartment or position, or "
                "import it in compartments.csv too.",
            )
            self.refuse(row, "compartment", fault, told)
        return found

    def fluid_of(self, row: FileRow, column: str = "fluid") -> str | None:
        """The code of the fluid a row names; refused where there is none."""
        text = row.values.get(column, "")
        found = self.index.fluid(text)
        if isinstance(found, Fault):
            self.refuse(row, column, found, text)
            return None
        return found

    def edit(
        self, key: RecordKey, old: Record, new: Mapping[str, Any], *, name: str
    ) -> tuple[str, ...]:
        """Change what differs of a record, with a line in the audit trail; the columns changed."""
        changed = tuple(column for column, value in new.items() if old[column] != value)
        if not changed:
            self.unchanged += 1
            return ()
        values = {column: new[column] for column in changed}
        self.desk.register.change(key, values, version=None, name=name, on=self.shared.today)
        old.update(values)
        self.changed += 1
        return changed
