"""Which limit holds for a box, since when, and which limits it overrode."""

from datetime import date

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.limits.interval_rule import intervals_covering
from fluiddesk.domain.limits.limit_set import set_in_force
from fluiddesk.domain.limits.precedence import LimitAnswer, limit_answers
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.limit_rules.facts import BoxLimits, HeldLimit
from fluiddesk.services.limit_rules.shown import unit_of
from fluiddesk.services.reassess.fleet import BoxFacts
from fluiddesk.services.workplace import Workplace


def box_limits(place: Workplace, compartment: CompartmentId, *, day: date) -> BoxLimits:
    """Every limit that holds for one box on a day, by family and analyte, and its interval rule.

    Raises:
        NotFoundError: when there is no such box, or no set held on that day.
    """
    with place.store.reading() as desk:
        rows = desk.boxes.rows([compartment])
        sets = desk.limits.limit_sets()
    if not rows:
        raise NotFoundError(f"There is no compartment {compartment.hex()} in use. Choose another.")
    facts = BoxFacts._make(rows[0])
    held = set_in_force(sets, day)
    if held is None:
        raise NotFoundError(f"No limit set held on {day}. Put a limit set in force first.")
    covering = intervals_covering(held.intervals, facts.box)
    found = [_held(one, place.catalogue) for one in limit_answers(sets, facts.box, day)]
    return BoxLimits(
        site=facts.site,
        machine=facts.machine,
        compartment=place.catalogue.box_name(facts.kind, facts.position),
        day=day,
        set_number=held.number,
        set_name=held.name,
        held=tuple(sorted(found, key=lambda one: _order(one, place.catalogue))),
        interval=covering[0] if covering else None,
        interval_overrode=tuple(covering[1:]),
    )


def _held(answer: LimitAnswer, catalogue: Catalogue) -> HeldLimit:
    limit = answer.holds.limit
    analyte = catalogue.analytes.get(limit.analyte)
    return HeldLimit(
        limit=limit,
        overrode=tuple(row.limit for row in answer.overrode),
        since=answer.holds.since,
        set_number=answer.limit_set.number,
        set_name=answer.limit_set.name,
        unit=unit_of(limit, analyte.unit) if analyte else "",
        analyte=analyte.name if analyte else limit.analyte,
    )


def _order(held: HeldLimit, catalogue: Catalogue) -> tuple[int, str, str]:
    analyte = catalogue.analytes.get(held.limit.analyte)
    return (analyte.order if analyte else 0, held.limit.kind.value, held.limit.direction)
