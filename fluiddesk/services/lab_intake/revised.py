"""What a revised report says otherwise than the issue before."""

from dataclasses import dataclass

from fluiddesk.domain.samples import OpenBottle, Reading, ResultSheet
from fluiddesk.services.catalogue import Catalogue


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueChange:
    """What a revision changed of one value, as printed."""

    name: str
    before: str
    after: str

    @property
    def line(self) -> str:
        """The change in words: "Iron 12 mg/kg, was 21 mg/kg"."""
        return f"{self.name} {self.after}, was {self.before}"


def revised_values(
    catalogue: Catalogue, bottle: OpenBottle, sheet: ResultSheet
) -> tuple[ValueChange, ...]:
    """What a revision says otherwise than the issue before, as printed."""
    codes = sorted(
        bottle.newest_readings.keys() | sheet.readings.keys(),
        key=lambda code: catalogue.analytes[code].order,
    )
    pairs = ((code, bottle.newest_readings.get(code), sheet.readings.get(code)) for code in codes)
    return tuple(
        ValueChange(name=catalogue.analytes[code].name, before=_printed(old), after=_printed(new))
        for code, old, new in pairs
        if _printed(old) != _printed(new) and not _is_same_value(old, new)
    )


def _printed(reading: Reading | None) -> str:
    if reading is None or not reading.printed.strip():
        return "not tested"
    return f"{reading.printed.strip()} {reading.printed_unit}".strip()


def _is_same_value(old: Reading | None, new: Reading | None) -> bool:
    if old is None or new is None:
        return False
    return (old.sign, old.value) == (new.sign, new.value)
