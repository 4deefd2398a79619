"""The fleet by the names a laboratory may have printed, and how well a printed name fits."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Final

from fluiddesk.domain.fleet import Compartment, Machine
from fluiddesk.domain.identity import SiteId
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.past_results.words import BoxWords, box_words, position_score
from fluiddesk.services.plain_text import plain_code
from fluiddesk.storage import Desk

ZEROS: Final = 0.95
"""EX-1 for EX-01; and so on down, by how often such a reading is right (common practice)."""
WITHIN: Final = 0.9
SLIP: Final = 0.6
OTHER_SITE: Final = 0.5
NO_BOX_PRINTED: Final = 0.4
ONLY_BOX: Final = 0.75
_SHORTEST_SLIP: Final = 4
_NUMBER: Final = re.compile(r"(?<!\d)0+(?=\d)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """A machine or box that a printed name may mean: how surely, and what speaks against it."""

    machine: Machine
    box: Compartment | None
    score: float
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetNames:
    """Machines and boxes by name. Answers to equal names are kept, since files repeat them."""

    catalogue: Catalogue
    words: BoxWords
    sites: Mapping[SiteId, str]
    boxes: Mapping[bytes, tuple[Compartment, ...]]
    in_service: Mapping[bytes, date]
    by_code: Mapping[str, tuple[Machine, ...]]
    by_short: Mapping[str, tuple[Machine, ...]]
    by_serial: Mapping[str, tuple[Machine, ...]]
    known: dict[tuple[str, str, str], tuple[Named, ...]]

    def named(self, site: str, machine: str, box: str) -> tuple[Named, ...]:
        """Every box that the printed words may mean, most likely first."""
        key = (site, machine, box)
        if key not in self.known:
            found = [
                one
                for place in self._machines(site, machine)
                for one in self._boxes(place, box)
                if one.score > 0
            ]
            found.sort(key=lambda one: -one.score)
            self.known[key] = tuple(found)
        return self.known[key]

    def box_name(self, box: Compartment) -> str:
        """The words for a box."""
        return self.catalogue.box_name(box.kind, box.position)

    def _machines(self, site: str, printed: str) -> list[Named]:
        found = self._by_name(printed)
        wanted = plain_code(site)
        told = []
        for machine, score, doubt in found:
            doubts, factor = (doubt,) if doubt else (), 1.0
            if wanted and wanted != plain_code(self.sites[machine.site]):
                doubts = (*doubts, f'the site printed is "{site}"')
                factor = OTHER_SITE
            told.append(Named(machine=machine, box=None, score=score * factor, doubts=doubts))
        return told

    def _by_name(self, printed: str) -> list[tuple[Machine, float, str]]:
        """Machines of a printed name, by the surest way in which any is found."""
        whole = plain_code(printed)
        exact = self.by_code.get(whole, ()) or self.by_serial.get(whole, ())
        if exact:
            return [(one, 1.0, "") for one in exact]
        short = self.by_short.get(_short(whole), ())
        if short:
            return [(one, ZEROS, f'"{printed}" is read as {one.code}') for one in short]
        within = [one for part in _parts(printed) for one in self.by_code.get(part, ())]
        if within:
            return [(one, WITHIN, f'"{printed}" is read as {one.code}') for one in within]
        if len(whole) < _SHORTEST_SLIP:
            return []
        return [
            (one, SLIP, f'"{printed}" differs from {one.code} by one sign')
            for code, machines in self.by_code.items()
            if is_one_slip(whole, code)
            for one in machines
        ]

    def _boxes(self, place: Named, printed: str) -> Iterable[Named]:
        boxes = self.boxes.get(place.machine.id, ())
        kind_words, named = self.words.read(printed)
        for box in boxes:
            doubts = place.doubts
            if not printed.strip():
                score = ONLY_BOX if len(boxes) == 1 else NO_BOX_PRINTED
                doubts = (*doubts, "no compartment is printed")
            else:
                alike = sum(one.kind == box.kind for one in boxes)
                kind = self.words.kind_score(kind_words, box.kind)
                side = position_score(named, box.position, alike=alike)
                score = kind * side
                doubts = (*doubts, *_box_doubts(kind, side, printed))
            yield Named(machine=place.machine, box=box, score=place.score * score, doubts=doubts)


def _box_doubts(kind: float, side: float, printed: str) -> Iterable[str]:
    if 0 < kind < 1:
        yield f'"{printed}" is not quite its name'
    if 0 < side < 1:
        yield f'"{printed}" does not name its side'


def fleet_names(desk: Desk, catalogue: Catalogue) -> FleetNames:
    """The names of every machine and box in use."""
    machines = desk.fleet.machines()
    boxes: dict[bytes, list[Compartment]] = {}
    for box in desk.fleet.compartments():
        boxes.setdefault(box.machine, []).append(box)
    return FleetNames(
        catalogue=catalogue,
        words=box_words(
            {kind.code: (kind.name, kind.short) for kind in catalogue.compartment_kinds.values()}
        ),
        sites={one.site: one.name for one in desk.fleet.sites()},
        boxes={key: tuple(own) for key, own in boxes.items()},
        in_service={bytes(key): day for key, day in desk.past.in_service().items()},
        by_code=_grouped((plain_code(one.code), one) for one in machines),
        by_short=_grouped((_short(plain_code(one.code)), one) for one in machines),
        by_serial=_grouped((plain_code(one.serial), one) for one in machines if one.serial),
        known={},
    )


def _grouped(pairs: Iterable[tuple[str, Machine]]) -> dict[str, tuple[Machine, ...]]:
    groups: dict[str, list[Machine]] = {}
    for name, machine in pairs:
        groups.setdefault(name, []).append(machine)
    return {name: tuple(machines) for name, machines in groups.items()}


def _short(code: str) -> str:
    """A code without zeros before its numbers: EX01 and EX1 are one."""
    return _NUMBER.sub("", code)


def _parts(printed: str) -> list[str]:
    """Single words, and neighbours together: "Excavator EX 01" holds EX01."""
    words = [plain_code(word) for word in printed.split()]
    return [*words, *(first + second for first, second in pairwise(words))]


def is_one_slip(one: str, other: str) -> bool:
    """Whether two codes differ by one sign wrong, missing or too many, or two exchanged.

    >>> is_one_slip("ex101", "ex102"), is_one_slip("ex101", "xe101"), is_one_slip("ex1", "tr9")
    (True, True, False)
    """
    if one == other or abs(len(one) - len(other)) > 1:
        return False
    start = next(
        (at for at, (a, b) in enumerate(zip(one, other, strict=False)) if a != b),
        min(len(one), len(other)),
    )
    rest, rival = one[start:], other[start:]
    swapped = rest[:2] == rival[:2][::-1] and rest[2:] == rival[2:]
    return swapped or rest[1:] == rival[1:] or rest[1:] == rival or rest == rival[1:]


def margin(found: Sequence[Named]) -> float:
    """By how much the first is surer than the next."""
    return found[0].score - (found[1].score if len(found) > 1 else 0.0)
