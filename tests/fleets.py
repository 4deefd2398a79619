"""Invented fleets for tests of services, commands and journeys: played once, copied for each test.

A folder's ``conftest.py`` imports the fixtures it needs from here.
"""

import csv
import shutil
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine, event, select

from fluiddesk.domain.identity import CompartmentId, SampleId, bottle_code
from fluiddesk.domain.samples import Sample, SampleReason, SampleState
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.catalogue import Catalogue, load_catalogue
from fluiddesk.services.lab_intake.facts import IntakePreview, IntakeResult
from fluiddesk.services.lab_intake.preview import preview_lab_file
from fluiddesk.services.lab_intake.take_in import take_in
from fluiddesk.services.reassess.fleet import BoxFacts
from fluiddesk.services.sample_fleet import play_sample_fleet
from fluiddesk.services.simulated_fleet.write import write_simulated_fleet
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import check_store, copy_store, open_store
from fluiddesk.storage.address import parse_address
from fluiddesk.storage.queries.condition import CONDITION_COLUMNS
from fluiddesk.storage.tables.every import METADATA

LAST_DAY = date(2026, 6, 30)
PLAYED_AT = datetime(2026, 6, 30, 6, tzinfo=UTC)
NOW = datetime(2026, 6, 30, 12, tzinfo=UTC)
CLERK = "Kim"

Dump = Mapping[str, Sequence[tuple[Any, ...]]]


@dataclass(frozen=True, kw_only=True)
class Fleet:
    """An open copy of the small fleet, with short ways to what tests ask of it."""

    place: Workplace
    address: str
    folder: Path

    def dump(self) -> Dump:
        return dump(self.address)

    def check(self) -> list[str]:
        return check_store(self.place.store)

    def boxes(self, kind: str = "", severity: Severity | None = None) -> list[BoxFacts]:
        with self.place.store.reading() as desk:
            boxes = [BoxFacts._make(row) for row in desk.boxes.rows()]
        return [
            box
            for box in boxes
            if kind in ("", box.kind) and (severity is None or box.severity == severity)
        ]

    def box(self, compartment: CompartmentId) -> BoxFacts:
        return next(box for box in self.boxes() if box.compartment_id == compartment)

    def condition(self, compartment: CompartmentId) -> dict[str, Any]:
        """How a box stands, by the names of the columns."""
        with self.place.store.reading() as desk:
            [row] = desk.condition.rows([compartment])
        return dict(zip(CONDITION_COLUMNS, row, strict=True))

    def samples(self, compartment: CompartmentId) -> list[Sample]:
        with self.place.store.reading() as desk:
            return desk.sampling.samples_of(compartment)

    def draw(
        self,
        box: BoxFacts,
        number: int,
        *,
        on: date = LAST_DAY - timedelta(2),
        trust: Trust = Trust.GOOD,
        trust_reason: str = "",
    ) -> str:
        """Draw a sample of a box that waits for the laboratory; its bottle code."""
        code = bottle_code(f"26T{number:05}")
        last = max((one.true_hours or 0.0 for one in self.samples(box.compartment_id)), default=0.0)
        with self.place.store.transaction(who=CLERK, moment=PLAYED_AT) as desk:
            sample = Sample(
                site=box.site_id,
                id=SampleId(desk.new_id()),
                compartment=box.compartment_id,
                bottle_code=code,
                reason=SampleReason.ROUTINE,
                state=SampleState.SHIPPED,
                taken_on=on,
                meter_value=None,
                true_hours=last + 1.0,
                fluid_hours=10.0,
                trust=trust,
                trust_reason=trust_reason,
            )
            desk.sampling.add_samples([sample])
        return code

    def lab_file(self, name: str, *rows: Mapping[str, object]) -> Path:
        """A file in our own layout; ``rows`` map headings to cells."""
        return write_lab_file(self.folder / name, *rows)

    def preview(self, file: Path) -> IntakePreview:
        return preview_lab_file(self.place, file, today=LAST_DAY)

    def take_in(self, file: Path, *, moment: datetime = NOW) -> IntakeResult:
        return take_in(self.place, self.preview(file), moment=moment, today=LAST_DAY)


