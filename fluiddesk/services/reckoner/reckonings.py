"""The eight reckonings in their order, and the one way to ask them."""

from typing import Final

from fluiddesk.domain.errors import UsageError
from fluiddesk.services.reckoner.coolants import FREEZE
from fluiddesk.services.reckoner.facts import Answer, Reckoning, Typed
from fluiddesk.services.reckoner.meter_hours import HOURS
from fluiddesk.services.reckoner.particles import CODE
from fluiddesk.services.reckoner.viscosities import BLEND, GRADE, VI, VISCOSITY
from fluiddesk.services.reckoner.wear_rate import RATE

RECKONINGS: Final = (CODE, VI, VISCOSITY, BLEND, GRADE, FREEZE, RATE, HOURS)


def reckoning_named(name: str) -> Reckoning:
    """The reckoning of this name.

    Raises:
        UsageError: when there is none.
    """
    for one in RECKONINGS:
        if one.name == name:
            return one
    names = ", ".join(one.name for one in RECKONINGS)
    raise UsageError(f'There is no reckoning "{name}". Choose one of: {names}.')


def reckon(name: str, typed: Typed) -> Answer:
    """Answer one reckoning from what was typed in its fields.

    Raises:
        UsageError: for a reckoning or a field that does not exist.
        MissingFigureError: when a figure it needs was not given.
        OperatorError: for a figure that cannot be, with the value and the remedy.

    >>> reckon("vi", {"kv40": "73.30", "kv100": "8.86"}).headline
    'Viscosity index 92'
    """
    one = reckoning_named(name)
    known = [field.name for field in one.fields]
    for given in typed:
        if given not in known:
            raise UsageError(f'"{name}" has no field "{given}". Give one of: {", ".join(known)}.')
    return one.work(typed)
