"""Whether a sample can be believed, from how it was drawn."""

from fluiddesk.domain.samples import DrawMethod
from fluiddesk.domain.severity import Trust


def trust_of_drawing(method: DrawMethod) -> tuple[Trust, str]:
    """The trust in a sample by its way into the bottle, and the reason in words.

    The drain stream carries what has settled at the bottom: iron, silicon, water and particles read
    high (common practice, no source; TM 38-301-1 lets the first fluid run off for this reason).

    >>> trust_of_drawing(DrawMethod.DRAIN_STREAM)[0].word
    'Suspect'
    """
    if method is DrawMethod.DRAIN_STREAM:
        return Trust.SUSPECT, "drawn from the drain stream, which carries settled debris"
    return Trust.GOOD, ""
