"""The register written out as files that read back into the same register."""

import csv
import json
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from fluiddesk.domain.errors import CannotWriteError
from fluiddesk.services.register.desk_lists import read_test_lists
from fluiddesk.services.register_files.cells import written
from fluiddesk.services.register_files.columns import FILE_KINDS, FileKind
from fluiddesk.services.register_files.facts import ExportedFile
from fluiddesk.services.register_files.register_index import (
    BOX_COLUMNS,
    FLUID_COLUMNS,
    MACHINE_COLUMNS,
    SITE_COLUMNS,
    Record,
    records,
)
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKind

Values = Mapping[str, Any]


def export_register(place: Workplace, folder: Path) -> tuple[ExportedFile, ...]:
    """Write every list of the register into a folder, as CSV in UTF-8; empty lists too.

    Files of an empty list hold the headings alone, for filling in.

    Raises:
        CannotWriteError: when the folder cannot be written, or holds such a file already.
    """
    with place.store.reading() as desk:
        lists = [(kind, *_told(kind, desk)) for kind in FILE_KINDS]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return tuple(_write(folder, kind, heads, rows) for kind, heads, rows in lists)
    except FileExistsError as fault:
        raise CannotWriteError(
            f"{fault.filename} is there already; files are never written over. Choose an empty "
            "folder."
        ) from fault
    except OSError as fault:
        raise CannotWriteError(f"{folder} cannot be written: {fault.strerror}.") from fault


def _write(
    folder: Path, kind: FileKind, heads: Sequence[str], rows: Sequence[Values]
) -> ExportedFile:
    path = folder / f"{kind.name}.csv"
    # The mark at the start tells spreadsheet programs that the text is UTF-8.
    with path.open("x", encoding="utf-8-sig", newline="") as text:
        writer = csv.writer(text)
        writer.writerow(heads)
        lines = [[written(row.get(head)) for head in heads] for row in rows]
        # Of two references of one day the later one holds: they keep their order.
        writer.writerows(lines if kind.takes_analytes else sorted(lines))
    return ExportedFile(path=str(path), kind=kind.name, rows=len(rows))


def _told(kind: FileKind, desk: Desk) -> tuple[list[str], list[Values]]:
    """Headings and rows of one list."""
    heads = [column.name for column in kind.columns]
    rows = list(_LISTS[kind.name](_Names(desk)))
    if kind.takes_analytes:
        used = {name for row in rows for name in row} - set(heads)
        order = desk.catalogue.analytes()
        heads += sorted(used, key=lambda name: (order.get(name, 0), name))
    return heads, rows


