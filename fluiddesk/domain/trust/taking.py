"""Whether a sample can be believed, from what was done at the machine when it was drawn.

All of it common practice, no source, but letting the first fluid run off (TM 38-301-1) and filling
above the line so that the laboratory can repeat a test.
"""

from dataclasses import dataclass
from enum import StrEnum

from fluiddesk.domain.samples import DrawMethod
from fluiddesk.domain.severity import Trust
from fluiddesk.domain.trust.drawing import trust_of_drawing


class FillLevel(StrEnum):
    """How full the bottle came back."""

    BELOW_LINE = "below_line"
    ABOVE_LINE = "above_line"
    ABOVE_NECK = "above_neck"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """What was done at the machine; ``None`` where the sheet does not say.

    ``needs_mixing``: gear boxes that cannot get hot settle unless they were moved.
    """

    method: DrawMethod
    flushed: bool | None = None
    warm: bool | None = None
    mixed: bool | None = None
    fill_level: FillLevel = FillLevel.UNKNOWN
    cap_marked: bool | None = None
    needs_mixing: bool = False


def trust_of_taking(done: Drawing) -> tuple[Trust, str]:
    """The trust in a sample and every reason against it, in words.

    >>> trust_of_taking(Drawing(method=DrawMethod.VACUUM_TUBE, flushed=True, warm=True))
    (<Trust.GOOD: 0>, '')
    >>> trust_of_taking(Drawing(method=DrawMethod.VALVE_PROBE, flushed=False))[1]
    'not flushed, so what stood in the port may be in the bottle'
    """
    trust, why = trust_of_drawing(done.method)
    against = [why] if why else []
    if done.flushed is False:
        against.append("not flushed, so what stood in the port may be in the bottle")
    if done.needs_mixing and done.mixed is False:
        against.append("not mixed, so wear debris may have settled")
    if not done.needs_mixing and done.warm is False and done.mixed is not True:
        against.append("drawn cold and unmixed, so debris and water may have settled")
    if done.cap_marked is False:
        against.append("lid not marked at the machine, so bottles may be mixed up")
    return (Trust.SUSPECT if against else trust), "; ".join(against)


def notes_on_taking(done: Drawing) -> tuple[str, ...]:
    """What is worth knowing of the bottle without doubting it."""
    if done.fill_level is FillLevel.BELOW_LINE:
        return ("filled below the line: no second run at the laboratory",)
    if done.fill_level is FillLevel.ABOVE_NECK:
        return ("filled above the neck: it cannot be shaken, and may leak",)
    return ()
