"""A file of past results as it would be taken in; nothing is changed."""

from datetime import date
from pathlib import Path

from fluiddesk.intake.past_reading import Progress, read_past_file
from fluiddesk.intake.problems import HeldRow
from fluiddesk.services.lab_intake.preview import layouts, problem_facts
from fluiddesk.services.past_results.facts import (
    PastCandidate,
    PastFate,
    PastPreview,
    PastRowFacts,
)
from fluiddesk.services.past_results.fleet_names import FleetNames, Named
from fluiddesk.services.past_results.matching import MatchedRow, match_rows
from fluiddesk.services.workplace import Workplace


def preview_past_results(
    place: Workplace,
    path: Path,
    *,
    layout_name: str | None = None,
    today: date,
    progress: Progress | None = None,
) -> PastPreview:
    """Read a file without our bottle codes and say for each row whose it is and how surely.

    Raises:
        OperatorError: when the file cannot be read at all; the text says what to do.
    """
    report = read_past_file(
        path,
        layouts=layouts(place),
        analytes=place.catalogue.analytes,
        today=today,
        layout_name=layout_name,
        progress=progress,
    )
    with place.store.reading() as desk:
        matching = match_rows(desk, place.catalogue, report.rows)
        known = desk.results.find_intake_by_hash(report.sha256)
    rows = [row_facts(one, matching.names) for one in matching.rows]
    rows += [_held_facts(one) for one in report.held]
    return PastPreview(
        file_name=report.file,
        file_path=str(path),
        sha256=report.sha256,
        layout=report.layout,
        laboratory=report.laboratory,
        rows=tuple(sorted(rows, key=lambda row: row.row)),
        problems=tuple(problem_facts(problem) for problem in report.problems),
        already_taken_in=f"{known.taken_in_at:%Y-%m-%d} by {known.taken_in_by}" if known else "",
        report=report,
    )


def row_facts(matched: MatchedRow, names: FleetNames) -> PastRowFacts:
    """A matched row as screens and scripts show it."""
    row = matched.row
    return PastRowFacts(
        row=row.row,
        machine_printed=row.machine,
        compartment_printed=row.compartment,
        report=row.sheet.report_number,
        issue=row.sheet.issue,
        sampled_on=row.sampled_on,
        fate=matched.fate,
        candidates=tuple(candidate(one, names) for one in matched.candidates),
        why=matched.why,
    )


def candidate(named: Named, names: FleetNames) -> PastCandidate:
    """A box a row may belong to, in words."""
    box = named.box
    assert box is not None  # noqa: S101  # a candidate is always a box
    return PastCandidate(
        compartment_id=box.id,
        site=names.sites[box.site],
        machine=named.machine.code,
        compartment=names.box_name(box),
        score=named.score,
        doubts=named.doubts,
    )


def _held_facts(held: HeldRow) -> PastRowFacts:
    return PastRowFacts(
        row=held.row,
        machine_printed="",
        compartment_printed="",
        report="",
        issue=0,
        sampled_on=None,
        fate=PastFate.HELD,
        why=" ".join(reason.text() for reason in held.reasons),
    )
