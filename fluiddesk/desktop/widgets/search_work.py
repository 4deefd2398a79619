"""Keeps the index of the search box: read when first wanted, and again after changes."""

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from fluiddesk.desktop.background import Background, Progress
from fluiddesk.desktop.widgets.search_box import SearchBox
from fluiddesk.services.workplace import Workplace

if TYPE_CHECKING:
    from fluiddesk.services.search.index import SearchIndex


class SearchWork(QObject):
    """Reads the index in the background and hands it to the box."""

    def __init__(self, box: SearchBox, *, place: Workplace, background: Background) -> None:
        super().__init__(box)
        self._box, self._place, self._background = box, place, background
        self._is_current = False
        self._is_reading = False
        box.entered.connect(self._want)

    def forget(self) -> None:
        """Something changed: the index is read anew when it is next wanted."""
        self._is_current = False
        if self._box.hasFocus():
            self._want()

    def _want(self) -> None:
        if self._is_current or self._is_reading:
            return
        self._is_current = self._is_reading = True

        def work(progress: Progress) -> "SearchIndex":
            from fluiddesk.services.search.index import build_index

            return build_index(self._place, progress=progress)

        self._background.run(
            work,
            done=self._read,
            failed=self._failed,
            label=self.tr("Reading what can be searched"),
            slot="search index",
        )

    def _read(self, index: "SearchIndex") -> None:
        from fluiddesk.services.search.find import find

        self._is_reading = False
        self._box.show_index(partial(find, index))

    def _failed(self, error: Exception) -> None:
        self._is_current = self._is_reading = False
        self._background.failed.emit(self.tr("Reading what can be searched"), error)
