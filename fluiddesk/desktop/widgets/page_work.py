"""One piece of work of a page at a time: its progress on the page, and its refusal as a notice."""

from collections.abc import Callable
from typing import TypeVar

from PySide6.QtCore import QObject, Signal

from fluiddesk.desktop.background import Background, Job, Progress
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.work_strip import WorkStrip
from fluiddesk.domain.errors import OperatorError

T = TypeVar("T")


class PageWork(QObject):
    """Starts work in the background and shows how it goes.

    What the person can put right is told in the notice; anything else is the program's fault and
    is handed to whoever hears ``Background.failed``.

    Signals:
        ended: the work is over, whether done, refused or cancelled.
        refused: the ``OperatorError`` that kept the work from being done.
    """

    ended = Signal()
    refused = Signal(object)

    def __init__(
        self, background: Background, *, strip: WorkStrip, notice: InlineNotice, parent: QObject
    ) -> None:
        super().__init__(parent)
        self._background = background
        self._strip = strip
        self._notice = notice
        self._job: Job | None = None
        self._saves = False
        strip.cancel_pressed.connect(self.cancel)
        background.jobs_changed.connect(self._watch)

    @property
    def is_under_way(self) -> bool:
        """Whether work is going on."""
        return self._job is not None

    @property
    def is_saving(self) -> bool:
        """Whether work is going on that changes records."""
        return self.is_under_way and self._saves

    def start(
        self,
        work: Callable[[Progress], T],
        *,
        done: Callable[[T], None],
        refusal: str,
        label: str,
        saves: bool = False,
    ) -> None:
        """Start work; work still under way is superseded.

        Args:
            work: runs on another thread.
            done: called with its answer.
            refusal: the title of the notice if it is refused, such as "Nothing was taken in".
            label: what the page says meanwhile.
            saves: whether the work changes records, so that only Cancel may stop it.
        """
        # What went on before is superseded: its end is no longer the page's concern.
        self._job = None
        self._saves = saves
        self._notice.clear()
        self._strip.begin(label)
        self._job = self._background.run(
            work,
            done=done,
            failed=lambda error: self.tell_failure(error, refusal=refusal, label=label),
            label=label,
            slot=f"page work {id(self)}",
        )

    def cancel(self) -> None:
        """Ask the work to stop."""
        if self._job is not None:
            self._job.cancel()
            self._strip.stopping()

    def tell_failure(self, error: Exception, *, refusal: str, label: str) -> None:
        """Show on the page what can be put right; pass on what is the program's fault."""
        if isinstance(error, OperatorError):
            self._notice.say(refusal, str(error), [(self.tr("Close"), self._notice.clear)])
            self.refused.emit(error)
        else:
            self._background.failed.emit(label, error)

    def _watch(self) -> None:
        job = self._job
        if job is None:
            return
        if job in self._background.jobs:
            self._strip.tell(job.done_count, job.total)
            return
        self._job = None
        self._strip.end()
        self.ended.emit()
