"""An empty database with its catalogues, and short ways to put register files before it."""

import csv
import shutil
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from fluiddesk.services.founding import found
from fluiddesk.services.register_files.export import export_register
from fluiddesk.services.register_files.facts import RegisterImported, RegisterPreview
from fluiddesk.services.register_files.take_in import (
    import_register_files,
    preview_register_files,
)
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import check_store, open_store
from tests.fleets import (
    CLERK,
    LAST_DAY,
    NOW,
    PLAYED_AT,
    Dump,
    desk_home,
    dump,
    either_fleet,
    fleet,
    fleet_file,
    server_template,
    small_fleet_file,
    the_catalogue,
)

__all__ = [
    "desk_home", "either_fleet", "fleet", "fleet_file", "server_template", "small_fleet_file",
]  # fmt: skip

Cells = Mapping[str, object]

SITE = {"site": "North pit"}
MACHINE = {"machine": "EX-01", "kind": "excavator", "model": "excavator 30 t"}
ENGINE = {
    "machine": "EX-01", "compartment": "engine", "fluid": "engine_oil_15w40", "capacity_l": 38,
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Register:
    """A database of the test's own, and files in a folder of its own."""

    place: Workplace
    address: str
    folder: Path

    def file(self, name: str, *rows: Cells, delimiter: str = ",") -> Path:
        """A CSV file with one column for each heading any row has."""
        return write_file(self.folder / name, rows, delimiter=delimiter)

    def preview(self, *files: Path) -> RegisterPreview:
        return preview_register_files(self.place, files, today=LAST_DAY)

    def take_in(self, *files: Path) -> RegisterImported:
        return import_register_files(self.place, files, today=LAST_DAY, moment=NOW)

    def set_up(self, *compartments: Cells) -> None:
        """One site with one excavator, and compartments of it."""
        files = [self.file("sites.csv", SITE), self.file("machines.csv", MACHINE)]
        if compartments:
            files.append(self.file("compartments.csv", *compartments))
        self.take_in(*files)

    def told(self, kind: str) -> list[dict[str, str]]:
        """One list of the register as it is exported."""
        folder = self.folder / f"export {len(list(self.folder.iterdir()))}"
        export_register(self.place, folder)
        with (folder / f"{kind}.csv").open(encoding="utf-8-sig", newline="") as text:
            return list(csv.DictReader(text))

    def dump(self) -> Dump:
        return dump(self.address)

    def check(self) -> list[str]:
        return check_store(self.place.store)


def write_file(path: Path, rows: Sequence[Cells], *, delimiter: str = ",") -> Path:
    heads = list(dict.fromkeys(head for row in rows for head in row))
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, heads, restval="", delimiter=delimiter)
        writer.writeheader()
        writer.writerows(rows)
    return path


@pytest.fixture(scope="session")
def empty_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A new database without machines, written once; copy it, change it never."""
    target = tmp_path_factory.mktemp("empty") / "empty.fluiddesk"
    found(str(target), the_catalogue(), who=CLERK, moment=PLAYED_AT)
    return target


@pytest.fixture
def register(empty_file: Path, tmp_path: Path) -> Iterator[Register]:
    """An empty register."""
    yield from opened(empty_file, tmp_path, "register")


@pytest.fixture
def other_register(empty_file: Path, tmp_path: Path) -> Iterator[Register]:
    """A second empty register, for what the first one exports."""
    yield from opened(empty_file, tmp_path, "other register")


def opened(empty_file: Path, tmp_path: Path, name: str) -> Iterator[Register]:
    folder = tmp_path / name
    folder.mkdir()
    file = Path(shutil.copy(empty_file, folder / "register.fluiddesk"))
    files = folder / "files"
    files.mkdir()
    with open_store(str(file), busy_timeout_ms=50) as store:
        place = Workplace(store=store, catalogue=the_catalogue(), who=CLERK)
        yield Register(place=place, address=str(file), folder=files)


def lines(told: RegisterPreview) -> list[str]:
    """Every problem in one line, those that refuse first."""
    return [one.line for one in sorted(told.problems, key=lambda one: not one.refuses)]


def only_problem(told: RegisterPreview) -> Any:
    [problem] = told.problems
    return problem
