"""What every part of a page works with, and what the window asks of a page."""

from dataclasses import dataclass
from typing import Protocol, runtime_checkable

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.widgets.file_asking import LastFolders
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.services.changes import Changes
from fluiddesk.wiring import Clock


class Screen(Protocol):
    """What the window asks of a page."""

    def refresh(self) -> None:
        """Load in the background."""

    def show_changes(self, changes: Changes) -> None:
        """Refresh if the changes concern what is shown."""

    def apply_theme(self, theme: Theme) -> None:
        """Draw in the colours of another theme."""


@runtime_checkable
class KeepsTyping(Protocol):
    """A page on which something may be half typed when the window closes."""

    def keep_now(self) -> None:
        """Save what was typed last: the program is about to close."""


@dataclass(frozen=True)
class PageTools:
    """The clock, the theme to begin with, other threads, the page's notice and last folders."""

    clock: Clock
    theme: Theme
    background: Background
    notice: InlineNotice
    folders: LastFolders
