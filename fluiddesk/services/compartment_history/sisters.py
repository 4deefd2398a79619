"""The same kind of box on like machines: how high they read and how fast they wear.

Worked out over whole columns once for each kind of box and kept, until a sheet, an event or a
verdict is added at the sites concerned.
"""

import itertools
import threading
from collections import OrderedDict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Final
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.limits.assessment import reference_matrix
from fluiddesk.domain.samples import SampleColumns
from fluiddesk.domain.severity import Trust
from fluiddesk.domain.trends.prior import FEWEST_SISTERS, FillRates, Group, group_of
from fluiddesk.domain.wear.fill_history import BoxTraits, fills_of, levels_of, rates_of
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.compartment_history.earlier import on_analytes
from fluiddesk.services.compartment_history.facts import SisterBand
from fluiddesk.services.compartment_history.story import fresh_at
from fluiddesk.services.reassess.judging import Rulebook
from fluiddesk.storage import Desk, DeskStore, unpack_fleet

FloatArray = NDArray[np.float64]

MOST_SISTERS: Final = 300
"""So many boxes tell as much as all of a large fleet; taken evenly from the whole list."""
FEWEST_OF_A_MODEL: Final = 12
"""With fewer boxes of the same model, those of the same kind of machine are compared."""
_MOST_FILLS: Final = 12
"""Older fills of a sister say little of today."""
_FEWEST_IN_A_BIN: Final = 40
_MOST_BINS: Final = 6
_KEPT: Final = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class _Key:
    machine_kind: str
    model: str
    kind: str
    fluid_class: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sisters:
    """What like boxes say; b boxes, p fills of each, m analytes.

    Attributes:
        scope: which machines, in words.
        boxes: whose row is which.
        numbers: the analytes of the columns.
        rate: (b, p, m) mg/kg per hour, NaN where there is none; ``sd`` and ``is_bound`` likewise.
        bands: the middle 80 % of each analyte.
    """

    scope: str
    boxes: tuple[CompartmentId, ...]
    numbers: tuple[int, ...]
    rate: FloatArray
    sd: FloatArray
    is_bound: NDArray[np.bool_]
    bands: dict[int, SisterBand]

    def group(self, number: int, *, without: CompartmentId, is_signed: bool, turn: float) -> Group:
        """The prior that sisters give for one analyte, this box left out."""
        if number not in self.numbers:
            return no_group(is_signed=is_signed)
        column = self.numbers.index(number)
        others = np.array([one != without for one in self.boxes], dtype=bool)
        return group_of(
            FillRates(
                rate=turn * self.rate[others, :, column],
                sd=self.sd[others, :, column],
                is_bound=self.is_bound[others, :, column],
            ),
            is_signed=is_signed,
        )


def no_group(*, is_signed: bool) -> Group:
    """No prior: too few like boxes."""
    none = np.array([np.nan])
    return Group(
        middle=none,
        between_sd=none,
        fill_sd=none,
        boxes=np.zeros(1, dtype=np.int64),
        is_signed=np.array([is_signed]),
    )


class Shelf:
    """What was worked out for one store, the least used thrown out first."""

    def __init__(self) -> None:
        self._kept: OrderedDict[_Key, tuple[tuple[Any, ...], Sisters]] = OrderedDict()
        self._lock = threading.Lock()
        self._still: tuple[Any, ...] | None = None

    @contextmanager
    def held_still(self, desk: Desk) -> Iterator[None]:
        """Take for granted that nothing changes meanwhile, as inside one transaction."""
        self._still = self.stamp(desk)
        try:
            yield
        finally:
            self._still = None

    def stamp(self, desk: Desk) -> tuple[Any, ...]:
        """What changes whenever what is on the shelf may be out of date."""
        return self._still or desk.sisters.stamp([one.site for one in desk.fleet.sites()])

    def get(self, key: _Key, stamp: tuple[Any, ...]) -> Sisters | None:
        """What was put there, unless something changed since."""
        with self._lock:
            found = self._kept.get(key)
            if found is None or found[0] != stamp:
                return None
            self._kept.move_to_end(key)
            return found[1]

    def put(self, key: _Key, stamp: tuple[Any, ...], sisters: Sisters) -> None:
        """Keep what was worked out."""
        with self._lock:
            self._kept[key] = (stamp, sisters)
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)


_SHELVES: Final[WeakKeyDictionary[DeskStore, Shelf]] = WeakKeyDictionary()


