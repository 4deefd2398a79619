"""The settings of a limit set in words: what each means, its unit, its usual value and its span."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from fluiddesk.domain.limits.settings import SPANS, USUAL, settings_of


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingTold:
    """One setting for people.

    Attributes:
        name: its name in the set and in limit files.
        title: what it is called.
        unit: what a figure of it counts; shares are told in percent.
        meaning: what it does, in a sentence.
        scale: a stored value times this is the figure told: 100 for shares, else 1.
    """

    name: str
    title: str
    unit: str
    meaning: str
    scale: float = 1.0

    @property
    def usual(self) -> Any:
        """The value that holds where a set says nothing."""
        return getattr(USUAL, self.name)

    @property
    def is_whole(self) -> bool:
        """Whether it counts whole things."""
        return isinstance(self.usual, int)

    @property
    def is_list(self) -> bool:
        """Whether it holds several figures, one behind the other."""
        return isinstance(self.usual, tuple)

    @property
    def span(self) -> tuple[float, float]:
        """The least and the most that makes sense, as told."""
        low, high = SPANS[self.name]
        return low * self.scale, high * self.scale

    def words(self, value: Any) -> str:
        """A stored value as it is written.

        >>> SETTINGS[0].words(0.85), SETTINGS[2].words((2.0, 1.5))
        ('85', '2; 1.5')
        """
        parts = value if isinstance(value, tuple | list) else [value]
        return "; ".join(f"{one * self.scale:.10g}" for one in parts)


SETTINGS: Final = (
    SettingTold(
        name="clears_at",
        title="A limit clears at",
        unit="% of its bound",
        scale=100,
        meaning="A raised one-sided limit stands until two samples in a row lie short of this.",
    ),
    SettingTold(
        name="repair_share",
        title="After a repair, one sample clears from",
        unit="% of usual fluid hours",
        scale=100,
        meaning="Drawn sooner after a recorded repair, a low result proves nothing yet.",
    ),
    SettingTold(
        name="run_in",
        title="Running in multiplies wear limits by",
        unit="first; second ... fill",
        meaning="A new component sheds more: its first fills are measured by wider wear limits.",
    ),
    SettingTold(
        name="least_fluid_hours",
        title="Youngest fluid for a rate",
        unit="h",
        meaning="A younger fill gives no rate per 100 h: too little was made to divide by.",
    ),
    SettingTold(
        name="least_fluid_share",
        title="And at least",
        unit="% of the interval",
        scale=100,
        meaning="Nor does a fill that is young for its own interval give a rate.",
    ),
    SettingTold(
        name="least_earlier",
        title="Earlier samples for a step",
        unit="samples",
        meaning="A step of the box's own history needs so many trusted samples before it.",
    ),
    SettingTold(
        name="smoothing",
        title="Weight of the newest sample",
        unit="% of the own level",
        scale=100,
        meaning="Higher follows a drift sooner and forgets the past sooner.",
    ),
    SettingTold(
        name="clip",
        title="One sample moves the own level by at most",
        unit="spreads",
        meaning="So that one wild result does not become the new normal.",
    ),
    SettingTold(
        name="companions_needed",
        title="Companions that raise a pattern",
        unit="analytes",
        meaning="So many analytes of one pattern at Watch or worse raise it by a step; 0: never.",
    ),
    SettingTold(
        name="stale_after",
        title="A verdict is stale after",
        unit="intervals",
        meaning="Counted from its sample; a stale verdict says nothing of today.",
    ),
)
"""Every setting, in the order people read them. All usual values: common practice, no source."""


def setting_changes(
    before: Mapping[str, Any], after: Mapping[str, Any]
) -> tuple[tuple[str, str, str], ...]:
    """The settings in which two sets differ: (title, figure before, figure after), with units.

    >>> setting_changes({}, {"stale_after": 3.0})
    (('A verdict is stale after', '2 intervals', '3 intervals'),)
    """
    old, new = settings_of(before), settings_of(after)
    found = []
    for one in SETTINGS:
        pair = (getattr(old, one.name), getattr(new, one.name))
        if pair[0] != pair[1]:
            was, now = (f"{one.words(value)} {one.unit}" for value in pair)
            found.append((one.title, was, now))
    return tuple(found)
