"""Register files tried on the register and taken back, or imported: all of them or nothing."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Final

from fluiddesk.domain.errors import NotFoundError, OperatorError, StaleEditError
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.reassess.blocks import refresh_blocks
from fluiddesk.services.reassess.fleet import Moved, reassess_boxes
from fluiddesk.services.register_files.boxes import import_compartments, import_points
from fluiddesk.services.register_files.columns import (
    COMPARTMENTS,
    COMPONENT_FITS,
    EVENTS,
    FILE_KINDS,
    FLUID_BATCHES,
    FLUID_REFERENCES,
    FLUIDS,
    LABORATORIES,
    LABORATORY_METHODS,
    MACHINE_STATES,
    MACHINE_TRANSFERS,
    MACHINES,
    METER_READINGS,
    METERS,
    POINTS,
    SITES,
    TANKS,
    TEST_LISTS,
    FileKind,
)
from fluiddesk.services.register_files.counting import Progress, RowCount
from fluiddesk.services.register_files.desk_lists import (
    import_laboratories,
    import_methods,
    import_tanks,
    import_test_lists,
)
from fluiddesk.services.register_files.events import import_events, import_fits
from fluiddesk.services.register_files.facts import (
    FileOutcome,
    FileProblem,
    RegisterImported,
    RegisterPreview,
)
from fluiddesk.services.register_files.machines import (
    add_told_states,
    import_machines,
    import_states,
)
from fluiddesk.services.register_files.meter_check import settle_meters
from fluiddesk.services.register_files.meters import import_meters, import_readings
from fluiddesk.services.register_files.reading import (
    ReadFile,
    RegisterFileError,
    read_register_file,
)
from fluiddesk.services.register_files.register_index import RegisterIndex
from fluiddesk.services.register_files.shared_lists import (
    import_batches,
    import_fluids,
    import_references,
    import_sites,
)
from fluiddesk.services.register_files.transfers import import_transfers
from fluiddesk.services.register_files.work import FileWork, ImportWork
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk

_IMPORTERS: Final[Mapping[FileKind, Callable[[FileWork], None]]] = {
    SITES: import_sites,
    FLUIDS: import_fluids,
    FLUID_REFERENCES: import_references,
    FLUID_BATCHES: import_batches,
    TANKS: import_tanks,
    LABORATORIES: import_laboratories,
    LABORATORY_METHODS: import_methods,
    TEST_LISTS: import_test_lists,
    MACHINES: import_machines,
    MACHINE_STATES: import_states,
    MACHINE_TRANSFERS: import_transfers,
    METERS: import_meters,
    METER_READINGS: import_readings,
    COMPARTMENTS: import_compartments,
    POINTS: import_points,
    COMPONENT_FITS: import_fits,
    EVENTS: import_events,
}


class RegisterImportError(OperatorError):
    """Something in the files stands in the way; nothing was imported.

    ``preview`` tells every problem with its place and remedy.
    """

    def __init__(self, text: str, preview: RegisterPreview) -> None:
        super().__init__(text)
        self.preview = preview


class _TakeBack(Exception):  # noqa: N818  # not an error: it takes the trial back
    """Takes the trial import back."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Applied:
    files: tuple[FileOutcome, ...]
    problems: tuple[FileProblem, ...]
    problem_count: int
    is_refused: bool
    moved: tuple[Moved, ...]


def preview_register_files(
    place: Workplace, paths: Sequence[Path], *, today: date, progress: Progress | None = None
) -> RegisterPreview:
    """Read register files, try them on the register, and take the trial back.

    Args:
        place: where to work.
        paths: CSV or XLSX files, in any order; a folder stands for the register files in it.
        today: a later date lies in the future.
        progress: told the rows done; answers whether to go on.

    Raises:
        OperatorError: when a file cannot be read at all; the text says what to do.
        CancelledError: when ``progress`` says to stop.
    """
    moment = datetime.combine(today, time(12), tzinfo=UTC)
    files, count = _read(place, paths, today=today, progress=progress)
    applied = _try_out(place, files, today=today, moment=moment, count=count)
    return _preview(applied)


def import_register_files(
    place: Workplace,
    paths: Sequence[Path],
    *,
    today: date,
    moment: datetime,
    preview: RegisterPreview | None = None,
    progress: Progress | None = None,
) -> RegisterImported:
    """Import register files in one transaction: all of them, or nothing.

    Records that stand as the files say stay untouched; nothing is ever deleted because a file does
    not name it. After the import dues and verdicts follow what changed.

    Args:
        place: where to work.
        paths: CSV or XLSX files, in any order; a folder stands for the register files in it.
        today: a later date lies in the future.
        moment: when the changes are made.
        preview: what was shown before, if it was.
        progress: told the rows done; answers whether to go on.

    Raises:
        RegisterImportError: when anything in the files stands in the way.
        CancelledError: when ``progress`` says to stop; nothing is changed then.
        StaleEditError: when files or register changed since the preview.
        OperatorError: when a file cannot be read at all.
    """
    files, count = _read(place, paths, today=today, progress=progress)
    with place.store.transaction(who=place.who, moment=moment) as desk:
        applied = _apply(desk, place, files, today=today, moment=moment, count=count)
        if applied.is_refused:
            refused = _preview(applied)
            raise RegisterImportError(refused.sentence, refused)
        if preview is not None and preview.files != applied.files:
            raise StaleEditError(
                "The files or the register changed since the preview. Nothing was imported. Look "
                "at the preview again."
            )
    return RegisterImported(
        files=applied.files,
        problems=applied.problems,
        moved=applied.moved,
        changes=_changes(applied),
    )


