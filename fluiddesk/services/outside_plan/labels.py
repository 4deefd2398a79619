"""Blank bottle labels kept as spares, and whether a label may be used."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import SiteId, bottle_code
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import BottleRecord, Desk

MOST_AT_ONCE: Final = 500
_SERIES: Final = "S"
"""Spare labels have a series of their own, so that they never meet a planned number."""
_DIGITS: Final = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareLabel:
    """A label that belongs to no sample yet."""

    code: str
    site: str
    issued_on: date | None


def issue_spare_labels(
    place: Workplace, site: SiteId, count: int, *, moment: datetime, today: date
) -> tuple[str, ...]:
    """Make blank labels for a site, numbered on from the last ones of the year.

    Raises:
        OperatorError: when the count is not from 1 to 500, or the year's numbers are used up.
    """
    if not 1 <= count <= MOST_AT_ONCE:
        raise OperatorError(f"{count} labels cannot be made. Ask for 1 to {MOST_AT_ONCE}.")
    with place.store.transaction(who=place.who, moment=moment) as desk:
        start = f"{today:%y}{_SERIES}"
        last = desk.outside.last_code(start)
        first = int(last[len(start) + 1 :][:_DIGITS]) + 1 if last else 1
        if first + count - 1 >= 10**_DIGITS:
            raise OperatorError("This year's numbers of spare labels are used up. Ask for fewer.")
        codes = tuple(bottle_code(f"{start}{first + at:0{_DIGITS}}") for at in range(count))
        desk.sampling.add_bottles(
            BottleRecord(site=site, code=code, issued_on=today) for code in codes
        )
        told = {"first": codes[0], "last": codes[-1], "count": count}
        desk.audit.append(site, "spare bottle labels", None, told)
    return codes


def spare_labels(place: Workplace) -> tuple[SpareLabel, ...]:
    """The labels that wait for a sample, by site and number."""
    with place.store.reading() as desk:
        names = {one.site: one.name for one in desk.fleet.sites()}
        return tuple(
            SpareLabel(code=one.code, site=names[one.site], issued_on=one.issued_on)
            for one in desk.outside.spare_bottles()
        )


def free_bottle(desk: Desk, code: str, site: SiteId) -> BottleRecord | None:
    """The spare label of this code; ``None`` where the code was never issued.

    Raises:
        OperatorError: when the label belongs to another sample, or was issued at another site.
    """
    taken = desk.sampling.by_bottle([code]).get(code)
    if taken is not None:
        box = desk.fleet.compartment(taken.compartment)
        machine = next(one for one in desk.fleet.machines() if one.id == box.machine)
        day = f" of {taken.taken_on.isoformat()}" if taken.taken_on else ""
        raise OperatorError(
            f"Bottle {code} is the sample{day} of {machine.code}, {box.name(box.kind)}. Compare "
            "the label with the bottle."
        )
    if desk.outside.fluid_samples([code]):
        raise OperatorError(f"Bottle {code} is a fluid sample. Compare the label with the bottle.")
    bottle = desk.outside.bottle(code)
    if bottle is not None and bottle.site != site:
        names = {one.site: one.name for one in desk.fleet.sites()}
        raise OperatorError(
            f"Label {code} was issued at {names[bottle.site]}, not at {names[site]}. Compare the "
            "label with the bottle."
        )
    return bottle
