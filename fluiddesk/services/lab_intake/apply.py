"""Puts what a laboratory's file says into an open transaction, and judges what it touched."""

from dataclasses import dataclass
from datetime import datetime

from fluiddesk.domain.errors import StaleEditError
from fluiddesk.domain.identity import CompartmentId, SiteId
from fluiddesk.intake.problems import HeldRow, IntakeReport
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.reassess.blocks import refresh_blocks
from fluiddesk.services.reassess.fleet import Moved, reassess_boxes
from fluiddesk.storage import Desk, HeldRowRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class Applied:
    """What a file did: its intakes (one for each site in it), the boxes touched and those moved."""

    intakes: tuple[bytes, ...]
    compartments: frozenset[CompartmentId]
    moved: tuple[Moved, ...]


def apply_report(
    desk: Desk, catalogue: Catalogue, report: IntakeReport, *, moment: datetime
) -> Applied:
    """Save the accepted sheets and the held rows of a file, and assess the boxes it touched.

    Raises:
        StaleEditError: when the register changed since the file was read.
        OperatorError: when the same file was taken in before.
    """
    _refuse_stale(desk, report)
    if report.laboratory not in desk.catalogue.laboratories():
        desk.catalogue.add_laboratories({report.laboratory: report.laboratory})
    samples = desk.sampling.samples([matched.bottle.sample for matched in report.accepted])
    sites = sorted({samples[matched.bottle.sample].site for matched in report.accepted})
    intakes = {site: _add_intake(desk, site, report) for site in sites}
    for matched in report.accepted:
        sample = samples[matched.bottle.sample]
        desk.results.save_sheet(sample.site, sample.id, matched.sheet, intakes[sample.site])
    if sites:
        held = [_held_record(sites[0], intakes[sites[0]], row) for row in report.held]
        desk.results.add_held_rows(held)
    touched = frozenset(sample.compartment for sample in samples.values())
    refresh_blocks(desk, touched)
    outcome = reassess_boxes(desk, catalogue, moment=moment, compartments=touched)
    return Applied(intakes=tuple(intakes.values()), compartments=touched, moved=outcome.moved)


def _add_intake(desk: Desk, site: SiteId, report: IntakeReport) -> bytes:
    return desk.results.add_intake(
        site,
        file_name=report.file,
        sha256=report.sha256,
        layout=report.layout,
        counts={
            "taken_in": len(report.accepted),
            "held": report.held_count,
            "unchanged": len(report.unchanged),
        },
    )


def _refuse_stale(desk: Desk, report: IntakeReport) -> None:
    """A bottle may have been reported by another desk while this one looked at the preview."""
    first: dict[str, tuple[int, str]] = {}
    for matched in report.accepted:
        bottle = matched.bottle
        first.setdefault(bottle.bottle_code, (bottle.newest_issue, bottle.newest_report))
    now = {
        bottle.bottle_code: (bottle.newest_issue, bottle.newest_report)
        for bottle in desk.sampling.open_bottles(sorted(first))
    }
    changed = [code for code, seen in first.items() if now.get(code) != seen]
    if changed:
        raise StaleEditError(
            f"Bottle {changed[0]} was reported or withdrawn at another desk since this file was "
            f"read{f', and {len(changed) - 1} more' if len(changed) > 1 else ''}. Nothing was "
            "saved. Open the file again."
        )


def _held_record(site: SiteId, intake: bytes, held: HeldRow) -> HeldRowRecord:
    return HeldRowRecord(
        site=site,
        intake=intake,
        row_number=held.row,
        cells={str(place): text for place, text in enumerate(held.cells, start=1)},
        reason=" ".join(problem.text() for problem in held.reasons),
    )
