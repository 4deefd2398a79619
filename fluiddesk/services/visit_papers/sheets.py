"""One sheet for each visit, in working order, and the kit for a round of them."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import ceil
from pathlib import Path
from typing import Final

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.samples import DrawMethod, SampleReason
from fluiddesk.services.visit_papers.facts import Kit, KitLine, Sheet, SheetRow, Way
from fluiddesk.services.visit_papers.procedures import Procedure, load_procedure
from fluiddesk.services.visits.facts import BoxOutcome, Visit, VisitBox
from fluiddesk.services.visits.read import visits
from fluiddesk.services.visits.working_order import PointFacts, default_points, point_of
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import RecordKind

USUAL_FLUSH_ML: Final = 60.0
"""About half a sample bottle of 120 ml (common practice, no source)."""

_ML: Final = 1000.0
"""Millilitres in a litre."""

SPECIAL: Final = frozenset({SampleReason.RESAMPLE, SampleReason.SPECIAL})
_FAMILIES: Final = {"coolant": "coolant", "fuel": "fuel"}


@dataclass(frozen=True, slots=True)
class _Around:
    """What the sheets take from the register beside the visits."""

    place: Workplace
    procedure: Procedure
    points: Mapping[bytes, PointFacts]
    only_drains: frozenset[bytes]
    fluids: Mapping[str, str]


def visit_sheets(
    place: Workplace,
    visit_ids: Sequence[bytes],
    *,
    today: date,
    own_folder: Path | None = None,
) -> tuple[Sheet, ...]:
    """The sheets of some visits, by day, site, area and machine.

    Args:
        place: where to look.
        visit_ids: the visits.
        today: the day.
        own_folder: the desk's data folder, for a procedure of the site's own.

    Raises:
        NotFoundError: when a visit is not there.
        OperatorError: when the procedure cannot be read.
    """
    found = visits(place, today=today, ids=set(visit_ids))
    if len(found) != len(set(visit_ids)):
        raise NotFoundError("A visit is no longer in the store. Read the plan again.")
    with place.store.reading() as desk:
        rows = desk.register.all(RecordKind.POINT)
        fluids = {one.code: one.name for one in desk.fleet.fluids()}
    in_use = [row for row in rows if not row["retired"]]
    drained = {row["compartment_id"] for row in in_use if row["kind"] == "drain"}
    others = {row["compartment_id"] for row in in_use if row["kind"] != "drain"}
    around = _Around(
        place,
        load_procedure(own_folder),
        default_points(rows),
        frozenset(drained - others),
        fluids,
    )
    return tuple(_sheet(one, around) for one in found)


def _sheet(visit: Visit, around: _Around) -> Sheet:
    boxes = [one for one in visit.boxes if one.outcome is BoxOutcome.OPEN]
    rows = tuple(_row(one, around) for one in boxes if not _no_way(one, around))
    procedure, kinds = around.procedure, around.place.catalogue.compartment_kinds
    groups = [kinds[one.kind].group for one in boxes if one.kind in kinds]
    warm = [text for group, text in procedure.warm_up.items() if group in groups] or [
        "worked until the fluids are warm and mixed"
    ]
    methods = {row.method for row in rows}
    return Sheet(
        machine=visit.machine,
        machine_kind=around.place.catalogue.machine_kind_name(visit.machine_kind),
        site=visit.site,
        area=visit.area,
        planned_on=visit.planned_on,
        crew=visit.crew,
        minutes=visit.minutes,
        rows=rows,
        before=tuple(one.replace("{warm_up}", "; ".join(warm) + ".") for one in procedure.before),
        ways=tuple(
            _way(procedure.ways[name], [row for row in rows if row.method.value == name])
            for name in ("valve_probe", "vacuum_tube")
            if DrawMethod(name) in methods
        )
        + ((procedure.ways["both"],) if rows else ()),
        after=procedure.after,
        cautions=procedure.cautions,
        no_way=tuple(one.compartment for one in boxes if _no_way(one, around)),
    )


def _no_way(box: VisitBox, around: _Around) -> bool:
    return box.compartment_id in around.only_drains


def _way(way: Way, rows: Sequence[SheetRow]) -> Way:
    """The steps of a way with the volumes and lengths of the points it is used at."""
    flush = _span([row.flush_ml for row in rows], "ml")
    lengths = [row.tube_mm for row in rows if row.tube_mm is not None]
    tube = _span(lengths, "mm") if lengths else "the length the box needs"
    steps = [one.replace("{flush_ml}", flush).replace("{tube_mm}", tube) for one in way.steps]
    return Way(title=way.title, steps=tuple(steps))


def _span(figures: Sequence[float], unit: str) -> str:
    low, high = min(figures), max(figures)
    return f"{low:g} {unit}" if low == high else f"{low:g} to {high:g} {unit} (see the list)"


def _row(box: VisitBox, around: _Around) -> SheetRow:
    point = point_of(box.compartment_id, box.kind, around.points, around.place.catalogue)
    flush = point.flush_ml or USUAL_FLUSH_ML
    parts = [point.kind or "port not on the register", point.location, point.marking]
    return SheetRow(
        place=box.place,
        compartment=box.compartment,
        fluid=around.fluids.get(box.fluid, box.fluid),
        family=family_of(box.kind, around.place),
        port=", ".join(part for part in parts if part),
        method=DrawMethod.VALVE_PROBE if point.is_live else DrawMethod.VACUUM_TUBE,
        flush_ml=flush,
        flush=f"{flush:g} ml",
        tube_mm=point.tube_mm,
        tube=f"{point.tube_mm:g} mm" if point.tube_mm and not point.is_live else "",
        hazards=point.hazards,
        bottle_code=box.bottle_code,
        reason=box.reason,
        is_special=box.reason in SPECIAL,
        before_change=box.before_change,
    )


def family_of(kind: str, place: Workplace) -> str:
    """Which waste bottle a box's fluid goes to: oil, coolant or fuel, never mixed."""
    known = place.catalogue.compartment_kinds.get(kind)
    return _FAMILIES.get(known.group if known else "", "oil")


