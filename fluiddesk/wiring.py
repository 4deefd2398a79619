"""The one place where settings, store, clock and services are put together."""

import getpass
import os
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from enum import StrEnum
from pathlib import Path

from fluiddesk import assets
from fluiddesk.domain.errors import CannotWriteError, UsageError
from fluiddesk.services.catalogue import Catalogue, load_catalogue
from fluiddesk.services.workplace import Workplace
from fluiddesk.settings import Folders, Settings, desk_folders, load_settings, save_settings

Progress = Callable[[int, int | None], bool]

_SCRATCH_KEPT_S = 7 * 86_400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """Today and now. A replayed database brings the day it was played to."""

    demo_day: date | None = None

    def today(self) -> date:
        """The day at this desk, or the day the open database was replayed to."""
        return self.demo_day or date.today()

    def moment(self) -> datetime:
        """The moment, in UTC."""
        return datetime.now(UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedDesk:
    """An open database with its clock and the desk's folders and settings."""

    place: Workplace
    clock: Clock
    folders: Folders
    settings: Settings
    address: str = ""

    @property
    def is_sample(self) -> bool:
        """Whether this is the invented sample fleet."""
        return self.clock.demo_day is not None

    @property
    def is_scratch(self) -> bool:
        """Whether this is a copy of the sample fleet that will be swept away."""
        scratch = _scratch_folder(self.folders)
        return bool(self.address) and Path(self.address).is_relative_to(scratch)

    def close(self) -> None:
        """Let go of the database."""
        self.place.store.close()


def desk_user(settings: Settings) -> str:
    """Who works at this desk: as set, else the system's name for the person."""
    if settings.desk_user:
        return settings.desk_user
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return "desk"


class OpenFor(StrEnum):
    """What a database is opened for. ``EITHER``: for reading where it cannot be written."""

    WRITING = "writing"
    READING = "reading"
    EITHER = "either"


def open_desk(
    address: str,
    *,
    catalogue: Catalogue | None = None,
    remember: bool = False,
    purpose: OpenFor = OpenFor.WRITING,
) -> OpenedDesk:
    """Open a database.

    Args:
        address: a file or a postgresql:// address.
        catalogue: read from the program's files when not given.
        remember: whether this becomes the database this desk opened last.
        purpose: reading needs no permission to write.

    Raises:
        OperatorError: when it cannot be opened; the text says what to do.
    """
    from fluiddesk.services.founding import replayed_day
    from fluiddesk.storage import open_store

    folders = desk_folders()
    settings = load_settings(folders)
    try:
        store = open_store(address, read_only=purpose is OpenFor.READING)
    except CannotWriteError:
        if purpose is not OpenFor.EITHER:
            raise
        store = open_store(address, read_only=True)
    place = Workplace(store=store, catalogue=catalogue or load_catalogue(), who=desk_user(settings))
    if remember:
        settings = settings.opened(address)
        save_settings(folders, settings)
    clock = Clock(demo_day=replayed_day(place))
    return OpenedDesk(place=place, clock=clock, folders=folders, settings=settings, address=address)


def last_opened() -> str:
    """The address of the database this desk opened last; empty at first start."""
    return load_settings(desk_folders()).database


def new_database(address: str) -> None:
    """Make an empty database with the catalogues and the starter limits in force.

    Raises:
        OperatorError: when something is there already or it cannot be written.
    """
    from fluiddesk.services.founding import found

    clock = Clock()
    who = desk_user(load_settings(desk_folders()))
    found(address, load_catalogue(), who=who, moment=clock.moment())


def write_sample_fleet(target: Path, *, progress: Progress | None = None) -> None:
    """Write the sample fleet's database to a file; it is played once and kept in the cache.

    Raises:
        OperatorError: when the file exists or cannot be written.
    """
    from fluiddesk.storage import copy_store

    if target.exists():
        raise UsageError(f"{target.name} exists already. Choose another name.")
    folder = target.absolute().parent
    if not folder.is_dir():
        raise CannotWriteError(f"There is no folder {folder}. Make it first.")
    if not os.access(folder, os.W_OK):
        raise CannotWriteError(f"{folder} cannot be written. Choose a folder of yours.")
    copy_store(str(_played_sample(progress)), str(target), moment=Clock().moment())


def _played_sample(progress: Progress | None) -> Path:
    """The sample fleet in the cache, played now if need be.

    It is played under a name of its own and put in place whole: two starts at once each play one,
    and neither sees the other's unfinished file.
    """
    from fluiddesk.services.sample_fleet import play_sample_fleet, sample_fingerprint
    from fluiddesk.services.simulated_fleet.write import truth_beside

    cache = desk_folders().cache
    kept = cache / f"sample-{sample_fingerprint()}.fluiddesk"
    if kept.exists():
        return kept
    try:
        cache.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix="playing-", dir=cache) as folder:
            unfinished = Path(folder) / "sample.fluiddesk"
            play_sample_fleet(str(unfinished), moment=Clock().moment(), progress=progress)
            truth = truth_beside(unfinished)
            if truth.exists():
                truth.replace(truth_beside(kept))
            unfinished.replace(kept)
    except OSError as fault:
        raise CannotWriteError(
            f"{cache} cannot be written: {fault.strerror}. Make the folder writable, or set "
            "FLUIDDESK_HOME to one that is."
        ) from fault
    for old in cache.glob("sample-*.fluiddesk*"):
        if not old.name.startswith(kept.name):
            old.unlink(missing_ok=True)
    return kept


def _scratch_folder(folders: Folders) -> Path:
    return folders.cache / "scratch"


def sample_scratch_copy(*, progress: Progress | None = None) -> Path:
    """A fresh copy of the sample fleet that a person may change at will.

    Copies of earlier days are swept away; one that is still open elsewhere is left alone.
    """
    scratch = _scratch_folder(desk_folders())
    try:
        scratch.mkdir(parents=True, exist_ok=True)
        folder = Path(tempfile.mkdtemp(prefix="sample-", dir=scratch))
    except OSError as fault:
        raise CannotWriteError(
            f"{scratch} cannot be written: {fault.strerror}. Make the folder writable, or set "
            "FLUIDDESK_HOME to one that is."
        ) from fault
    now = Clock().moment().timestamp()
    for old in scratch.glob("sample-*"):
        if now - old.stat().st_mtime > _SCRATCH_KEPT_S:
            shutil.rmtree(old, ignore_errors=True)
    target = folder / "sample.fluiddesk"
    write_sample_fleet(target, progress=progress)
    return target


def sample_lab_files() -> list[Path]:
    """The laboratory files of the sample fleet that wait to be taken in."""
    return sorted(assets.sample_story("lab_files").glob("20*"))


def shown_address(address: str) -> str:
    """The address of a database without a password."""
    from fluiddesk.storage import shown_address as without_password

    return without_password(address)
