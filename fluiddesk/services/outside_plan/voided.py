"""Samples registered by mistake, declared void with a reason; nothing is deleted."""

from dataclasses import replace
from datetime import datetime

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.identity import normal_bottle_code
from fluiddesk.domain.samples import SampleState
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.reassess.blocks import refresh_blocks
from fluiddesk.services.reassess.fleet import reassess_boxes
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKey, RecordKind


def void_sample(place: Workplace, typed: str, *, why: str, moment: datetime) -> Changes:
    """Declare a sample void: it counts nowhere, and its box stands as without it.

    Raises:
        BottleCodeError: when the check character does not fit.
        NotFoundError: when no sample has this bottle.
        OperatorError: without a reason; when the sample is void already; when it has results, whose
            intake is undone first.
    """
    code = normal_bottle_code(typed)
    if not why.strip():
        raise OperatorError("A sample is declared void with a reason. Say why.")
    with place.store.transaction(who=place.who, moment=moment) as desk:
        sample = desk.sampling.by_bottle([code]).get(code)
        if sample is None:
            return _void_fluid(desk, code, why.strip())
        _refuse(
            code,
            sample.state,
            has_results=sample.state is SampleState.REPORTED
            and not desk.outside.is_rejected(sample.site, sample.id),
        )
        desk.sampling.edit_sample(replace(sample, state=SampleState.VOID), version=None)
        desk.audit.append(sample.site, f"sample {code} void", None, {"why": why.strip()})
        touched = frozenset({sample.compartment})
        refresh_blocks(desk, touched)
        reassess_boxes(desk, place.catalogue, moment=moment, compartments=touched)
    return Changes(
        subjects=frozenset({Subject.FLEET, Subject.RESULTS, Subject.ASSESSMENTS}),
        compartments=touched,
    )


def _void_fluid(desk: Desk, code: str, why: str) -> Changes:
    found = desk.outside.fluid_samples([code])
    if not found:
        raise NotFoundError(f"No sample has the bottle {code}. Compare it with the label.")
    one = found[0]
    _refuse(
        code, SampleState(one.state), has_results=bool(desk.outside.readings_of(one.site, one.id))
    )
    key = RecordKey(RecordKind.FLUID_SAMPLE, one.site, one.id)
    values = {"state": SampleState.VOID.value, "note": why}
    desk.register.change(key, values, version=None, name=f"fluid sample {code}")
    return Changes(subjects=frozenset({Subject.RESULTS}))


def _refuse(code: str, state: SampleState, *, has_results: bool) -> None:
    if state is SampleState.VOID:
        raise OperatorError(f"Bottle {code} is void already.")
    if has_results:
        raise OperatorError(
            f"Bottle {code} has results. Undo their intake first; then declare the sample void."
        )
