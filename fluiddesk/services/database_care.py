"""Looking after the database: state, upgrade, copy, check."""

import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

from fluiddesk.services.papers.attach import check_papers
from fluiddesk.services.papers.folder import copy_papers
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


def copy_database(source: str, target: str, *, moment: datetime) -> None:
    """Copy a database, between files and servers alike; between files its papers too."""
    copy_store(source, target, moment=moment)
    if "://" not in source and "://" not in target:
        copy_papers(Path(f"{source}.papers"), Path(f"{target}.papers"))


def check_database(address: str) -> list[str]:
    """Everything found wrong, one line each; empty when all agrees."""
    store = open_store(address)
    try:
        return [*check_store(store), *check_papers(store)]
    finally:
        store.close()