def shelf_of(store: DeskStore) -> Shelf:
    """The shelf of a store; it goes with the store."""
    return _SHELVES.setdefault(store, Shelf())


def sisters_of(
    desk: Desk,
    catalogue: Catalogue,
    rulebook: Rulebook,
    *,
    shelf: Shelf,
    machine_kind: str,
    model: str,
    kind: str,
    fluid_class: str,
) -> Sisters:
    """The like boxes of one kind of box, from the shelf where nothing has changed.

    Args:
        desk: an open reading.
        catalogue: analytes and kinds.
        rulebook: new-fluid references.
        shelf: where what was worked out is kept (``shelf_of``).
        machine_kind: of the machine.
        model: of the machine; it is kept to where there are enough of it.
        kind: of the box.
        fluid_class: of its fluid: another class of fluid reads otherwise.
    """
    key = _Key(machine_kind=machine_kind, model=model, kind=kind, fluid_class=fluid_class)
    stamp = shelf.stamp(desk)
    found = shelf.get(key, stamp)
    if found is None:
        found = _worked_out(desk, catalogue, rulebook, key)
        shelf.put(key, stamp, found)
    return found


def _worked_out(desk: Desk, catalogue: Catalogue, rulebook: Rulebook, key: _Key) -> Sisters:
    rows = [
        row
        for row in desk.sisters.boxes(machine_kind=key.machine_kind, kind=key.kind)
        if row[4] == key.fluid_class
    ]
    same = [row for row in rows if row[2] == key.model]
    is_model = bool(key.model) and len(same) >= FEWEST_OF_A_MODEL
    rows = same if is_model else rows
    if len(rows) > MOST_SISTERS:
        rows = [rows[at] for at in np.linspace(0, len(rows) - 1, MOST_SISTERS).round().astype(int)]
    who = f"model {key.model}" if is_model else catalogue.machine_kind_name(key.machine_kind)
    scope = f"{catalogue.kind_name(key.kind)} of {who}"
    blobs = dict(desk.blocks.pairs([CompartmentId(row[0]) for row in rows]))
    rows = [row for row in rows if row[0] in blobs]
    groups = unpack_fleet([blobs[row[0]] for row in rows])
    density = {one.code: one.density_kg_per_l for one in desk.fleet.fluids()}
    litres = desk.sisters.topped_up([CompartmentId(row[0]) for row in rows])
    numbers = tuple(sorted({number for group in groups for number in group.analytes}))
    columns = _one_group([on_analytes(group, numbers) for group in groups], numbers)
    traits = BoxTraits(
        volume_l=np.array([row[6] for row in rows], dtype=np.float64),
        density_kg_l=np.array([density.get(row[5], 0.87) for row in rows], dtype=np.float64),
        residue_share=np.array([row[7] for row in rows], dtype=np.float64),
        loss_l_per_h=_losses(columns, rows, litres),
    )
    rate, sd, is_bound = _rates(columns, traits, rulebook, catalogue)
    return Sisters(
        scope=scope,
        boxes=tuple(CompartmentId(row[0]) for row in rows),
        numbers=numbers,
        rate=rate,
        sd=sd,
        is_bound=is_bound,
        bands=_bands(columns, scope),
    )


def _one_group(groups: Sequence[SampleColumns], numbers: tuple[int, ...]) -> SampleColumns:
    """All samples under each other, those of one box together."""
    names = [name for name in SampleColumns.__dataclass_fields__ if name != "analytes"]
    if not groups:
        return _no_samples(numbers)
    parts = {name: np.concatenate([getattr(one, name) for one in groups]) for name in names}
    order = np.argsort(parts["compartment"], kind="stable")
    return SampleColumns(analytes=numbers, **{name: part[order] for name, part in parts.items()})


def _no_samples(numbers: tuple[int, ...]) -> SampleColumns:
    none, m = np.zeros(0), len(numbers)
    return SampleColumns(
        analytes=numbers,
        compartment=none.astype(np.int32),
        sample_id=np.zeros((0, 16), dtype=np.uint8),
        taken_on=none.astype(np.int32),
        hours=none,
        fluid_hours=none,
        fill=none.astype(np.int32),
        trust=none.astype(np.int8),
        severity=none.astype(np.int8),
        digest=none.astype(np.uint64),
        reference=none.astype(np.int16),
        values=np.zeros((0, m)),
        signs=np.zeros((0, m), dtype=np.uint8),
    )