def _changes(applied: _Applied) -> Changes:
    if not any(one.added or one.changed for one in applied.files):
        return Changes(subjects=frozenset())
    return Changes(subjects=frozenset({Subject.FLEET, Subject.ASSESSMENTS}))


def _preview(applied: _Applied) -> RegisterPreview:
    return RegisterPreview(
        files=applied.files,
        problems=applied.problems,
        problem_count=applied.problem_count,
        moved=applied.moved,
    )


def _read(
    place: Workplace, paths: Sequence[Path], *, today: date, progress: Progress | None
) -> tuple[list[ReadFile], RowCount]:
    """Every file, in the order in which the lists build on each other; a count of their rows."""
    with place.store.reading() as desk:
        analytes = sorted(desk.catalogue.analytes())
    count = RowCount(progress=progress)
    count.tell()
    found = [
        read_register_file(path, analytes=analytes, today=today, count=count)
        for path in _files(paths)
    ]
    seen: dict[str, str] = {}
    for file in found:
        other = seen.setdefault(file.kind.name, file.name)
        if other != file.name or sum(one.kind is file.kind for one in found) > 1:
            raise RegisterFileError(
                f"{other} and another file are both {file.kind.name} files. Import them one after "
                "the other."
            )
    ordered = sorted(found, key=lambda file: FILE_KINDS.index(file.kind))
    return ordered, RowCount(progress=progress, total=count.done)


def _files(paths: Sequence[Path]) -> list[Path]:
    found: list[Path] = []
    for path in paths:
        if not path.is_dir():
            found.append(path)
            continue
        inside = [path / f"{kind.name}.csv" for kind in FILE_KINDS]
        held = [one for one in inside if one.is_file()]
        if not held:
            names = ", ".join(one.name for one in inside)
            raise NotFoundError(f"{path} holds no register file. Their names are: {names}.")
        found += held
    return found


def _try_out(
    place: Workplace,
    files: Sequence[ReadFile],
    *,
    today: date,
    moment: datetime,
    count: RowCount,
) -> _Applied:
    found: list[_Applied] = []
    try:
        with place.store.transaction(who=place.who, moment=moment) as desk:
            found.append(_apply(desk, place, files, today=today, moment=moment, count=count))
            raise _TakeBack  # noqa: TRY301  # a transaction is taken back by raising in it
    except _TakeBack:
        return found[0]


def _apply(
    desk: Desk,
    place: Workplace,
    files: Sequence[ReadFile],
    *,
    today: date,
    moment: datetime,
    count: RowCount,
) -> _Applied:
    shared = ImportWork(
        desk=desk,
        catalogue=place.catalogue,
        today=today,
        index=RegisterIndex(desk, place.catalogue),
        count=count,
    )
    works = [FileWork(shared=shared, file=file) for file in files]
    for kind in FILE_KINDS:
        if kind is COMPARTMENTS:
            settle_meters(shared)
        for work in works:
            if work.file.kind is kind:
                for problem in work.file.problems:
                    shared.note(work.file.name, problem)
                _IMPORTERS[kind](work)
    moved: tuple[Moved, ...] = ()
    if not shared.refusals:
        add_told_states(shared)
        for work in works:
            work.tell_trail()
        moved = _judge(desk, place, _touched(shared), moment=moment, count=count)
    # Asked once more: what follows is the saving itself.
    count.tell()
    return _Applied(
        files=tuple(work.outcome for work in works),
        problems=tuple(shared.problems),
        problem_count=shared.problem_count,
        is_refused=shared.refusals > 0,
        moved=moved,
    )


def _touched(shared: ImportWork) -> frozenset[CompartmentId]:
    """The compartments whose verdicts may be other ones now."""
    fluids = shared.touched.fluids
    by_fluid = {
        CompartmentId(box["id"])
        for box in shared.index.boxes.values()
        if box["fluid_code"] in fluids
    }
    return frozenset(shared.touched.judged | by_fluid)


def _judge(
    desk: Desk,
    place: Workplace,
    touched: frozenset[CompartmentId],
    *,
    moment: datetime,
    count: RowCount,
) -> tuple[Moved, ...]:
    with_history = {key for key, _ in desk.blocks.pairs(touched)} if touched else set()
    if not with_history:
        return ()
    refresh_blocks(desk, with_history)
    outcome = reassess_boxes(
        desk,
        place.catalogue,
        moment=moment,
        compartments=with_history,
        progress=count.is_going_on,
    )
    return outcome.moved
