"""A new database: the catalogues put in, the starter limits put in force."""

import json
from datetime import date, datetime

from fluiddesk import __version__
from fluiddesk.domain.limits.limit_set import LimitSet, LimitSetState
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, open_store

STARTER_FROM = date(2000, 1, 1)
"""The starter limits hold from this day on, so that results of past years get a verdict too."""

STARTER_NOTE = (
    "Starter limits for the first months, common practice. Compare them with your machines' "
    "manuals and replace them by your own fleet's figures as results come in. "
    "A named person decides."
)
_REPLAYED = "replayed_day"


def found(address: str, catalogue: Catalogue, *, who: str, moment: datetime) -> None:
    """Make a database with the catalogues and the starter limits in force, and no machines.

    Raises:
        OperatorError: when something stands at the address or it cannot be written.
    """
    # Imported here: every start asks this module for the replayed day, few make a database.
    from fluiddesk.storage import create_store

    create_store(address, moment=moment)
    store = open_store(address)
    try:
        with store.transaction(who=who, moment=moment) as desk:
            put_catalogue(desk, catalogue)
            desk.limits.save(starter_set(catalogue))
    finally:
        store.close()


def put_catalogue(desk: Desk, catalogue: Catalogue) -> None:
    """Write analytes, fluids and new-fluid references into an empty database."""
    analytes = [(one.number, one.code, one.unit) for one in catalogue.analytes.values()]
    desk.load("analyte", ("number", "code", "unit"), analytes)
    desk.load(
        "fluid",
        ("code", "name", "fluid_class", "viscosity_grade", "density_kg_per_l"),
        [
            (one.code, one.name, one.fluid_class, one.viscosity_grade, one.density_kg_per_l)
            for one in catalogue.fluids.values()
        ],
    )
    references = [
        (fluid.code, reference)
        for fluid in catalogue.fluids.values()
        for reference in fluid.references
    ]
    desk.load(
        "fluid_reference",
        ("number", "fluid_code", "valid_from", "source", "reference_values"),
        [
            (number, code, one.valid_from, one.source, json.dumps(dict(one.values)))
            for number, (code, one) in enumerate(references)
        ],
    )


def starter_set(catalogue: Catalogue) -> LimitSet:
    """The starter limits as limit set 1, in force from the first day on."""
    return LimitSet(
        number=1,
        name="Starter limits",
        state=LimitSetState.IN_FORCE,
        valid_from=STARTER_FROM,
        valid_until=None,
        author=f"fluiddesk {__version__}",
        note=STARTER_NOTE,
        limits=catalogue.starter_limits,
    )


def replayed_day(place: Workplace) -> date | None:
    """The day a replayed (invented) database stands at; ``None`` for a real one."""
    with place.store.reading() as desk:
        told = desk.facts.get(_REPLAYED)
    return date.fromisoformat(told) if told else None


def set_replayed_day(desk: Desk, day: date) -> None:
    """Mark a database as invented and played up to a day."""
    desk.facts.put(_REPLAYED, day.isoformat())
