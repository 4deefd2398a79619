"""The numbers of the rules that combine limits; each limit set carries its own.

All of them are common practice without a source; the share of 20 % and the 50 h below which a fill
is too young for a rate are the usual advice of laboratories (common practice, no source).
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, Final

from fluiddesk.domain.limits.limit_set import LimitError


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgingSettings:
    """How limits are combined.

    Attributes:
        clears_at: a raised limit counts as cleared below this share of its bound.
        repair_share: after a recorded repair one sample clears, drawn at this share or more of the
            usual fluid hours.
        run_in: multipliers of wear limits in the first, second ... fill after a component was
            fitted.
        least_fluid_hours: a younger fill gives no rate.
        least_fluid_share: nor one younger than this share of the interval.
        least_earlier: earlier trusted samples that a step of the own history needs.
        smoothing: weight of the newest sample in the smoothed own level or rate.
        clip: a sample counts into the own level and spread by at most so many spreads.
        companions_needed: analytes of one pattern at Watch or worse that raise it by a step; 0
            raises nothing.
        stale_after: a verdict is stale after so many missed intervals.
    """

    clears_at: float = 0.85
    repair_share: float = 0.5
    run_in: tuple[float, ...] = (2.0, 1.5)
    least_fluid_hours: float = 50.0
    least_fluid_share: float = 0.2
    least_earlier: int = 4
    smoothing: float = 0.3
    clip: float = 3.0
    companions_needed: int = 2
    stale_after: float = 2.0


USUAL: Final = JudgingSettings()

SPANS: Final[Mapping[str, tuple[float, float]]] = {
    "clears_at": (0.5, 1.0),
    "repair_share": (0.0, 1.0),
    "run_in": (1.0, 5.0),
    "least_fluid_hours": (0.0, 500.0),
    "least_fluid_share": (0.0, 1.0),
    "least_earlier": (3, 30),
    "smoothing": (0.05, 1.0),
    "clip": (1.0, 10.0),
    "companions_needed": (0, 10),
    "stale_after": (1.0, 10.0),
}
"""The least and the most that makes sense for each."""


def settings_of(told: Mapping[str, Any]) -> JudgingSettings:
    """Settings from names and numbers; what is left out is usual.

    Raises:
        LimitError: with the first name that is unknown or value out of its span.

    >>> settings_of({"clears_at": 0.9, "run_in": [1.5]}).run_in
    (1.5,)
    """
    given: dict[str, Any] = {}
    for name, value in told.items():
        if name not in SPANS:
            raise LimitError(f'There is no setting "{name}". Known are {", ".join(SPANS)}.')
        given[name] = _checked(name, value)
    return JudgingSettings(**given)


def _checked(name: str, value: Any) -> Any:
    usual = getattr(USUAL, name)
    parts = value if isinstance(usual, tuple) else [value]
    low, high = SPANS[name]
    numbers = isinstance(parts, list | tuple) and all(
        isinstance(one, int | float) and not isinstance(one, bool) for one in parts
    )
    if not numbers or not all(low <= one <= high for one in parts):
        raise LimitError(f"{name} is {value!r}. Give a number from {low:g} to {high:g}.")
    if isinstance(usual, tuple):
        return tuple(float(one) for one in parts)
    return type(usual)(value)


def settings_as_mapping(settings: JudgingSettings) -> dict[str, Any]:
    """What differs from the usual, to be stored; ``settings_of`` reads it back.

    >>> settings_as_mapping(JudgingSettings(least_earlier=8))
    {'least_earlier': 8}
    """
    return {
        one.name: list(value) if isinstance(value, tuple) else value
        for one in fields(settings)
        if (value := getattr(settings, one.name)) != getattr(USUAL, one.name)
    }
