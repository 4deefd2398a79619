"""A laboratory's file as it would change the fleet; nothing is changed."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import NoReturn

from fluiddesk import assets
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import CompartmentId, SampleId, normal_bottle_code
from fluiddesk.domain.samples import OpenBottle, Sample
from fluiddesk.domain.severity import Severity
from fluiddesk.intake.layout_files import layout_from_text, load_layouts
from fluiddesk.intake.layouts import LabLayout
from fluiddesk.intake.problems import (
    HeldRow,
    IntakeReport,
    MatchedSheet,
    Problem,
    ProblemSeverity,
)
from fluiddesk.intake.reading import read_lab_file
from fluiddesk.services.lab_intake.apply import apply_report, bottles_of
from fluiddesk.services.lab_intake.facts import (
    IntakePreview,
    PreviewRow,
    ProblemFacts,
    RowFate,
)
from fluiddesk.services.lab_intake.revised import revised_values
from fluiddesk.services.reassess.fleet import BoxFacts
from fluiddesk.services.workplace import Workplace

Progress = Callable[[int, int | None], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Outlook:
    """How one box stands before and after a file."""

    box: str
    before: Severity
    after: Severity
    headline: str


Outlook = dict[CompartmentId, _Outlook]


class _UndoPreview(Exception):  # noqa: N818  # not an error: it takes the trial back
    """Takes the trial taking-in back."""


def layouts(place: Workplace | None = None) -> list[LabLayout]:
    """Every laboratory layout this program knows; with a workplace also those saved in it.

    A saved layout of a bundled one's name takes its place.
    """
    known = {one.name: one for one in load_layouts(assets.resource("lab_layouts"))}
    if place is not None:
        with place.store.reading() as desk:
            saved = desk.keying.layouts()
        for record in saved:
            made = layout_from_text(record.document, origin=f"layout {record.name}")
            known[made.name] = made
    return list(known.values())


def layout_names(place: Workplace | None = None) -> tuple[str, ...]:
    """The names of the layouts, for a person to choose from."""
    return tuple(layout.name for layout in layouts(place))


def preview_lab_file(
    place: Workplace,
    path: Path,
    *,
    layout_name: str | None = None,
    today: date,
    progress: Progress | None = None,
) -> IntakePreview:
    """Read a file, try it on the fleet, and take the trial back.

    Raises:
        OperatorError: when the file cannot be read at all; the text says what to do.
    """
    report = read_report(place, path, layout_name=layout_name, progress=progress)
    # A file that was taken in before may hold rows of bottles that were registered since.
    earlier = "" if report.accepted else _taken_in_before(place, report)
    outlook: Outlook = {}
    samples: dict[SampleId, Sample] = {}
    if not earlier and report.accepted:
        moment = datetime.combine(today, time(12), tzinfo=UTC)
        samples, outlook = _try_out(place, report, moment=moment)
    rows = [_accepted_row(place, matched, samples, outlook) for matched in report.accepted]
    other = [_held_row(held) for held in report.held]
    other += [_unchanged_row(one.row, one.bottle_code, one.issue) for one in report.unchanged]
    rows += _with_boxes(place, other)
    return IntakePreview(
        file_name=report.file,
        file_path=str(path),
        sha256=report.sha256,
        layout=report.layout,
        laboratory=report.laboratory,
        rows=tuple(sorted(rows, key=lambda row: row.row)),
        problems=tuple(problem_facts(problem) for problem in report.problems),
        already_taken_in=earlier,
        report=report,
    )


def read_report(
    place: Workplace, path: Path, *, layout_name: str | None, progress: Progress | None
) -> IntakeReport:
    """Read a file and match its rows to the bottles on the register."""

    def open_bottles(codes: Sequence[str]) -> Sequence[OpenBottle]:
        with place.store.reading() as desk:
            return bottles_of(desk, codes)

    return read_lab_file(
        path,
        layouts=layouts(place),
        analytes=place.catalogue.analytes,
        open_bottles=open_bottles,
        layout_name=layout_name,
        progress=progress,
    )


def _taken_in_before(place: Workplace, report: IntakeReport) -> str:
    with place.store.reading() as desk:
        known = desk.results.find_intake_by_hash(report.sha256)
    return f"{known.taken_in_at:%Y-%m-%d} by {known.taken_in_by}" if known else ""


def _try_out(
    place: Workplace, report: IntakeReport, *, moment: datetime
) -> tuple[dict[SampleId, Sample], Outlook]:
    """Take the file in, see how every box it touches would stand, and take it all back."""
    samples: dict[SampleId, Sample] = {}
    outlook: Outlook = {}
    try:
        with place.store.transaction(who=place.who, moment=moment) as desk:
            samples = desk.sampling.samples([one.bottle.sample for one in report.accepted])
            touched = {sample.compartment for sample in samples.values()}
            before = {row[1]: BoxFacts._make(row).severity for row in desk.boxes.rows(touched)}
            apply_report(desk, place.catalogue, report, moment=moment)
            for row in desk.boxes.rows(touched):
                box = BoxFacts._make(row)
                told = desk.condition.told_of(box.compartment_id)
                outlook[box.compartment_id] = _Outlook(
                    box=place.catalogue.box_name(box.kind, box.position),
                    before=_severity(before[box.compartment_id]),
                    after=_severity(box.severity),
                    headline=told[1] if told else "",
                )
            _take_back()
    except _UndoPreview:
        return samples, outlook


def _take_back() -> NoReturn:
    raise _UndoPreview


def _severity(value: int | None) -> Severity:
    return Severity.NO_VERDICT if value is None else Severity(value)


def _accepted_row(
    place: Workplace, matched: MatchedSheet, samples: dict[SampleId, Sample], outlook: Outlook
) -> PreviewRow:
    bottle = matched.bottle
    sample = samples.get(bottle.sample)
    nothing = _Outlook(
        box=bottle.compartment,
        before=Severity.NO_VERDICT,
        after=Severity.NO_VERDICT,
        headline="",
    )
    seen = outlook.get(sample.compartment, nothing) if sample else nothing
    return PreviewRow(
        row=matched.row,
        bottle_code=bottle.bottle_code,
        site=bottle.site_name,
        machine=bottle.machine,
        compartment=seen.box,
        report=matched.sheet.report_number,
        issue=matched.sheet.issue,
        sampled_on=bottle.taken_on,
        fate=RowFate.REVISION if matched.is_revision else RowFate.NEW,
        severity_before=seen.before,
        severity_after=seen.after,
        headline=seen.headline,
        revised=revised_values(place.catalogue, bottle, matched.sheet)
        if matched.is_revision
        else (),
    )


def _held_row(held: HeldRow) -> PreviewRow:
    return PreviewRow(
        row=held.row,
        bottle_code=_code_in(held.cells),
        site="",
        machine="",
        compartment="",
        report="",
        issue=0,
        sampled_on=None,
        fate=RowFate.HELD,
        severity_before=Severity.NO_VERDICT,
        severity_after=Severity.NO_VERDICT,
        headline=held.reasons[0].text() if held.reasons else "",
    )


def _with_boxes(place: Workplace, rows: Sequence[PreviewRow]) -> list[PreviewRow]:
    """Rows that are not taken in, with the box their bottle was drawn from where it is known."""
    codes = sorted({row.bottle_code for row in rows})
    with place.store.reading() as desk:
        bottles = {one.bottle_code: one for one in desk.sampling.open_bottles(codes)}
        samples = desk.sampling.samples([one.sample for one in bottles.values()])
        touched = {sample.compartment for sample in samples.values()}
        boxes = {box.compartment_id: box for box in map(BoxFacts._make, desk.boxes.rows(touched))}
    named = []
    for row in rows:
        bottle = bottles.get(row.bottle_code)
        box = boxes.get(samples[bottle.sample].compartment) if bottle else None
        if bottle is None or box is None:
            named.append(row)
            continue
        standing = _severity(box.severity)
        named.append(
            replace(
                row,
                site=box.site,
                machine=box.machine,
                compartment=place.catalogue.box_name(box.kind, box.position),
                sampled_on=bottle.taken_on,
                severity_before=standing,
                severity_after=standing,
            )
        )
    return named


def _code_in(cells: Sequence[str]) -> str:
    """The first cell that reads as a bottle code, else the first cell as printed."""
    for cell in cells:
        try:
            return normal_bottle_code(cell)
        except OperatorError:
            continue
    return cells[0] if cells else ""


def _unchanged_row(row: int, bottle_code: str, issue: int) -> PreviewRow:
    return PreviewRow(
        row=row,
        bottle_code=bottle_code,
        site="",
        machine="",
        compartment="",
        report="",
        issue=issue,
        sampled_on=None,
        fate=RowFate.UNCHANGED,
        severity_before=Severity.NO_VERDICT,
        severity_after=Severity.NO_VERDICT,
        headline="as on the register",
    )


def problem_facts(problem: Problem) -> ProblemFacts:
    """A problem of a file as screens and scripts show it."""
    text = problem.text()
    return ProblemFacts(
        row=problem.row,
        column=problem.column or "",
        value=problem.printed or "",
        text=text.removesuffix(problem.remedy).strip(),
        remedy=problem.remedy,
        holds_row=problem.severity is ProblemSeverity.HELD,
    )
