"""What the derivation of limits from the fleet's own history answers with."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Final

from fluiddesk.domain.limits.limit_set import Limit, Scope

SPAN: Final = timedelta(days=730)
"""Limits are derived from two years: long enough for seasons, short enough for today's machines
(common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DerivedBound:
    """One percentile of a group.

    ``own`` is the group's own, ``low`` to ``high`` its bootstrap interval (90 %), ``value`` the
    bound proposed after drawing it towards the parent group. All ``None`` with a ``why`` where
    there is too little.
    """

    percent: float
    value: float | None
    own: float | None
    low: float | None
    high: float | None
    parent: float | None
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DerivedRow:
    """What the fleet's own history says of one analyte in one group, beside the present limit.

    ``present`` is the limit that holds for such boxes today, ``starter`` the one of the starter
    set; ``present_flags`` and ``derived_flags`` count the last year's samples past the first bound,
    ``..._with_finding`` those of them that a confirmed fault came after.
    """

    scope: Scope
    analyte: str
    analyte_name: str
    unit: str
    direction: str
    samples: int
    machines: int
    below: int
    since: date
    until: date
    method: str
    watch: DerivedBound
    act: DerivedBound
    urgent: DerivedBound
    own_share: float
    parent_scope: str
    present: Limit | None
    present_flags: int
    derived_flags: int
    present_flags_with_finding: int
    derived_flags_with_finding: int
    shape_note: str
    outlier_note: str
    excluded_note: str
    limit: Limit | None
    starter: Limit | None = None

    @property
    def may_be_taken(self) -> bool:
        """Whether there is enough for at least a Watch bound."""
        return self.limit is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Derived:
    """Every row asked for, groups in the order of the power path."""

    rows: tuple[DerivedRow, ...]
    since: date
    until: date
    seconds: float
    excluded: Mapping[str, int] = field(default_factory=dict)
