"""The search box of the window with its list of hits and the index they come from."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QWidget

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.models.search import SearchModel
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.widgets.search_box import HitList, SearchBox
from fluiddesk.desktop.widgets.search_work import SearchWork
from fluiddesk.services.search.facts import SearchHit
from fluiddesk.services.workplace import Workplace


class SearchBar(QWidget):
    """Finds a record by a number, a code, a serial or a word.

    Signals:
        compartment_opened: the identifier of a box to open.
        machine_opened: the identifier of a machine to open.
        store_opened: the ``HitKind`` and identifier of a tank, delivery or fluid sample to open.
    """

    compartment_opened = Signal(object)
    machine_opened = Signal(object)
    store_opened = Signal(object, object)

    def __init__(
        self, place: Workplace, *, background: Background, theme: Theme, window: QWidget
    ) -> None:
        super().__init__(window)
        self._model = SearchModel(theme=theme, parent=self)
        self.hits = HitList(self._model, self._model, theme=theme, over=window)
        self.box = SearchBox(self.hits)
        self._work = SearchWork(self.box, place=place, background=background)
        self.box.opened.connect(self._open)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.box)
        self.setFocusProxy(self.box)

    def forget(self) -> None:
        """Something changed: what is searched is read anew when it is next wanted."""
        self._work.forget()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._model.apply_theme(theme)
        self.box.apply_theme(theme)

    def _open(self, hit: SearchHit) -> None:
        if hit.store is not None:
            self.store_opened.emit(*hit.store)
        elif hit.compartment_id is not None:
            self.compartment_opened.emit(hit.compartment_id)
        elif hit.machine_id is not None:
            self.machine_opened.emit(hit.machine_id)
