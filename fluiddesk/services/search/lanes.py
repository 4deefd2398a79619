"""Many short texts end to end in one run of bytes, searched without a Python loop per text."""

from array import array
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.services.plain_text import plain_code, plain_words
from fluiddesk.services.search.facts import HitKind

_END: Final = b"\n"
_KEY_BYTES: Final = 16
_NO_SAMPLE: Final = bytes(_KEY_BYTES)
"""Stands where one text of a kind has no sample."""
_MOST_LOOKED_AT: Final = 4_000
"""So many places of a common word are looked at; beyond them the answer is cut off."""

_FEWEST_SIGNS: Final = 3
_SMALL_BYTES: Final = 1 << 20
"""One or two signs find half of a large store: its texts are not looked through a second time."""

_DROPPED: Final = bytes(code for code in range(128) if code != _END[0] and not chr(code).isalnum())
EXACT, STARTS, CONTAINS = range(3)
"""How well a text fits, best first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """All texts of one kind.

    Attributes:
        kind: what they are.
        text: the texts as searched, each between two line ends.
        starts: where each text begins in ``text``.
        printed: the texts as written, in UTF-8, end to end.
        cuts: where each written text begins, and the end of the last.
        place: for each text the place it belongs to, -1 for none.
        samples: 16 bytes for each text, or nothing where the kind has no samples.
    """

    kind: HitKind
    text: bytes
    starts: NDArray[np.int32]
    printed: bytes
    cuts: NDArray[np.int32]
    place: NDArray[np.int32]
    samples: bytes = b""

    def __len__(self) -> int:
        return len(self.starts)

    def written(self, row: int) -> str:
        """One text as it was written."""
        return self.printed[self.cuts[row] : self.cuts[row + 1]].decode()

    def sample(self, row: int) -> bytes | None:
        """The sample of one text."""
        key = self.samples[row * _KEY_BYTES : (row + 1) * _KEY_BYTES]
        return key if key != _NO_SAMPLE[: len(key)] else None

    def matches(self, words: Sequence[bytes], *, limit: int) -> list[tuple[int, int]]:
        """The texts that hold every word, as (how well, which), best first.

        Up to ``limit`` texts; where more fit, those that start with the words come first.
        """
        anchor = max(words, key=len)
        found = self._holding(anchor, words, limit)
        is_worth_it = len(words[0]) >= _FEWEST_SIGNS or len(self.text) < _SMALL_BYTES
        if len(found) >= limit and is_worth_it:
            # A common word: the texts that start with it may lie beyond the ones looked at.
            found |= self._holding(_END + words[0], words, limit)
        whole = b"".join(words)
        ranked = [(self._rank(row, words[0], whole), row) for row in found]
        return sorted(ranked)[:limit]

    def _holding(self, needle: bytes, words: Sequence[bytes], limit: int) -> set[int]:
        text, starts = self.text, self.starts
        rows: set[int] = set()
        at = text.find(needle)
        looked = 0
        while at >= 0 and len(rows) < limit and looked < _MOST_LOOKED_AT:
            start = text.rfind(_END, 0, at + 1) + 1
            end = text.find(_END, start)
            if all(text.find(word, start, end) >= 0 for word in words):
                # A number of the array's own type: any other would make a copy of the whole array.
                rows.add(int(starts.searchsorted(starts.dtype.type(start))))
            looked += 1
            at = text.find(needle, end)
        return rows

    def _rank(self, row: int, first: bytes, whole: bytes) -> int:
        start = int(self.starts[row])
        body = self.text[start : self.text.find(_END, start)]
        if whole in (body, body.partition(b" ")[0]):
            return EXACT
        return STARTS if body.startswith((first, whole)) else CONTAINS


class LaneMaker:
    """Gathers texts page by page into a lane."""

    def __init__(self, kind: HitKind) -> None:
        self._kind = kind
        self._text: list[bytes] = [_END]
        self._printed: list[bytes] = []
        self._lengths = array("i")
        self._written = array("i")
        self._places = array("i")
        self._samples: list[bytes] = []

    def add_codes(
        self, codes: Sequence[str], places: Iterable[int], samples: Iterable[bytes] = ()
    ) -> None:
        """Add texts that are one code each."""
        joined = "\n".join(codes)
        if joined.isascii() and joined.count("\n") == len(codes) - 1:
            plain = joined.lower().encode().translate(None, _DROPPED)
        else:
            plain = "\n".join(map(plain_code, codes)).encode()
        self._add(plain, codes, places, samples)

    def add_words(
        self,
        searched: Sequence[str],
        written: Sequence[str],
        places: Iterable[int],
        samples: Iterable[bytes] = (),
    ) -> None:
        """Add texts that are already in plain words, and as they are shown."""
        self._add("\n".join(searched).encode(), written, places, samples)

    def _add(
        self, plain: bytes, written: Sequence[str], places: Iterable[int], samples: Iterable[bytes]
    ) -> None:
        if not written:
            return
        self._text.append(plain + _END)
        self._lengths.extend(map(len, plain.split(_END)))
        shown = [text.encode() for text in written]
        self._printed.append(b"".join(shown))
        self._written.extend(map(len, shown))
        self._places.extend(places)
        self._samples.append(b"".join(samples))

    def made(self) -> Lane:
        """The lane of everything that was added."""
        lengths = np.array(self._lengths, dtype=np.int32)
        written = np.array(self._written, dtype=np.int32)
        ends = np.cumsum(lengths + 1, dtype=np.int32)
        return Lane(
            kind=self._kind,
            text=b"".join(self._text),
            starts=(1 + ends - (lengths + 1)).astype(np.int32),
            printed=b"".join(self._printed),
            cuts=np.concatenate(([0], np.cumsum(written))).astype(np.int32),
            place=np.array(self._places, dtype=np.int32),
            samples=b"".join(self._samples),
        )


@lru_cache(maxsize=256)
def query_words(typed: str) -> tuple[bytes, ...]:
    """The words of what a person typed, in the form that lanes are searched by."""
    return tuple(dict.fromkeys(word.encode() for word in plain_words(typed).split()))
