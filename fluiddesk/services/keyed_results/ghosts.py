"""The ghost in an empty cell: what the box's history foretells, and three values to confirm."""

import math
from collections.abc import Iterable, Iterator
from datetime import date
from typing import Final

import numpy as np

from fluiddesk.domain.samples import Sign
from fluiddesk.services.foretelling import Foretold
from fluiddesk.services.keyed_results.basis import CheckBasis, FormColumn
from fluiddesk.services.keyed_results.cells import printed_text
from fluiddesk.services.keyed_results.facts import Expected

_TO_CONFIRM: Final = 3
_BAND: Final = 2.776
"""Student's t, 4 degrees of freedom, 95 % within (tables; from memory)."""


def expected_of(basis: CheckBasis, told: Foretold, column: FormColumn) -> Expected | None:
    """The ghost of one cell; nothing where the box foretells nothing."""
    if column.values[0].analyte.is_presence_test:
        sign = int(told.before_signs[0, column.places[0]])
        words = {int(Sign.ABSENT): "-", int(Sign.PRESENT): "+"}
        if sign not in words:
            return None
        return Expected(text=words[sign], low="", high="", last=words[sign], last_on=_on(told))
    if not all(math.isfinite(basis.own.centre[0, at]) for at in column.places):
        return None
    texts = []
    for spreads in (0.0, -_BAND, _BAND):
        values = basis.own.at(spreads)[0]
        texts.append(_joined(basis, column, [float(values[at]) for at in column.places]))
    last = [float(told.before[0, at]) for at in column.places]
    is_known = all(math.isfinite(one) for one in last)
    sign = int(told.before_signs[0, column.places[0]])
    mark = {int(Sign.BELOW): "<", int(Sign.ABOVE): ">"}.get(sign, "")
    return Expected(
        text=texts[0],
        low=texts[1],
        high=texts[2],
        last=mark + _joined(basis, column, last) if is_known else "",
        last_on=_on(told),
    )


def _on(told: Foretold) -> date | None:
    day = int(told.before_on[0])
    return date.fromordinal(day) if day else None


def _joined(basis: CheckBasis, column: FormColumn, values: Iterable[float]) -> str:
    pairs = zip(column.values, values, strict=True)
    if column.is_code:
        return "/".join(f"{value:.0f}" for _, value in pairs)
    return "".join(printed_text(basis, one, value) for one, value in pairs)


def to_confirm(basis: CheckBasis, told: Foretold) -> Iterator[tuple[str, str]]:
    """The values that tell this box best from the others whose bottles are open."""
    centre, spread = basis.own.centre[0], basis.own.spread[0]
    others = basis.others.centre
    with np.errstate(all="ignore"):
        off = np.abs(others - centre) / spread if len(others) else 1.0 / spread[np.newaxis]
    off = np.where(np.isfinite(off), off, 0.0)
    telling = np.minimum(off, 10.0).mean(axis=0)
    telling = np.where(np.isfinite(centre) & (basis.own.reports[0] > 0), telling, -1.0)
    by_place = {column.places[0]: column for column in basis.columns if not column.is_code}
    chosen = 0
    for at in np.argsort(-telling, kind="stable").tolist():
        if chosen == _TO_CONFIRM or telling[at] < 0:
            return
        column = by_place.get(at)
        ghost = None if column is None else expected_of(basis, told, column)
        if column is not None and ghost is not None:
            chosen += 1
            unit = column.values[0].printed_unit
            yield column.values[0].analyte.name, f"{ghost.text} {unit}".strip()
