"""What every part of a page works with."""

from dataclasses import dataclass

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.widgets.file_asking import LastFolders
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.wiring import Clock


@dataclass(frozen=True)
class PageTools:
    """The clock, the theme to begin with, other threads, the page's notice and last folders."""

    clock: Clock
    theme: Theme
    background: Background
    notice: InlineNotice
    folders: LastFolders
