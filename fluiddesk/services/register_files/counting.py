"""How far the work on register files has come, and whether it is to go on."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from fluiddesk.domain.errors import CancelledError

Progress = Callable[[int, int | None], bool]
"""Told (rows done, rows altogether or ``None`` while unknown); answers whether to go on."""

_EVERY: Final = 250
"""Rows between two tellings: a fraction of a second of work."""


@dataclass(slots=True, kw_only=True)
class RowCount:
    """The rows done so far. ``total`` is unknown while the files are being read."""

    progress: Progress | None
    total: int | None = None
    done: int = 0

    def step(self) -> None:
        """Count a row.

        Raises:
            CancelledError: when the work is to stop.
        """
        self.done += 1
        if self.done % _EVERY == 0:
            self.tell()

    def tell(self) -> None:
        """Tell how far the work is.

        Raises:
            CancelledError: when the work is to stop.
        """
        if self.progress is not None and not self.progress(self.done, self.total):
            raise CancelledError("Stopped before anything was saved; nothing has changed.")

    def is_going_on(self, _done: int, _total: int | None) -> bool:
        """Ask on behalf of work that counts other things than rows."""
        self.tell()
        return True
