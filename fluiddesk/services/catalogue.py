"""Reads the catalogues of ``resources/catalogue``: analytes, fluids, kinds and starting limits."""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fluiddesk import assets
from fluiddesk.domain.analytes import Analyte, AnalyteFamily, Precision, Span
from fluiddesk.domain.fluids.product import FluidProduct, NewFluidReference
from fluiddesk.domain.limits.limit_set import ACCEPTED, Limit, LimitKind, Scope, check_limit

if TYPE_CHECKING:
    from fluiddesk.domain.limits.combining import Companions, Pattern

Table = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class CompartmentKind:
    """A kind of fluid-wetted box, with what is usual for it. ``order`` follows the power path."""

    code: str
    name: str
    short: str
    group: str
    order: int
    interval_hours: float | None
    interval_days: int | None
    capacity_l: float
    residue_share: float
    sampling_point: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineKind:
    """A kind of machine and the boxes it usually has, as (compartment kind, position)."""

    code: str
    name: str
    boxes: tuple[tuple[str, str], ...]
    capacities_l: tuple[float | None, ...]
    hours_per_day: float


@dataclass(frozen=True)
class Catalogue:
    """Everything the catalogue files say, by code and in display order.

    Each file is read when it is first asked for. ``KeyError`` and ``ValueError`` come of a file of
    the program that breaks its format; the tests read them all.
    """

    folder: Path

    @cached_property
    def analytes(self) -> Mapping[str, Analyte]:
        """What laboratories report."""
        return {one.code: one for one in map(_analyte, _read(self.folder, "analytes")["analyte"])}

    @cached_property
    def compartment_kinds(self) -> Mapping[str, CompartmentKind]:
        """Kinds of boxes along the power path."""
        kinds = map(_compartment_kind, _read(self.folder, "compartment_kinds")["kind"])
        return {one.code: one for one in sorted(kinds, key=lambda kind: kind.order)}

    @cached_property
    def machine_kinds(self) -> Mapping[str, MachineKind]:
        """Kinds of machines."""
        kinds = map(_machine_kind, _read(self.folder, "machine_kinds")["kind"])
        return {one.code: one for one in kinds}

    @cached_property
    def fluids(self) -> Mapping[str, FluidProduct]:
        """Oils and coolants."""
        return {one.code: one for one in map(_fluid, _read(self.folder, "fluids")["fluid"])}

    @cached_property
    def starter_limits(self) -> tuple[Limit, ...]:
        """The starter limits, one for each compartment kind; read when first asked for."""
        return tuple(_starter_limits(self.folder / "limit_sets"))

    @cached_property
    def companions(self) -> "Companions":
        """Which analytes corroborate each other; read when first asked for."""
        from fluiddesk.domain.limits.combining import Companions

        table = _read(self.folder, "companions")
        return Companions(
            patterns=tuple(map(_pattern, table["pattern"])),
            unsafe_fluid=frozenset(table["unsafe_fluid"]["analytes"]),
            group_of={code: kind.group for code, kind in self.compartment_kinds.items()},
            fluid_clears=frozenset(table["leaves_with_fluid"]["analytes"]),
        )

    @cached_property
    def by_number(self) -> Mapping[int, Analyte]:
        """Analytes by the number that packed history uses."""
        return {analyte.number: analyte for analyte in self.analytes.values()}

    def kind_name(self, code: str) -> str:
        """The words for a compartment kind; its code where the catalogue lacks it."""
        kind = self.compartment_kinds.get(code)
        return kind.name if kind else code.replace("_", " ").capitalize()

    def machine_kind_name(self, code: str) -> str:
        """The words for a machine kind; its code where the catalogue lacks it."""
        kind = self.machine_kinds.get(code)
        return kind.name if kind else code.replace("_", " ").capitalize()

    def box_name(self, kind: str, position: str) -> str:
        """The words for a box: "Final drive, left"."""
        name = self.kind_name(kind)
        return f"{name}, {position.replace('_', ' ')}" if position else name


def load_catalogue(folder: Path | None = None) -> Catalogue:
    """The catalogue files of a folder; the program's own by default."""
    return Catalogue(assets.resource("catalogue") if folder is None else folder)


def _read(folder: Path, name: str) -> Table:
    return tomllib.loads((folder / f"{name}.toml").read_text(encoding="utf-8"))


def _span(table: Table | None) -> Span | None:
    if table is None:
        return None
    return Span(low=float(table["low"]), high=float(table["high"]), source=table["source"])


def _precision(table: Table | None) -> Precision | None:
    if table is None:
        return None
    return Precision(
        form=table["form"],
        a=float(table["a"]),
        b=float(table.get("b", 1.0)),
        source=table["source"],
    )


