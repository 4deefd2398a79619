"""How often faults start, how long and how surely a sample shows them: the programme's figures."""

import tomllib
from collections.abc import Mapping
from functools import cache
from typing import Any

from fluiddesk.assets import resource
from fluiddesk.services.catalogue import Catalogue

_USUAL_GROUP = "gear"
"""Whose figures stand for a kind of compartment that the catalogue lacks."""


@cache
def fault_figures() -> Mapping[str, Any]:
    """The starting figures of ``resources/programme/worth.toml``."""
    return tomllib.loads(resource("programme/worth.toml").read_text(encoding="utf-8"))


def figures_of_kind(catalogue: Catalogue, kind: str) -> Mapping[str, float]:
    """The figures of one kind of compartment, by the group it belongs to."""
    known = catalogue.compartment_kinds.get(kind)
    figures: Mapping[str, Mapping[str, float]] = fault_figures()["group"]
    return figures.get(known.group if known else _USUAL_GROUP, figures[_USUAL_GROUP])
