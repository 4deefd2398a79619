"""Sites: the places that own records. A site's number never changes."""

import math
from datetime import date, datetime
from typing import Final
from zoneinfo import available_timezones

from fluiddesk.domain.identity import SiteId
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.register.derive import FLEET_ONLY
from fluiddesk.services.register.facts import NEW, SiteFacts
from fluiddesk.services.register.saving import Faults, Saved, write_record
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKey, RecordKind, canonical_json

_ALL_OF_IT: Final = 1.0


def save_site(place: Workplace, facts: SiteFacts, *, today: date, moment: datetime) -> Saved:
    """Add a site (version 0) or change one; see ``put_site``."""
    with place.store.transaction(who=place.who, moment=moment) as desk:
        return put_site(desk, place.catalogue, facts, today=today)


def put_site(desk: Desk, catalogue: Catalogue, facts: SiteFacts, *, today: date) -> Saved:
    """Save a site in an open transaction; the key in the answer is its number.

    Raises:
        RegisterFaultsError: naming each wrong field.
        StaleRecordError: when somebody else saved it since it was read.
    """
    _ = today
    known = desk.fleet.sites()
    number = facts.site or SiteId(max((one.site for one in known), default=0) + 1)
    name = facts.name.strip()
    faults = Faults(f"Site {name}" if name else "The site")
    faults.needs_text("name", name, "The name")
    if any(one.name.casefold() == name.casefold() and one.site != number for one in known):
        faults.add("name", name, f'There is a site "{name}" already. Choose another name.')
    if facts.version == NEW and any(one.site == facts.site for one in known):
        faults.add("site", facts.site, f"Number {facts.site} belongs to a site already.")
    if facts.time_zone not in available_timezones():
        faults.add(
            "time_zone",
            facts.time_zone,
            f'Time zone "{facts.time_zone}" is not known. Give one such as "Europe/Berlin".',
        )
    _check_dust(faults, catalogue, facts)
    faults.refuse()
    values = {
        "name": name,
        "time_zone": facts.time_zone,
        "dust_shares": canonical_json(dict(facts.dust_shares)),
    }
    key = RecordKey(RecordKind.SITE, number, number)
    write_record(desk, key, values, version=facts.version, name=f"site {name}")
    return Saved(changes=FLEET_ONLY, key=number)


def _check_dust(faults: Faults, catalogue: Catalogue, facts: SiteFacts) -> None:
    for code, share in facts.dust_shares.items():
        if code not in catalogue.analytes:
            text = f'Element "{code}" of the dust is not known. Give an analyte\'s code.'
            faults.add("dust_shares", code, text)
        faults.needs_number("dust_shares", share, f"The share of {code} in the dust", high=1.0)
    total = math.fsum(facts.dust_shares.values())
    if total > _ALL_OF_IT + 1e-9:
        text = f"The shares of the dust add up to {total:g}. Together they can be 1 at most."
        faults.add("dust_shares", f"{total:g}", text)
