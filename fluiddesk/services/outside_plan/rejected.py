"""Bottles that the laboratory sent back without results: leaking, empty, without a label."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Final

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.identity import SampleId, normal_bottle_code
from fluiddesk.domain.samples import ResultSheet, Sample, SampleState
from fluiddesk.domain.severity import Trust
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.reassess.blocks import refresh_blocks
from fluiddesk.services.reassess.fleet import reassess_boxes
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk

_BY_LABORATORY: Final = "rejected by the laboratory"
_NO_WORDS: Final = "no results, no reason given"
_NOT_DRAWN: Final = (
    SampleState.PLANNED, SampleState.NOT_TAKEN, SampleState.LOST, SampleState.VOID,
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejection:
    """What the laboratory wrote about a bottle it measured nothing of."""

    bottle_code: str
    laboratory: str
    report_number: str
    reason: str
    received_on: date | None = None
    issue: int = 1


def reject_sample(place: Workplace, told: Rejection, *, moment: datetime, today: date) -> Changes:
    """Note that a bottle was rejected: its box is due again, the verdict of before stays.

    A bottle of a drum, tank or new fluid has no box; its report then holds no value.

    Raises:
        BottleCodeError: when the check character does not fit.
        NotFoundError: when no sample has this bottle.
        OperatorError: when no reason is given, the bottle was not drawn, or it has results.
    """
    del today
    code = normal_bottle_code(told.bottle_code)
    if not told.reason.strip():
        raise OperatorError("The laboratory's reason is missing. Write why nothing was measured.")
    with place.store.transaction(who=place.who, moment=moment) as desk:
        sample = desk.sampling.by_bottle([code]).get(code)
        if sample is None and _reject_fluid(desk, told, code):
            return Changes(subjects=frozenset({Subject.RESULTS}))
        if sample is None:
            raise NotFoundError(f"No sample has the bottle {code}. Register the sample first.")
        if sample.state in _NOT_DRAWN:
            raise OperatorError(
                f"Bottle {code} is {sample.state.value.replace('_', ' ')}, so no laboratory can "
                "have had it. Mark it as taken first."
            )
        if sample.state is SampleState.REPORTED and not desk.outside.is_rejected(
            sample.site, sample.id
        ):
            raise OperatorError(
                f"Bottle {code} has results. Undo their intake first if they are not its own."
            )
        _know_laboratory(desk, told.laboratory)
        save_with_trust(desk, sample, _sheet(told, code), intake=None)
        _judge_again(desk, place.catalogue, sample, moment)
    return Changes(
        subjects=frozenset({Subject.RESULTS, Subject.ASSESSMENTS}),
        compartments=frozenset({sample.compartment}),
    )


def _reject_fluid(desk: Desk, told: Rejection, code: str) -> bool:
    """Note the rejection of a fluid sample; whether there is one with this bottle."""
    for one in desk.outside.fluid_samples([code]):
        if desk.outside.readings_of(one.site, one.id):
            raise OperatorError(
                f"Bottle {code} has results. Undo their intake first if they are not its own."
            )
        _know_laboratory(desk, told.laboratory)
        desk.outside.save_fluid_sheet(one, _sheet(told, code), None)
        return True
    return False


def _know_laboratory(desk: Desk, code: str) -> None:
    if code not in desk.catalogue.laboratories():
        desk.catalogue.add_laboratories({code: code})


def save_with_trust(
    desk: Desk, sample: Sample, sheet: ResultSheet, *, intake: bytes | None
) -> None:
    """Save a sheet; one without any result makes its sample rejected, a later one believed again.

    Raises:
        SheetTakenError: when this issue of this report stands already.
    """
    made = desk.results.save_sheet(sample.site, sample.id, sheet, intake)
    if not sheet.has_results:
        desk.outside.mark_rejected(sample.site, made, sheet.remark or _NO_WORDS)
    restore_trust(desk, [sample.id])


def restore_trust(desk: Desk, samples: Collection[SampleId]) -> None:
    """Bring the trust in samples in line with the sheet in force: rejected without results."""
    changed = []
    for sample in desk.sampling.samples(list(samples)).values():
        was = sample.trust_reason.startswith(_BY_LABORATORY)
        is_now = desk.outside.is_rejected(sample.site, sample.id)
        if is_now and not was:
            reason = _BY_LABORATORY + (f"; {sample.trust_reason}" if sample.trust_reason else "")
            changed.append(replace(sample, trust=Trust.REJECTED, trust_reason=reason))
        elif was and not is_now:
            before = sample.trust_reason.removeprefix(_BY_LABORATORY).removeprefix("; ")
            trust = Trust.SUSPECT if before else Trust.GOOD
            changed.append(replace(sample, trust=trust, trust_reason=before))
    desk.sampling.update_samples(changed)


def _sheet(told: Rejection, code: str) -> ResultSheet:
    return ResultSheet(
        bottle_code=code,
        laboratory=told.laboratory,
        report_number=told.report_number.strip() or code,
        issue=told.issue,
        readings={},
        received_on=told.received_on,
        remark=told.reason.strip(),
    )


def _judge_again(desk: Desk, catalogue: Catalogue, sample: Sample, moment: datetime) -> None:
    touched = frozenset({sample.compartment})
    refresh_blocks(desk, touched)
    reassess_boxes(desk, catalogue, moment=moment, compartments=touched)
