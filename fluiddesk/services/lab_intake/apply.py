"""Puts what a laboratory's file says into an open transaction, and judges what it touched."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from fluiddesk.domain.errors import OperatorError, StaleEditError
from fluiddesk.domain.identity import CompartmentId, SampleId, SiteId
from fluiddesk.domain.samples import OpenBottle
from fluiddesk.intake.problems import HeldRow, IntakeReport
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.event_questions import ask_of
from fluiddesk.services.outside_plan.rejected import save_with_trust
from fluiddesk.services.reassess.blocks import refresh_blocks
from fluiddesk.services.reassess.fleet import Moved, reassess_boxes
from fluiddesk.storage import Desk, FluidSampleRecord, HeldRowRecord

HEADINGS: Final = "headings"
"""Where the cells of a held row keep the headings they stood under, for reading them again."""
BETWEEN_HEADINGS: Final = "\x1f"


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
    """
    _refuse_stale(desk, report)
    if report.laboratory not in desk.catalogue.laboratories():
        desk.catalogue.add_laboratories({report.laboratory: report.laboratory})
    samples = desk.sampling.samples([matched.bottle.sample for matched in report.accepted])
    fluids = _fluid_samples(desk, report, set(samples))
    before = desk.results.find_intake_by_hash(report.sha256)
    of_boxes = {one.site for one in samples.values()}
    sites = sorted(of_boxes | {one.site for one in fluids.values()})
    intakes = {site: _intake_at(desk, site, report) for site in sites}
    for matched in report.accepted:
        fluid = fluids.get(matched.bottle.sample)
        if fluid is not None:
            desk.outside.save_fluid_sheet(fluid, matched.sheet, intakes[fluid.site])
            continue
        sample = samples[matched.bottle.sample]
        save_with_trust(desk, sample, matched.sheet, intake=intakes[sample.site])
    if before is None and sites:
        held = [_held_record(sites[0], intakes[sites[0]], row, report) for row in report.held]
        desk.results.add_held_rows(held)
    _settle_held(desk, [] if before is None else [before.id], report)
    touched = frozenset(sample.compartment for sample in samples.values())
    refresh_blocks(desk, touched)
    reported = {one.bottle.sample: one.sheet.readings for one in report.accepted}
    ask_of(desk, catalogue, reported, list(samples.values()))
    outcome = reassess_boxes(desk, catalogue, moment=moment, compartments=touched)
    return Applied(intakes=tuple(intakes.values()), compartments=touched, moved=outcome.moved)


def put_aside(desk: Desk, report: IntakeReport) -> bytes:
    """Keep the held rows of a file of which nothing else is taken in; returns its intake.

    Raises:
        OperatorError: when there is no site to keep them at.
        StaleEditError: when another desk put the file aside meanwhile.
    """
    sites = desk.fleet.sites()
    if not sites:
        raise OperatorError(
            f"{report.file} cannot be put aside: there is no site yet. Add one on the Register "
            "page first."
        )
    if desk.results.find_intake_by_hash(report.sha256) is not None:
        raise StaleEditError(f"{report.file} was put aside at another desk meanwhile.")
    site = min(one.site for one in sites)
    intake = _add_intake(desk, site, report)
    held = [_held_record(site, intake, row, report) for row in report.held]
    desk.results.add_held_rows(held)
    return intake


def _fluid_samples(
    desk: Desk, report: IntakeReport, samples: set[SampleId]
) -> dict[SampleId, FluidSampleRecord]:
    """The samples of drums, tanks and new fluid among the bottles of a file."""
    codes = [one.bottle.bottle_code for one in report.accepted if one.bottle.sample not in samples]
    return {SampleId(one.id): one for one in desk.outside.fluid_samples(codes)} if codes else {}


def _intake_at(desk: Desk, site: SiteId, report: IntakeReport) -> bytes:
    """The intake of this file at a site.

    A file that was taken in before comes again when bottles it named have been registered since:
    what was put aside then is taken in now, under the intake that stands.
    """
    known = desk.results.find_intake_by_hash(report.sha256, site=site)
    return _add_intake(desk, site, report) if known is None else known.id


def _settle_held(desk: Desk, intakes: Collection[bytes], report: IntakeReport) -> None:
    """Rows put aside before that are taken in now wait no more."""
    rows = {one.row for one in report.accepted}
    for intake in intakes:
        for held in desk.results.held_rows(intake):
            if held.row_number in rows:
                desk.results.settle_held_row(held, outcome="taken in")


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


def bottles_of(desk: Desk, codes: Sequence[str]) -> list[OpenBottle]:
    """The bottles on the register that rows may belong to, of boxes and of fluids."""
    return [*desk.sampling.open_bottles(codes), *desk.outside.open_bottles(codes)]


def _refuse_stale(desk: Desk, report: IntakeReport) -> None:
    """A bottle may have been reported by another desk while this one looked at the preview."""
    first: dict[str, tuple[int, str]] = {}
    for matched in report.accepted:
        bottle = matched.bottle
        first.setdefault(bottle.bottle_code, (bottle.newest_issue, bottle.newest_report))
    now = {
        bottle.bottle_code: (bottle.newest_issue, bottle.newest_report)
        for bottle in bottles_of(desk, sorted(first))
    }
    changed = [code for code, seen in first.items() if now.get(code) != seen]
    if changed:
        raise StaleEditError(
            f"Bottle {changed[0]} was reported or withdrawn at another desk since this file was "
            f"read{f', and {len(changed) - 1} more' if len(changed) > 1 else ''}. Nothing was "
            "saved. Open the file again."
        )


def _held_record(site: SiteId, intake: bytes, held: HeldRow, report: IntakeReport) -> HeldRowRecord:
    cells = {str(place): text for place, text in enumerate(held.cells, start=1)}
    return HeldRowRecord(
        site=site,
        intake=intake,
        row_number=held.row,
        cells={**cells, HEADINGS: BETWEEN_HEADINGS.join(report.headers)},
        reason=" ".join(problem.text() for problem in held.reasons),
    )
