"""What this desk was told: which database it opened last, who works here, the folders it uses."""

import json
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Self

from fluiddesk.domain.errors import CannotWriteError

_FILE = "desk.json"
_MOST_RECENT = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """The desk's own settings. What belongs to the business lives in the database.

    ``theme`` is "system", "light" or "dark".
    """

    database: str = ""
    recent_databases: tuple[str, ...] = ()
    desk_user: str = ""
    theme: str = "system"

    def opened(self, address: str) -> Self:
        """The settings after a database was opened: it leads the recent ones."""
        others = [one for one in self.recent_databases if one != address]
        return replace(self, database=address, recent_databases=(address, *others)[:_MOST_RECENT])


@dataclass(frozen=True, slots=True, kw_only=True)
class Folders:
    """Where the desk keeps its settings, its data, its log and what it can make again."""

    config: Path
    data: Path
    state: Path
    cache: Path


def desk_folders(environment: Mapping[str, str] = os.environ) -> Folders:
    """The folders of this desk, by the custom of its system.

    ``FLUIDDESK_HOME`` puts all of them under one folder: for a portable copy, and for tests.
    """
    home = environment.get("FLUIDDESK_HOME")
    if home:
        top = Path(home)
        return Folders(
            config=top / "config", data=top / "data", state=top / "state", cache=top / "cache"
        )
    import platformdirs

    name = "fluiddesk"
    return Folders(
        config=Path(platformdirs.user_config_dir(name, appauthor=False)),
        data=Path(platformdirs.user_data_dir(name, appauthor=False)),
        state=Path(platformdirs.user_state_dir(name, appauthor=False)),
        cache=Path(platformdirs.user_cache_dir(name, appauthor=False)),
    )


def load_settings(folders: Folders) -> Settings:
    """The settings as saved; the defaults where there are none or the file cannot be read."""
    try:
        saved = json.loads((folders.config / _FILE).read_text(encoding="utf-8"))
        return Settings(
            database=str(saved.get("database", "")),
            recent_databases=tuple(map(str, saved.get("recent_databases", ()))),
            desk_user=str(saved.get("desk_user", "")),
            theme=str(saved.get("theme", "system")),
        )
    except (OSError, ValueError, AttributeError, TypeError):
        return Settings()


def save_settings(folders: Folders, settings: Settings) -> None:
    """Save the settings, whole or not at all.

    Raises:
        CannotWriteError: when the folder cannot be written.
    """
    target = folders.config / _FILE
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        unfinished = target.with_suffix(".unfinished")
        unfinished.write_text(json.dumps(asdict(settings), indent=1), encoding="utf-8")
        unfinished.replace(target)
    except OSError as fault:
        raise CannotWriteError(
            f"The settings could not be saved in {target.parent}: {fault.strerror}. "
            "Make the folder writable, or set FLUIDDESK_HOME to one that is."
        ) from fault
