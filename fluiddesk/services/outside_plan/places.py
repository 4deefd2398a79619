"""Sites, tanks and deliveries by the names a person gives them."""

from fluiddesk.domain.errors import NotFoundError, UsageError
from fluiddesk.domain.identity import SiteId
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import RecordKind


def site_named(place: Workplace, name: str | None) -> SiteId:
    """The site of this name; the only one there is where none is named.

    Raises:
        UsageError: when none is named and there are several, or none.
        NotFoundError: when no site is called so; the text names those there are.
    """
    with place.store.reading() as desk:
        sites = desk.fleet.sites()
    names = ", ".join(f'"{one.name}"' for one in sites) or "none yet"
    if name is None:
        if len(sites) != 1:
            raise UsageError(f"Say which site. There is: {names}.")
        return sites[0].site
    for one in sites:
        if one.name.casefold() == name.strip().casefold():
            return one.site
    raise NotFoundError(f'There is no site "{name}". There is: {names}.')


def store_named(
    place: Workplace, site: SiteId, *, fluid: str, tank: str, batch: str
) -> tuple[bytes | None, bytes | None]:
    """The identifiers of a site's tank and delivery by their numbers; ``None`` where not named.

    Raises:
        NotFoundError: when one that is named is not on the register.
    """
    found: list[bytes | None] = []
    for kind, number, column, words in (
        (RecordKind.TANK, tank, "code", "tank"),
        (RecordKind.BATCH, batch, "batch", "delivery"),
    ):
        if not number:
            found.append(None)
            continue
        with place.store.reading() as desk:
            rows = desk.register.all(kind, site_id=site, fluid_code=fluid)
        keys = [row["id"] for row in rows if row[column].casefold() == number.strip().casefold()]
        if not keys:
            raise NotFoundError(
                f'There is no {words} "{number}" of {fluid} at this site. Add it to the register '
                "first, or say it in words."
            )
        found.append(bytes(keys[0]))
    return found[0], found[1]