class ServerTemplate:
    """The small fleet in a database of the server that the databases of tests are copied from."""

    def __init__(self) -> None:
        self._address = ""

    def put_at(self, address: str, file: Path) -> None:
        """Fill an empty database of the server with the small fleet."""
        name = parse_address(address).url.database
        with _maintenance(address) as server:
            if not self._address:
                template = f"{name}_template"
                server.execute(f"CREATE DATABASE {template}")
                self._address = address.replace(name, template)
                copy_store(str(file), self._address, moment=PLAYED_AT)
            template = parse_address(self._address).url.database
            server.execute(f"DROP DATABASE {name}")
            server.execute(f"CREATE DATABASE {name} TEMPLATE {template}")

    def drop(self) -> None:
        """Take the database away again."""
        if self._address:
            with _maintenance(self._address) as server:
                server.execute(
                    f"DROP DATABASE {parse_address(self._address).url.database} WITH (FORCE)"
                )


def _maintenance(address: str) -> Any:
    """A connection beside the named database, for making and dropping databases."""
    import psycopg

    name = parse_address(address).url.database
    return psycopg.connect(address.replace(f"/{name}", "/postgres"), autocommit=True)


@cache
def the_catalogue() -> Catalogue:
    """The program's catalogues, read once."""
    return load_catalogue()


def results(bottle: str, *, issue: int = 1, **values: object) -> dict[str, object]:
    """A row of a laboratory's file; values by analyte code, in mg/kg."""
    readings = {f"{code} [mg/kg]": value for code, value in values.items()}
    return {"bottle": bottle, "report": f"R-{bottle}", "issue": issue, **readings}


def write_lab_file(path: Path, *rows: Mapping[str, object]) -> Path:
    """A CSV file with one column for each heading any row has."""
    heads = list(dict.fromkeys(head for row in rows for head in row))
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, heads, restval="")
        writer.writeheader()
        writer.writerows(rows)
    return path


def dump(address: str) -> Dump:
    """Every row of every table, in an order that two dumps of the same rows share."""
    place = parse_address(address)
    engine = create_engine(place.url if place.url is not None else f"sqlite:///{place.path}")
    if place.is_file:
        event.listen(engine, "connect", lambda raw, _: raw.execute("PRAGMA query_only = 1"))
    try:
        with engine.connect() as connection:
            return {
                name: sorted(map(tuple, connection.execute(select(table))), key=repr)
                for name, table in METADATA.tables.items()
            }
    finally:
        engine.dispose()


def differing_tables(before: Dump, after: Dump) -> set[str]:
    """The tables whose rows are not the same in two dumps."""
    return {name for name in before if before[name] != after[name]}


@pytest.fixture(autouse=True)
def desk_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home of the test's own: nothing of the user's is read or written."""
    home = tmp_path / "home"
    monkeypatch.setenv("FLUIDDESK_HOME", str(home))
    return home


@pytest.fixture(scope="session")
def small_fleet_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Five machines over one year on two sites, written once; copy it, change it never."""
    target = tmp_path_factory.mktemp("small-fleet") / "small.fluiddesk"
    write_simulated_fleet(target, machines=5, years=1, seed=1, last_day=LAST_DAY, moment=PLAYED_AT)
    return target


@pytest.fixture(scope="session")
def sample_fleet_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample fleet, played once; copy it, change it never."""
    target = tmp_path_factory.mktemp("sample-fleet") / "sample.fluiddesk"
    play_sample_fleet(str(target), moment=PLAYED_AT)
    return target


@pytest.fixture
def fleet_file(small_fleet_file: Path, tmp_path: Path) -> Path:
    """A copy of the small fleet's file for one test."""
    return Path(shutil.copy(small_fleet_file, tmp_path / "fleet.fluiddesk"))


@pytest.fixture
def fleet(fleet_file: Path, tmp_path: Path) -> Iterator[Fleet]:
    """The small fleet in a file of the test's own, open."""
    yield from _opened(str(fleet_file), tmp_path)


@pytest.fixture(scope="session")
def server_template() -> Iterator[ServerTemplate]:
    """Holds the small fleet on the server, once a test asks for it."""
    template = ServerTemplate()
    yield template
    template.drop()


@pytest.fixture(params=["file", pytest.param("server", marks=pytest.mark.postgres)])
def either_fleet(
    request: pytest.FixtureRequest,
    fleet_file: Path,
    small_fleet_file: Path,
    server_template: "ServerTemplate",
    tmp_path: Path,
) -> Iterator[Fleet]:
    """The small fleet, once in a file and once on a PostgreSQL server."""
    address = str(fleet_file)
    if request.param == "server":
        address = request.getfixturevalue("postgres_address")
        server_template.put_at(address, small_fleet_file)
    yield from _opened(address, tmp_path)


def _opened(address: str, folder: Path) -> Iterator[Fleet]:
    store = open_store(address, busy_timeout_ms=50)
    place = Workplace(store=store, catalogue=the_catalogue(), who=CLERK)
    try:
        yield Fleet(place=place, address=address, folder=folder)
    finally:
        store.close()
