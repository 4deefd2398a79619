"""Which box of a machine the laboratory's words mean."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Final

from fluiddesk import assets
from fluiddesk.services.plain_text import plain_words

WHOLE: Final = 1.0
PART: Final = 0.85
"""The words hold the name and something more, or shorten it (common practice, no source)."""

OTHERS_NAME: Final = 0.5
"""What is left of a partial fit where the words are just the name of another kind."""

SIDE_UNSAID: Final = 0.5
"""The machine has several boxes of the kind and the words do not say which one is meant."""

SIDE_UNKNOWN: Final = 0.7
"""The words name a side, but the register has one box of the kind without sides."""

SIDE_PARTLY: Final = 0.6
"""The words name some of the box's position, such as "front" for "front left"."""

FEWEST_LETTERS: Final = 3
"""A word shortened to fewer letters is not guessed."""

_SPLIT_LETTERS: Final = re.compile(r"(?<=\b\w)/(?=\w\b)")
_ORDINALS: Final = frozenset("123456789")

Tokens = tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxWords:
    """The words for kinds of boxes and for positions, in plain form."""

    kinds: Mapping[str, tuple[Tokens, ...]]
    positions: Mapping[str, frozenset[str]]
    silent: frozenset[str]

    def read(self, printed: str) -> tuple[Tokens, frozenset[str]]:
        """The words left for the kind, and the positions named."""
        kind: list[str] = []
        named: set[str] = set()
        joined = _SPLIT_LETTERS.sub("", printed)
        for word in plain_words(joined.replace("/", " ").replace("-", " ")).split():
            if word in self.positions:
                named |= self.positions[word]
            elif word in _ORDINALS:
                named.add(word)
            elif word not in self.silent:
                kind.append(word)
        return tuple(kind), frozenset(named)

    def kind_score(self, words: Tokens, kind: str) -> float:
        """How well the words name a kind, 0 to 1.

        "Engine cooling system" holds the word "engine", but is the name of another kind.
        """
        score = max((_score(words, name) for name in self.kinds.get(kind, ())), default=0.0)
        is_others = score < WHOLE and any(words in names for names in self.kinds.values())
        return score * OTHERS_NAME if is_others else score


def _score(words: Tokens, name: Tokens) -> float:
    if not words or not name:
        return 0.0
    if words in (name, ("".join(name),)):
        return WHOLE
    if all(word in words for word in name):
        return PART
    if len(words) == len(name) and all(map(_shortens, words, name)):
        return PART
    return 0.0


def _shortens(word: str, name: str) -> bool:
    return word == name or (len(word) >= FEWEST_LETTERS and name.startswith(word))


def position_score(named: frozenset[str], position: str, *, alike: int) -> float:
    """How well the positions named fit a box's own, 0 to 1.

    Args:
        named: the positions in the words.
        position: the box's, such as "front_left".
        alike: how many boxes of this kind the machine has.
    """
    own = frozenset(position.split("_")) if position else frozenset()
    if named == own:
        return WHOLE
    if not named:
        return SIDE_UNSAID if alike > 1 else PART
    if not own:
        return SIDE_UNKNOWN
    return SIDE_PARTLY if named < own else 0.0


@cache
def _told() -> Mapping[str, Any]:
    text = assets.resource("past_results").joinpath("compartment_words.toml")
    return tomllib.loads(text.read_text(encoding="utf-8"))


def box_words(names: Mapping[str, Sequence[str]]) -> BoxWords:
    """The words of the program's own file, with the catalogue's names for each kind."""
    told = _told()
    positions = {
        plain_words(word): frozenset({position})
        for position, words in told["positions"].items()
        for word in words
    }
    pairs = {word: frozenset(both) for word, both in told["position_pairs"].items()}
    bare = BoxWords(kinds={}, positions=positions | pairs, silent=frozenset(told["silent"]))
    kinds = {
        kind: tuple(
            bare.read(phrase)[0] for phrase in (*names.get(kind, ()), *told["kinds"].get(kind, ()))
        )
        for kind in {*names, *told["kinds"]}
    }
    return replace(bare, kinds=kinds)
