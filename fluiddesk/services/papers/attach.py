"""Attaches papers to records, gives them back, and looks whether they are as they were taken."""

import shutil
from datetime import datetime
from pathlib import Path

from fluiddesk.domain.errors import CannotWriteError, NotFoundError, OperatorError
from fluiddesk.services.papers.facts import OwnerKind, PaperFacts, PaperOwner
from fluiddesk.services.papers.folder import (
    PaperError,
    fault_of,
    keep,
    media_type,
    papers_folder,
    place_of,
)
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import DeskStore, PaperRecord


def attach(
    place: Workplace, owner: PaperOwner, path: Path, *, note: str = "", moment: datetime
) -> PaperFacts:
    """Keep a copy of a PDF or picture with a record.

    Raises:
        NotFoundError: when there is no such file or record.
        PaperError: when the file cannot be taken, or the record has it already.
        CannotWriteError: when the folder of papers cannot be written.
    """
    kind = media_type(path)
    folder = papers_folder(place.store)
    with place.store.reading() as desk:
        desk.papers.site_of(owner.kind, owner.id)
    # The content first: a row without its file would be worse than a file without a row.
    made = keep(path, folder)
    with place.store.transaction(who=place.who, moment=moment) as desk:
        known = next((one for one in desk.papers.papers([owner.id]) if one.sha256 == made), None)
        if known is not None:
            raise PaperError(f'{path.name} is attached here already, as "{known.file_name}".')
        key = desk.papers.add_paper(
            kind=owner.kind,
            owner=owner.id,
            file_name=path.name,
            sha256=made,
            size_bytes=place_of(folder, made).stat().st_size,
            media_type=kind,
            note=note.strip(),
        )
    return _found(place, key)


def papers_of(place: Workplace, owner: PaperOwner) -> tuple[PaperFacts, ...]:
    """The papers of a record, oldest first."""
    with place.store.reading() as desk:
        return tuple(_facts(one) for one in desk.papers.papers([owner.id]))


def open_copy(place: Workplace, paper: bytes, folder: Path) -> Path:
    """Copy a paper out under its own name, to be opened by another program.

    The copy is the reader's: what is done to it changes nothing that is kept.

    Raises:
        NotFoundError: when there is no such paper.
        PaperError: when its file is missing or was changed; the text says so.
        CannotWriteError: when the folder cannot be written.
    """
    facts = _found(place, paper)
    kept = papers_folder(place.store)
    fault = fault_of(kept, facts.sha256, facts.size_bytes)
    if fault:
        raise PaperError(
            f'"{facts.file_name}" cannot be opened: {fault}. Bring back the folder {kept} from '
            "your backup."
        )
    # Each in a folder of its own: two papers may share one name.
    target = folder / paper.hex() / Path(facts.file_name).name
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(place_of(kept, facts.sha256), target)
    except OSError as fault_of_copy:
        raise CannotWriteError(
            f"{target} cannot be written: {fault_of_copy.strerror}. Choose another folder."
        ) from fault_of_copy
    return target


def withdraw(place: Workplace, paper: bytes, *, reason: str, moment: datetime) -> None:
    """Take a paper off a record; its row and content are kept with the reason.

    Raises:
        NotFoundError: when it was withdrawn already.
        OperatorError: when no reason is given.
    """
    if not reason.strip():
        raise OperatorError("A paper is taken off for a reason. Write why.")
    with place.store.transaction(who=place.who, moment=moment) as desk:
        desk.papers.withdraw("paper", paper, reason=reason.strip())


def check_papers(store: DeskStore) -> list[str]:
    """Every paper whose file is missing or was changed, one sentence each."""
    with store.reading() as desk:
        records = desk.papers.papers()
    if not records:
        return []
    folder = papers_folder(store)
    faults = {
        key: fault_of(folder, *key) for key in {(one.sha256, one.size_bytes) for one in records}
    }
    return [
        f'paper "{one.file_name}" of {one.owner_kind.replace("_", " ")}: '
        f"{faults[one.sha256, one.size_bytes]}"
        for one in records
        if faults[one.sha256, one.size_bytes]
    ]


def _found(place: Workplace, key: bytes) -> PaperFacts:
    with place.store.reading() as desk:
        known = next((one for one in desk.papers.papers() if one.id == key), None)
    if known is None:
        raise NotFoundError("This paper was withdrawn. Look at the record again.")
    return _facts(known)


def _facts(record: PaperRecord) -> PaperFacts:
    return PaperFacts(
        id=record.id,
        owner=PaperOwner(OwnerKind(record.owner_kind), record.owner),
        file_name=record.file_name,
        media_type=record.media_type,
        size_bytes=record.size_bytes,
        sha256=record.sha256,
        added_at=record.created_at,
        added_by=record.created_by,
        note=record.note,
    )