class _Names:
    """The register by identifiers, for writing names."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.sites = {one["site_id"]: one for one in records(desk, "site", SITE_COLUMNS)}
        self.machines = {one["id"]: one for one in records(desk, "machine", MACHINE_COLUMNS)}

    def machine(self, key: bytes) -> dict[str, Any]:
        """The columns that name a machine."""
        machine = self.machines[key]
        return {"site": self.sites[machine["site_id"]]["name"], "machine": machine["code"]}

    def boxes(self) -> dict[bytes, Record]:
        """Every compartment by identifier."""
        return {one["id"]: one for one in records(self.desk, "compartment", BOX_COLUMNS)}

    def box(self, box: Record) -> dict[str, Any]:
        """The columns that name a compartment."""
        return {
            **self.machine(box["machine_id"]),
            "compartment": box["kind"],
            "position": box["position"],
        }


def _sites(names: _Names) -> Iterator[Values]:
    for one in names.sites.values():
        shares = json.loads(one["dust_shares"])
        yield {**one, "site": one["name"], "dust_shares": shares or None}


def _fluids(names: _Names) -> Iterator[Values]:
    for one in records(names.desk, "fluid", FLUID_COLUMNS):
        yield {**one, "fluid": one["code"]}


def _references(names: _Names) -> Iterator[Values]:
    for fluid in names.desk.catalogue.fluids():
        for one in fluid.references:
            values = {code: float(value) for code, value in one.values.items()}
            known = {"fluid": fluid.code, "valid_from": one.valid_from, "source": one.source}
            yield {**values, **known}


def _batches(names: _Names) -> Iterator[Values]:
    columns = ("site_id", "fluid_code", "batch", "delivered_on", "reference_number")
    references = names.desk.catalogue.references()
    for one in records(names.desk, "fluid_batch", columns):
        number = one["reference_number"]
        since = None if number is None else references[number].valid_from
        site = names.sites[one["site_id"]]["name"]
        yield {**one, "site": site, "fluid": one["fluid_code"], "reference_from": since}


def _tanks(names: _Names) -> Iterator[Values]:
    for one in names.desk.register.all(RecordKind.TANK):
        site = names.sites[one["site_id"]]["name"]
        yield {**one, "site": site, "tank": one["code"], "fluid": one["fluid_code"]}


def _laboratories(names: _Names) -> Iterator[Values]:
    for one in names.desk.register.all(RecordKind.LABORATORY):
        yield {**one, "laboratory": one["code"]}


def _methods(names: _Names) -> Iterator[Values]:
    for one in names.desk.register.all(RecordKind.LABORATORY):
        for analyte, method in json.loads(one["methods"]).items():
            yield {"laboratory": one["code"], "analyte": analyte, "method": method}


def _test_lists(names: _Names) -> Iterator[Values]:
    for one in read_test_lists(names.desk):
        yield {
            "test_list": one.code,
            "name": one.name,
            "analytes": one.analytes,
            "compartment_kinds": one.compartment_kinds,
            "note": one.note,
            "retired": one.retired,
        }


def _machines(names: _Names) -> Iterator[Values]:
    owners = Counter(one["machine_uuid"] for one in names.machines.values())
    for key, one in names.machines.items():
        lasting = one["machine_uuid"]
        # A machine that never changed hands keeps no other identity than its own.
        is_alone = lasting == key and owners[lasting] == 1
        yield {**one, **names.machine(key), "lasting_id": None if is_alone else lasting}


def _states(names: _Names) -> Iterator[Values]:
    for one in records(
        names.desk, "machine_state_history", ("machine_id", "since", "state", "note")
    ):
        yield {**one, **names.machine(one["machine_id"])}


def _transfers(names: _Names) -> Iterator[Values]:
    for one in names.desk.register.all(RecordKind.TRANSFER):
        after = names.machine(one["to_machine_id"])
        to = {"to_site": after["site"], "to_machine": after["machine"]}
        yield {**one, **names.machine(one["machine_id"]), **to}


def _meters(names: _Names) -> Iterator[Values]:
    columns = (
        "machine_id", "kind", "fitted_on", "start_value", "hours_before", "rolls_over_at",
        "removed_on", "end_value",
    )  # fmt: skip
    for one in records(names.desk, "meter", columns):
        yield {**one, **names.machine(one["machine_id"]), "unit": one["kind"]}


def _readings(names: _Names) -> Iterator[Values]:
    columns = ("machine_id", "read_on", "value", "source", "voided_reason")
    for one in records(names.desk, "meter_reading", columns):
        if one["voided_reason"] is None:
            yield {**one, **names.machine(one["machine_id"])}


def _compartments(names: _Names) -> Iterator[Values]:
    for one in names.boxes().values():
        given = {"fluid": one["fluid_code"], "test_list": one["test_list_code"]}
        yield {**one, **names.box(one), **given}


def _points(names: _Names) -> Iterator[Values]:
    columns = (
        "compartment_id", "kind", "location", "marking", "run_state", "flush_ml", "tube_mm",
        "hazards", "retired",
    )  # fmt: skip
    boxes = names.boxes()
    for one in records(names.desk, "sampling_point", columns):
        yield {**one, **names.box(boxes[one["compartment_id"]])}


def _fits(names: _Names) -> Iterator[Values]:
    columns = (
        "compartment_id", "serial", "fitted_on", "fitted_at_hours", "hours_before", "condition",
        "removed_on", "removed_at_hours", "reason",
    )  # fmt: skip
    boxes = names.boxes()
    for one in records(names.desk, "component_fit", columns):
        yield {**one, **names.box(boxes[one["compartment_id"]])}


def _events(names: _Names) -> Iterator[Values]:
    columns = (
        "compartment_id", "kind", "happened_on", "true_hours", "litres", "fluid_code", "certainty",
        "source", "note", "superseded_by",
    )  # fmt: skip
    boxes = names.boxes()
    for one in records(names.desk, "compartment_event", columns):
        if one["superseded_by"] is None:
            box = names.box(boxes[one["compartment_id"]])
            yield {**one, **box, "machine_hours": one["true_hours"], "fluid": one["fluid_code"]}


_LISTS: Final[Mapping[str, Callable[[_Names], Iterator[Values]]]] = {
    "sites": _sites,
    "fluids": _fluids,
    "fluid_references": _references,
    "fluid_batches": _batches,
    "tanks": _tanks,
    "laboratories": _laboratories,
    "laboratory_methods": _methods,
    "test_lists": _test_lists,
    "machines": _machines,
    "machine_states": _states,
    "machine_transfers": _transfers,
    "meters": _meters,
    "meter_readings": _readings,
    "compartments": _compartments,
    "points": _points,
    "component_fits": _fits,
    "events": _events,
}