def _losses(
    columns: SampleColumns, rows: Sequence[tuple[Any, ...]], litres: dict[CompartmentId, float]
) -> FloatArray:
    """Litres made up per hour of each box, over the span of its samples."""
    total = np.array([litres.get(CompartmentId(row[0]), 0.0) for row in rows], dtype=np.float64)
    known = np.isfinite(columns.hours)
    box, hours = columns.compartment[known], columns.hours[known]
    low, high = np.full(len(rows), np.inf), np.full(len(rows), -np.inf)
    np.minimum.at(low, box, hours)
    np.maximum.at(high, box, hours)
    span = np.where(np.isfinite(low), high - np.where(np.isfinite(low), low, 0.0), 0.0)
    capacity = np.array([row[6] for row in rows], dtype=np.float64)
    pace = np.where(span > 0, total / np.where(span > 0, span, 1.0), 0.0)
    # A tenth of the box per 100 h is a leak, not what is usual; more is a mistake in the record.
    return np.minimum(pace, 0.001 * capacity)


def _rates(
    columns: SampleColumns, traits: BoxTraits, rulebook: Rulebook, catalogue: Catalogue
) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
    """Rates by box, fill and analyte, the newest fills at the end."""
    b, m = len(traits.volume_l), len(columns.analytes)
    rate, sd = np.full((b, _MOST_FILLS, m), np.nan), np.ones((b, _MOST_FILLS, m))
    is_bound = np.zeros((b, _MOST_FILLS, m), dtype=bool)
    fresh = fresh_at(columns, reference_matrix(rulebook.references, numbers=columns.analytes))
    fills = fills_of(columns, fresh)
    if not len(fills):
        return rate, sd, is_bound
    analytes = [catalogue.by_number.get(number) for number in columns.analytes]
    found = rates_of(fills, traits, analytes)
    count = np.bincount(fills.box, minlength=b)
    first = np.concatenate([[0], np.cumsum(count)[:-1]])
    back = count[fills.box] - (np.arange(len(fills)) - first[fills.box])
    kept = np.flatnonzero(back <= _MOST_FILLS)
    at = _MOST_FILLS - back[kept]
    rate[fills.box[kept], at] = found.rate[kept]
    known = np.isfinite(found.sd[kept])
    sd[fills.box[kept], at] = np.where(known, found.sd[kept], 1.0)
    is_bound[fills.box[kept], at] = found.is_bound[kept]
    return rate, sd, is_bound


def _bands(columns: SampleColumns, scope: str) -> dict[int, SisterBand]:
    """The middle 80 % of every analyte by hours on the fluid; below detection counts as its bound.

    A quantile that falls among values below detection is told as that bound: the band is no lower
    than the laboratory could see.
    """
    believed = columns.trust == Trust.GOOD
    boxes = len(np.unique(columns.compartment[believed]))
    if boxes < FEWEST_SISTERS:
        return {}
    level, is_bound = levels_of(columns)
    level = np.where(is_bound, columns.values, level)[believed]
    hours = columns.fluid_hours[believed]
    box = columns.compartment[believed]
    bins = _bins(hours)
    bands = {}
    for column, number in enumerate(columns.analytes):
        own = level[:, column]
        told = np.isfinite(own)
        behind = len(np.unique(box[told]))
        if behind < FEWEST_SISTERS:
            continue
        parts = [part & told for part in bins]
        if min(int(part.sum()) for part in parts) < _FEWEST_IN_A_BIN:
            parts = [told]
        ends = np.array([np.quantile(own[part], [0.1, 0.5, 0.9]) for part in parts])
        middles = np.array([np.nanmedian(np.nan_to_num(hours[part])) for part in parts])
        bands[number] = SisterBand(
            fluid_hours=middles,
            low=ends[:, 0],
            middle=ends[:, 1],
            high=ends[:, 2],
            boxes=behind,
            samples=int(told.sum()),
            scope=scope,
        )
    return bands


def _bins(hours: FloatArray) -> list[NDArray[np.bool_]]:
    known = np.isfinite(hours)
    count = min(_MOST_BINS, int(known.sum()) // (2 * _FEWEST_IN_A_BIN))
    if count <= 1:
        return [np.ones(len(hours), dtype=bool)]
    edges = np.unique(np.quantile(hours[known], np.linspace(0, 1, count + 1)))
    edges[-1] = np.inf
    return [known & (hours >= low) & (hours < high) for low, high in itertools.pairwise(edges)]
