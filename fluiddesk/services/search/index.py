"""Builds the index that searches run on: every text of the store, in memory, in one pass.

Built in the background when a database is opened and again after changes; a search never asks the
database. A million samples take about a hundred megabytes.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

from fluiddesk.domain.errors import CancelledError
from fluiddesk.services.plain_text import plain_code, plain_words
from fluiddesk.services.search.facts import HitKind
from fluiddesk.services.search.lanes import Lane, LaneMaker
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import NO_SITE, Desk

Progress = Callable[[int, int | None], bool]
Rows = list[tuple[Any, ...]]


class Place(NamedTuple):
    """Where a record belongs, in words, and what to open there."""

    words: str
    machine: bytes | None
    compartment: bytes | None
    store: tuple[HitKind, bytes] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchIndex:
    """Every text of a store at one moment; ``stamp`` tells whether anything was changed since."""

    lanes: tuple[Lane, ...]
    places: tuple[Place, ...]
    stamp: tuple[tuple[int, str], ...]

    def __len__(self) -> int:
        return sum(map(len, self.lanes))

    def is_current(self, place: Workplace) -> bool:
        """Whether the trail of changes still ends where it ended when this was built."""
        with place.store.reading() as desk:
            return _stamp(desk) == self.stamp


def build_index(place: Workplace, *, progress: Progress | None = None) -> SearchIndex:
    """Read every text of the store.

    Raises:
        CancelledError: when ``progress`` (texts done, none known to come) answers to stop.
    """
    return _Builder(place, progress).built()


def _stamp(desk: Desk) -> tuple[tuple[int, str], ...]:
    sites = [NO_SITE, *(site.site for site in desk.fleet.sites())]
    return tuple((int(site), desk.audit.last_hash(site)) for site in sites)


class _Builder:
    """Fills the lanes of one index, page by page: a writer never waits for the whole of it.

    What another desk adds meanwhile may be in it without its place; the stamp, read first, tells
    that there is something newer.
    """

    def __init__(self, place: Workplace, progress: Progress | None) -> None:
        self._store = place.store
        self._catalogue = place.catalogue
        self._progress = progress
        self._places: list[Place] = []
        self._at: dict[bytes, int] = {}
        self._codes: dict[bytes, str] = {}
        self._makers = {kind: LaneMaker(kind) for kind in HitKind}
        self._done = 0

    def built(self) -> SearchIndex:
        with self._store.reading() as desk:
            stamp = _stamp(desk)
        self._machines()
        self._boxes()
        self._components()
        self._bottles()
        self._reports()
        self._stores()
        self._fluid_samples()
        self._owned()
        return SearchIndex(
            lanes=tuple(self._makers[kind].made() for kind in HitKind),
            places=tuple(self._places),
            stamp=stamp,
        )

    def _machines(self) -> None:
        searched, shown, at = [], [], []
        for key, site, code, serial, model, kind in self._rows(lambda desk: desk.search.machines()):
            at.append(self._new_place(bytes(key), Place(site, bytes(key), None)))
            self._codes[bytes(key)] = code
            kind_name = self._catalogue.machine_kind_name(kind)
            words = plain_words(f"{model} {kind_name} {site}")
            searched.append(f"{plain_code(code)} {plain_code(serial)} {words}")
            shown.append(f"{code} (serial {serial})" if serial else code)
        self._makers[HitKind.MACHINE].add_words(searched, shown, at)
        self._tell(len(at))

    def _boxes(self) -> None:
        searched, shown, at = [], [], []
        for key, machine, kind, position in self._rows(lambda desk: desk.search.boxes()):
            if bytes(machine) not in self._at:
                continue
            site = self._places[self._at[bytes(machine)]].words
            code = self._codes[bytes(machine)]
            name = self._catalogue.box_name(kind, position)
            place = Place(f"{site}, {code}, {name}", bytes(machine), bytes(key))
            at.append(self._new_place(bytes(key), place))
            searched.append(f"{plain_code(code)} {plain_words(name)}")
            shown.append(f"{code} {name}")
        self._makers[HitKind.COMPARTMENT].add_words(searched, shown, at)
        self._tell(len(at))

    def _components(self) -> None:
        rows = self._rows(lambda desk: desk.search.components())
        at = [self._at.get(bytes(box), -1) for _, box in rows]
        self._makers[HitKind.COMPONENT].add_codes([serial for serial, _ in rows], at)
        self._tell(len(at))

    def _bottles(self) -> None:
        for page in self._pages(lambda desk, after: desk.search.bottles(after)):
            labelled = [row for row in page if row[3]]
            self._makers[HitKind.BOTTLE].add_codes(
                [row[3] for row in labelled],
                [self._at.get(row[2], -1) for row in labelled],
                [row[1] for row in labelled],
            )
            self._remarks((row[4], row[2], row[1]) for row in page if row[4])
            self._tell(len(page))

    def _reports(self) -> None:
        for page in self._pages(lambda desk, after: desk.search.reports(after)):
            self._makers[HitKind.REPORT].add_codes(
                [row[4] for row in page],
                [self._at.get(row[3], -1) for row in page],
                [row[2] for row in page],
            )
            self._remarks((row[5], row[3], row[2]) for row in page if row[5])
            self._tell(len(page))

    def _remarks(self, rows: Iterable[tuple[str, bytes, bytes]]) -> None:
        told = list(rows)
        self._makers[HitKind.REMARK].add_words(
            [plain_words(words) for words, _, _ in told],
            [words for words, _, _ in told],
            [self._at.get(box, -1) for _, box, _ in told],
            [sample for _, _, sample in told],
        )

    def _stores(self) -> None:
        """Tanks and deliveries, by their numbers, fluids and places."""
        for kind, rows in (
            (HitKind.TANK, self._rows(lambda desk: desk.search.tanks())),
            (HitKind.DELIVERY, self._rows(lambda desk: desk.search.deliveries())),
        ):
            searched, shown, at = [], [], []
            for key, site, number, fluid, *where in rows:
                words = ", ".join((site, f"{kind.words} {number}", fluid))
                place = Place(words, None, None, (kind, bytes(key)))
                at.append(self._new_place(bytes(key), place))
                told = " ".join((kind.words, fluid, site, *where))
                searched.append(f"{plain_code(number)} {plain_words(told)}")
                shown.append(number)
            self._makers[kind].add_words(searched, shown, at)
            self._tell(len(at))

    def _fluid_samples(self) -> None:
        searched, shown, at = [], [], []
        for row in self._rows(lambda desk: desk.search.fluid_samples()):
            key, site, bottle, container, kind, fluid, note, report, remark = row
            what = f"{kind.replace('_', ' ')} {container}".strip()
            opens = (HitKind.FLUID_SAMPLE, bytes(key))
            place = Place(f"{site}, {what}, {fluid}", None, None, opens)
            at.append(self._new_place(bytes(key), place))
            codes = f"{plain_code(bottle)} {plain_code(report or '')}"
            searched.append(f"{codes} {plain_words(f'{what} {fluid} {note} {remark or str()}')}")
            shown.append(bottle or what)
        self._makers[HitKind.FLUID_SAMPLE].add_words(searched, shown, at)
        self._tell(len(at))

    def _owned(self) -> None:
        """Papers and remarks of any record; the place is the nearest one that can be opened."""
        with self._store.reading() as desk:
            owned = {
                HitKind.PAPER: desk.search.papers(),
                HitKind.REMARK: desk.search.remarks(),
            }
        for kind, rows in owned.items():
            self._makers[kind].add_words(
                [plain_words(words) for _, words, _, _ in rows],
                [words for _, words, _, _ in rows],
                [self._at.get(box or owner, -1) for owner, _, box, _ in rows],
                [sample or bytes(16) for _, _, _, sample in rows],
            )
            self._tell(len(rows))

    def _rows(self, ask: Callable[[Desk], Rows]) -> Rows:
        with self._store.reading() as desk:
            return ask(desk)

    def _pages(self, ask: Callable[[Desk, tuple[int, bytes] | None], Rows]) -> Iterator[Rows]:
        """The pages of one question, each read in a moment of its own."""
        after: tuple[int, bytes] | None = None
        while True:
            with self._store.reading() as desk:
                page = ask(desk, after)
            if not page:
                return
            yield page
            after = (page[-1][0], page[-1][1])

    def _new_place(self, key: bytes, place: Place) -> int:
        self._at[key] = len(self._places)
        self._places.append(place)
        return self._at[key]

    def _tell(self, count: int) -> None:
        self._done += count
        if self._progress is not None and not self._progress(self._done, None):
            raise CancelledError("The index for searching was not finished.")
