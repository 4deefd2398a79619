"""Looking after the database: state, upgrade, copy, check."""

import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

from fluiddesk.domain.errors import UsageError
from fluiddesk.services.papers.attach import check_papers
from fluiddesk.services.papers.folder import copy_papers, papers_folder, put_papers_folder
from fluiddesk.storage import (
    StoreKind,
    check_store,
    copy_store,
    open_store,
    shown_address,
    store_matches_tables,
    store_state,
    upgrade_store,
)


def database_status(address: str) -> dict[str, Any]:
    """What stands at an address: state, versions and, where it can be opened, how much is in it."""
    state = store_state(address)
    told: dict[str, Any] = {
        "address": shown_address(address),
        "state": state.kind.value,
        "version": state.found,
        "program_expects": state.expected,
    }
    if state.kind is StoreKind.CURRENT:
        store = open_store(address, read_only=True)
        try:
            with store.reading() as desk:
                told |= desk.facts.counts()
        finally:
            store.close()
    return told


def differences_from_tables() -> list[str]:
    """Where a database made by the migrations differs from the program's tables; none is right."""
    from fluiddesk.storage import create_store

    with tempfile.TemporaryDirectory() as folder:
        address = str(Path(folder) / "new.fluiddesk")
        create_store(address, moment=datetime.fromisoformat("2000-01-01T00:00:00+00:00"))
        return store_matches_tables(address)


def upgrade_database(address: str, *, moment: datetime) -> str:
    """Bring an older database to this version; returns what was done, in words."""
    before = store_state(address)
    if before.kind is StoreKind.CURRENT:
        return "The database is of this version already; nothing was done."
    upgrade_store(address, moment=moment)
    return f"Upgraded from version {before.found} to {before.expected}."


def copy_database(source: str, target: str, *, moment: datetime, papers: Path | None = None) -> str:
    """Copy a database with its papers, between files and servers alike.

    Args:
        source: what to copy.
        target: a file that is not there yet, or an empty database of a server.
        moment: when it is done.
        papers: the folder for the papers of a copy on a server; a file keeps them beside it.

    Returns:
        What became of the papers, in words; empty where there are none.

    Raises:
        UsageError: when a folder is named for a copy in a file, or something is at the target.
        CannotWriteError: when the copy or its papers cannot be written.
    """
    if papers is not None and "://" not in target:
        raise UsageError(
            f"A database in a file keeps its papers beside it, in {target}.papers. Leave --papers "
            "out."
        )
    copy_store(source, target, moment=moment)
    kept, folder, is_file = _papers_of(source)
    goal = Path(f"{target}.papers") if "://" not in target else papers
    if papers is not None:
        _name_folder(target, papers, moment=moment)
    if not kept:
        return ""
    count = f"{kept} {'paper' if kept == 1 else 'papers'}"
    if folder is None or not folder.is_dir():
        where = "no folder was named for them" if folder is None else f"{folder} is not there"
        return f"{count} not copied: {where}. Bring the folder back and copy it by hand."
    if goal is not None:
        copy_papers(folder, goal)
        return f"{count} copied to {goal}."
    name_one = f"fluiddesk database papers FOLDER --database {shown_address(target)}"
    if is_file:
        return (
            f"{count} not copied: they stay in {folder}. Copy that folder to one that every desk "
            f"reaches, and name it with: {name_one}"
        )
    return f"{count} not copied: both databases keep them in {folder}. To part them: {name_one}"


def _papers_of(address: str) -> tuple[int, Path | None, bool]:
    """How many papers a database has, where they are kept, and whether it is a file."""
    with open_store(address, read_only=True) as store:
        with store.reading() as desk:
            kept = len({one.sha256 for one in desk.papers.papers()})
        try:
            return kept, papers_folder(store), store.is_file
        except UsageError:
            return kept, None, store.is_file


def _name_folder(address: str, folder: Path, *, moment: datetime) -> None:
    with (
        open_store(address) as store,
        store.transaction(who="fluiddesk database copy", moment=moment) as desk,
    ):
        put_papers_folder(desk, folder)


def check_database(address: str) -> list[str]:
    """Everything found wrong, one line each; empty when all agrees."""
    store = open_store(address)
    try:
        return [*check_store(store), *check_papers(store)]
    finally:
        store.close()
