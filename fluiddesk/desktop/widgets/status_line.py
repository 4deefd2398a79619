"""The line at the bottom: database, desk user, the demo's note, work under way with cancel."""

from PySide6.QtWidgets import QLabel, QProgressBar, QPushButton, QStatusBar, QWidget

from fluiddesk.desktop.background import Background, Job
from fluiddesk.desktop.theme import give_look

_PROGRESS_WIDTH = 120


class StatusLine(QStatusBar):
    """Shows where one works and what is under way."""

    def __init__(self, background: Background, parent: QWidget) -> None:
        super().__init__(parent)
        self._background = background
        self.setSizeGripEnabled(False)
        self.setAccessibleName(self.tr("Status"))
        self.place = QLabel(self)
        self.note = QLabel(self)
        self._work = QLabel(self)
        self._bar = QProgressBar(self)
        self._bar.setAccessibleName(self.tr("Progress"))
        self._bar.setTextVisible(False)
        self._bar.setFixedWidth(_PROGRESS_WIDTH)
        self._cancel = QPushButton(self.tr("Cancel"), self)
        self._cancel.clicked.connect(self._cancel_newest)
        self.addWidget(self.place)
        self.addWidget(self.note, 1)
        for widget in (self._work, self._bar, self._cancel):
            self.addPermanentWidget(widget)
        for label in (self.place, self.note, self._work):
            give_look(label, "small")
            label.setMargin(6)
        background.jobs_changed.connect(self._show_work)
        self._show_work()

    def _newest(self) -> Job | None:
        return self._background.jobs[-1] if self._background.jobs else None

    def _show_work(self) -> None:
        job = self._newest()
        for widget in (self._work, self._bar, self._cancel):
            widget.setVisible(job is not None)
        if job is None:
            return
        self._work.setText(job.label)
        self._bar.setRange(0, job.total or 0)
        self._bar.setValue(job.done_count)
        self._cancel.setEnabled(not job.is_cancelled)

    def _cancel_newest(self) -> None:
        job = self._newest()
        if job is not None:
            job.cancel()
            self._show_work()