def kit_list(sheets: Sequence[Sheet], *, own_folder: Path | None = None) -> Kit:
    """What a round of visits needs (common practice, no source).

    Bottles: one a row and a tenth more, two spares at least. Tubes: one a tube point, lengths
    summed with 0.3 m each, a usual length where the register tells none. Waste: one bottle a fluid
    family, the flushes and three tenths more.
    """
    figures = load_procedure(own_folder).kit
    rows = [row for one in sheets for row in one.rows]
    spares = max(int(figures["least_spares"]), ceil(len(rows) * float(figures["spare_share"])))
    by_tube = [row for row in rows if row.method is DrawMethod.VACUUM_TUBE]
    extra_mm, usual_mm = float(figures["tube_extra_mm"]), _usual_tube_mm(figures)
    tube_m = sum((row.tube_mm or usual_mm) + extra_mm for row in by_tube) / 1000.0
    waste: dict[str, float] = defaultdict(float)
    for row in rows:
        waste[row.family] += row.flush_ml * (1.0 + float(figures["waste_extra_share"]))
    return Kit(
        bottles=len(rows) + spares,
        spares=spares,
        tubes=len(by_tube),
        tube_m=round(tube_m, 1),
        waste_ml=dict(waste),
        lines=tuple(_kit_lines(rows, by_tube, spares, tube_m, waste, figures)),
    )


def _kit_lines(
    rows: Sequence[SheetRow],
    by_tube: Sequence[SheetRow],
    spares: int,
    tube_m: float,
    waste: Mapping[str, float],
    figures: Mapping[str, object],
) -> list[KitLine]:
    def line(what: str, how_much: str) -> KitLine:
        return KitLine(what=what, how_much=how_much)

    lines = [
        line("sample bottles", f"{len(rows) + spares}, {spares} of them spare"),
        line("plain lids and vented lids", f"{len(rows) + spares} of each"),
        line("labels", f"{len(rows)} in working order and {figures['blank_labels']} blank"),
        line("visit sheets", "one a machine"),
    ]
    if by_tube:
        lines.append(line("tube", _tube_words(by_tube, tube_m, figures)))
    families = sorted({row.family for row in by_tube})
    lines += [line(f"vacuum pump for {family}", "1, for this family alone") for family in families]
    probes: dict[str, int] = defaultdict(int)
    for row in rows:
        if row.method is DrawMethod.VALVE_PROBE:
            probes[row.port.split(",", 1)[0]] += 1
    for kind, count in sorted(probes.items()):
        lines.append(line(f"probes for {kind}", f"{count} new, 1 for flushing"))
    for family, volume in sorted(waste.items()):
        lines.append(line(f"waste bottle, used {family}", f"holds {_litres(volume)}, never mixed"))
    items = figures["items"]
    return lines + [line(str(one), "") for one in (items if isinstance(items, list) else [])]


def _tube_words(by_tube: Sequence[SheetRow], tube_m: float, figures: Mapping[str, object]) -> str:
    """How many pieces of tube, how long in all, and what of it is assumed."""
    words = f"{len(by_tube)} pieces, {tube_m:.1f} m in all"
    unknown = sum(row.tube_mm is None for row in by_tube)
    usual = _usual_tube_mm(figures) / 1000.0
    return f"{words}; {unknown} of unknown length taken as {usual:g} m" if unknown else words


def _litres(volume_ml: float) -> str:
    return f"{volume_ml / _ML:.1f} L" if volume_ml >= _ML else f"{volume_ml:.0f} ml"


def _usual_tube_mm(figures: Mapping[str, object]) -> float:
    # A site's own procedure may be older than this figure.
    return float(str(figures.get("tube_usual_mm", 1200.0)))