def _analyte(table: Table) -> Analyte:
    detection = table.get("detection_limit")
    usual = {group: _span(span) for group, span in table.get("usual", {}).items()}
    return Analyte(
        number=table["number"],
        code=table["code"],
        name=table["name"],
        symbol=table["symbol"],
        family=AnalyteFamily(table["family"]),
        unit=table["unit"],
        decimals=table["decimals"],
        harmful=table["harmful"],
        method=table["method"],
        order=table["order"],
        is_safety_test=table.get("safety", False),
        significant_figures=table.get("significant_figures"),
        plausible=_span(table.get("plausible")),
        usual={group: span for group, span in usual.items() if span is not None},
        detection_limit=None if detection is None else float(detection["value"]),
        detection_source=None if detection is None else detection["source"],
        repeatability=_precision(table.get("repeatability")),
        reproducibility=_precision(table.get("reproducibility")),
        synonyms=tuple(table.get("synonyms", ())),
    )


def _compartment_kind(table: Table) -> CompartmentKind:
    interval = table.get("default_interval", {})
    return CompartmentKind(
        code=table["code"],
        name=table["name"],
        short=table["short"],
        group=table["group"],
        order=table["order"],
        interval_hours=interval.get("hours"),
        interval_days=interval.get("days"),
        capacity_l=float(table["default_capacity"]["litres"]),
        residue_share=float(table["residue_share"]["value"]),
        sampling_point=table.get("sampling_point", ""),
    )


def _machine_kind(table: Table) -> MachineKind:
    boxes = table["compartments"]
    daily = table.get("daily_hours", {})
    return MachineKind(
        code=table["code"],
        name=table["name"],
        boxes=tuple((box["kind"], box.get("position", "")) for box in boxes),
        capacities_l=tuple(
            float(box["capacity"]["litres"]) if "capacity" in box else None for box in boxes
        ),
        hours_per_day=float(daily.get("value", 8.0)),
    )


def _fluid(table: Table) -> FluidProduct:
    return FluidProduct(
        code=table["code"],
        name=table["name"],
        fluid_class=table["fluid_class"],
        viscosity_grade=table.get("viscosity_grade", ""),
        density_kg_per_l=float(table["density_kg_per_l"]["value"]),
        references=tuple(
            NewFluidReference(
                valid_from=_day(reference["valid_from"]),
                values={code: float(value) for code, value in reference["values"].items()},
                source=reference["source"],
            )
            for reference in table.get("reference", ())
        ),
    )


def _pattern(table: Table) -> "Pattern":
    from fluiddesk.domain.limits.combining import Pattern

    return Pattern(
        code=table["code"],
        name=table["name"],
        groups=tuple(table.get("groups", ())),
        signs=tuple((code, direction) for code, direction in table["signs"]),
        source=table["source"],
        against=tuple(table.get("against", ())),
    )


def _day(value: date | str) -> date:
    return value if isinstance(value, date) else date.fromisoformat(value)


def _starter_limits(folder: Path) -> Iterable[Limit]:
    for path in sorted(folder.glob("starter_*.toml")):
        for table in tomllib.loads(path.read_text(encoding="utf-8"))["limit"]:
            for kind in table["compartment_kinds"]:
                limit = starter_limit(table, compartment_kind=kind)
                check_limit(limit)
                yield limit


def starter_limit(table: Table, *, compartment_kind: str) -> Limit:
    """One limit of a catalogue file for one of the compartment kinds it lists."""
    return Limit(
        scope=Scope(compartment_kind=compartment_kind, fluid_class=table.get("fluid_class", "")),
        analyte=table["analyte"],
        kind=LimitKind(table["kind"]),
        direction=table["direction"],
        watch=_bound(table, "watch"),
        act=_bound(table, "act"),
        urgent=_bound(table, "urgent"),
        source=table["source"],
        set_by="starter set",
        boundary=table.get("boundary", "at"),
        group=table.get("group", ""),
        act_needs=table.get("act_needs", 1),
        urgent_needs=table.get("urgent_needs", 1),
        note=_starter_note(table),
        companion=table.get("companion", ""),
        least_change=_bound(table, "least_change"),
    )


def _starter_note(table: Table) -> str:
    """The row's note; steps within repeatability carry the reason why they stand all the same."""
    reason = table.get("repeatability_exception", "")
    parts = (table.get("note", ""), f"{ACCEPTED} {reason}" if reason else "")
    return " ".join(part for part in parts if part)


def _bound(table: Table, name: str) -> float | None:
    return float(table[name]) if name in table else None
