"""The folder of papers beside the database: files under the hash of their content."""

import hashlib
import os
import shutil
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Final

from fluiddesk.domain.errors import CannotWriteError, NotFoundError, OperatorError, UsageError
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import NO_SITE, Desk, DeskStore

LARGEST_BYTES: Final = 50 * 1024 * 1024
_FACT: Final = "papers_folder"
_PIECE: Final = 1 << 20
_HEAD: Final = 16
_KINDS: Final = (
    ("application/pdf", b"%PDF-", (".pdf",)),
    ("image/png", b"\x89PNG\r\n\x1a\n", (".png",)),
    ("image/jpeg", b"\xff\xd8\xff", (".jpg", ".jpeg")),
    ("image/tiff", b"II*\0", (".tif", ".tiff")),
    ("image/tiff", b"MM\0*", (".tif", ".tiff")),
)
"""What is taken: the media type, how such a file begins, and the endings of its name."""


class PaperError(OperatorError):
    """A file cannot be taken as a paper, or a paper is not what was taken."""


def papers_folder(store: DeskStore) -> Path:
    """Where the papers of a database are.

    Raises:
        UsageError: for a database on a server whose folder nobody has named.
    """
    if store.is_file:
        return Path(f"{store.address}.papers")
    with store.reading() as desk:
        named = desk.facts.get(_FACT)
    if not named:
        raise UsageError(
            "This database is on a server, so its papers need a folder that every desk reaches. "
            "Name one with: fluiddesk database papers FOLDER"
        )
    return Path(named)


def name_papers_folder(place: Workplace, folder: Path, *, moment: datetime) -> Path | None:
    """Say where the papers of a database on a server are kept; those kept so far are copied there.

    Returns:
        The folder they were in, where there was one and it can be reached; it is left as it is.

    Raises:
        UsageError: for a database in a file, which keeps its papers beside it.
        CannotWriteError: when the folder cannot be written.
    """
    if place.store.is_file:
        raise UsageError(
            f"A database in a file keeps its papers beside it, in {papers_folder(place.store)}. "
            "No other folder can be named."
        )
    _make(folder)
    with place.store.reading() as desk:
        named = desk.facts.get(_FACT)
    before = Path(named) if named and Path(named).is_dir() else None
    if before is not None and before.resolve() != folder.resolve():
        # The contents first: a folder that is named must hold them.
        copy_papers(before, folder)
    with place.store.transaction(who=place.who, moment=moment) as desk:
        put_papers_folder(desk, folder)
        told = {"folder": str(folder.absolute())}
        desk.audit.append(NO_SITE, "folder of papers", {"folder": named} if named else None, told)
    return before


def put_papers_folder(desk: Desk, folder: Path) -> None:
    """Note the folder in an open transaction, by its whole path."""
    _make(folder)
    desk.facts.put(_FACT, str(folder.absolute()))


def media_type(path: Path) -> str:
    """What a file is, by its beginning and its name's ending.

    Raises:
        NotFoundError: when there is no such file.
        PaperError: when it is empty, too large, of another kind, or not what its name says.
    """
    if not path.is_file():
        raise NotFoundError(f"There is no file {path}. Check the name.")
    size = path.stat().st_size
    if not size:
        raise PaperError(f"{path.name} is empty. Save it again and attach that.")
    if size > LARGEST_BYTES:
        raise PaperError(
            f"{path.name} has {size / 1024**2:.0f} MB; at most {LARGEST_BYTES // 1024**2} MB are "
            "kept. Make it smaller, a picture at half the size for instance."
        )
    with path.open("rb") as file:
        head = file.read(_HEAD)
    for name, start, endings in _KINDS:
        if head.startswith(start):
            if path.suffix.lower() in endings:
                return name
            raise PaperError(
                f"{path.name} is {name} by its content. Give it the ending {endings[0]}."
            )
    raise PaperError(
        f"{path.name} is neither a PDF nor a picture (PNG, JPEG, TIFF). Save it as one of these."
    )


def keep(path: Path, folder: Path) -> str:
    """Copy a file's content under its hash; returns the hash. A content kept before is left.

    Raises:
        CannotWriteError: when the folder cannot be written.
    """
    _make(folder)
    handle, name = tempfile.mkstemp(prefix="incoming-", dir=folder)
    unfinished = Path(name)
    try:
        with os.fdopen(handle, "wb") as target, path.open("rb") as source:
            shutil.copyfileobj(source, target, _PIECE)
            target.flush()
            os.fsync(target.fileno())
        made = content_hash(unfinished)
        goal = place_of(folder, made)
        goal.parent.mkdir(exist_ok=True)
        unfinished.replace(goal)
    except OSError as fault:
        raise CannotWriteError(
            f"{path.name} could not be kept in {folder}: {fault.strerror}. Nothing was attached."
        ) from fault
    finally:
        unfinished.unlink(missing_ok=True)
    return made


def place_of(folder: Path, sha256: str) -> Path:
    """Where the content of a hash lies."""
    return folder / sha256[:2] / sha256


def content_hash(path: Path) -> str:
    """SHA-256 of a file (FIPS 180-4), in hexadecimal."""
    made = hashlib.sha256()
    with path.open("rb") as file:
        while piece := file.read(_PIECE):
            made.update(piece)
    return made.hexdigest()


def fault_of(folder: Path, sha256: str, size_bytes: int) -> str:
    """What is wrong with a content that was kept, in words; empty where it is as it was taken."""
    path = place_of(folder, sha256)
    if not path.is_file():
        return "its file is missing"
    if path.stat().st_size != size_bytes or content_hash(path) != sha256:
        return "its file is not what was attached"
    return ""


def copy_papers(source: Path, target: Path) -> None:
    """Copy every content of one folder into another one.

    Raises:
        CannotWriteError: when the other folder cannot be written.
    """
    if source.is_dir():
        try:
            shutil.copytree(source, target, dirs_exist_ok=True)
        except (OSError, shutil.Error) as fault:
            raise CannotWriteError(
                f"The papers could not be copied to {target}: {fault}. Copy the folder by hand."
            ) from fault


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise CannotWriteError(
            f"The folder of papers {folder} cannot be made: {fault.strerror}. "
            "Change its permissions."
        ) from fault
