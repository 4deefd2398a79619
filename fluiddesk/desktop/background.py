"""Work off the screen's thread: progress, cancel, and the answer given back where it was asked."""

import logging
import time
from collections.abc import Callable, Sequence
from typing import Final, Protocol, TypeVar, cast

from PySide6.QtCore import QObject, QRunnable, QThreadPool, Signal
from typing_extensions import override

from fluiddesk.domain.errors import OperatorError

_log = logging.getLogger(__name__)

T = TypeVar("T")

_THREADS: Final = 2
_AFTER_ALL_OTHERS: Final = -1
_SECONDS_BETWEEN_TELLINGS: Final = 0.05
"""Progress is told twenty times a second at most: the screen has other things to do."""


class Progress(Protocol):
    """What work calls now and then; the answer says whether to go on.

    ``total`` is ``None`` while it is not known. Work that is told to stop undoes what it began and
    raises; if it had finished all the same, it returns and its answer still counts.
    """

    def __call__(self, done: int, total: int | None) -> bool: ...


class Job(QObject):
    """One piece of work under way. ``done_count`` of ``total`` steps are finished."""

    progressed = Signal()
    _told = Signal(int, object)
    _ended = Signal(object, object)

    def __init__(
        self, label: str, slot: str, ending: Callable[["Job", object, Exception | None], None]
    ) -> None:
        super().__init__()
        self.label = label
        self.slot = slot
        self.done_count = 0
        self.total: int | None = None
        self.is_cancelled = False
        self.is_superseded = False
        self._told_at = 0.0
        self._ending = ending
        # Bound methods of an object that lives on the screen's thread are called there.
        self._told.connect(self._hear)
        self._ended.connect(self._end)

    def cancel(self) -> None:
        """Ask the work to stop; it does so the next time it tells its progress."""
        self.is_cancelled = True

    def tell(self, done: int, total: int | None) -> bool:
        """Note how far the work is. Called on the working thread."""
        now = time.monotonic()
        if now - self._told_at >= _SECONDS_BETWEEN_TELLINGS or done == total:
            self._told_at = now
            self._told.emit(done, total)
        return not self.is_cancelled

    def _hear(self, done: int, total: int | None) -> None:
        self.done_count, self.total = done, total
        self.progressed.emit()

    def _end(self, answer: object, error: Exception | None) -> None:
        self._ending(self, answer, error)


class _Run(QRunnable):
    """The part of a job that a pooled thread runs."""

    def __init__(self, job: Job, work: Callable[[Progress], object]) -> None:
        super().__init__()
        self._job = job
        self._work = work

    @override
    def run(self) -> None:
        answer: object = None
        error: Exception | None = None
        try:
            answer = self._work(self._job.tell)
        except Exception as raised:
            error = raised
        self._job._ended.emit(answer, error)  # noqa: SLF001 - the other half of the same notion


class _QuietRun(QRunnable):
    """Steps that nobody waits for; one that fails is logged and the others go on."""

    def __init__(
        self, steps: Sequence[Callable[[], object]], is_closed: Callable[[], bool]
    ) -> None:
        super().__init__()
        self._steps = steps
        self._is_closed = is_closed

    @override
    def run(self) -> None:
        for step in self._steps:
            if self._is_closed():
                return
            try:
                step()
            except Exception:
                _log.exception("work ahead failed")


class Background(QObject):
    """Runs work on a pool of threads of its own and gives the answers back in order of arrival.

    Signals:
        jobs_changed: a job began or ended, or told its progress.
        failed: (label, exception), when a job failed and nobody else took the failure.
    """

    jobs_changed = Signal()
    failed = Signal(str, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._pool = QThreadPool(self)
        self._pool.setMaxThreadCount(_THREADS)
        self._jobs: list[Job] = []
        self._runs: dict[Job, _Run] = {}
        self._is_closed = False
        self._quiet: _QuietRun | None = None

    @property
    def jobs(self) -> tuple[Job, ...]:
        """What is under way, oldest first."""
        return tuple(job for job in self._jobs if not job.is_superseded)

    def run(
        self,
        work: Callable[[Progress], T],
        *,
        done: Callable[[T], None],
        failed: Callable[[Exception], None] | None = None,
        label: str,
        slot: str = "",
    ) -> Job:
        """Start work on another thread.

        Args:
            work: gets a ``Progress``; must touch no widget.
            done: called on the screen's thread with what the work returned.
            failed: called on the screen's thread instead of the ``failed`` signal.
            label: what the status line says meanwhile, such as "Reading the fleet".
            slot: a newer job with the same slot supersedes this one, whose answer is then dropped.
        """
        for older in self._jobs:
            if slot and older.slot == slot:
                older.is_superseded = True
                older.cancel()

        def ending(job: Job, answer: object, error: Exception | None) -> None:
            # An answer may still be on its way when the window is gone: nobody asks for it then.
            if not self._is_closed:
                self._end(job, cast("T", answer), error, done, failed)

        job = Job(label, slot, ending)
        if self._is_closed:
            job.is_superseded = True
            return job
        job.progressed.connect(self.jobs_changed)
        self._jobs.append(job)
        started = _Run(job, work)
        self._runs[job] = started
        self._pool.start(started)
        self.jobs_changed.emit()
        return job

    def run_quietly(self, steps: Sequence[Callable[[], object]]) -> None:
        """Do what would be wanted later, after all other work: no answer, no line in the status.

        Only one such series is kept. The program ends between two steps, so keep them short.
        """
        if not self._is_closed:
            self._quiet = _QuietRun(steps, lambda: self._is_closed)
            self._quiet.setAutoDelete(False)
            self._pool.start(self._quiet, _AFTER_ALL_OTHERS)

    def wait(self, *, milliseconds: int = 30_000) -> bool:
        """Block until every thread is idle; answers still arrive through the event loop."""
        return self._pool.waitForDone(milliseconds)

    def close(self) -> None:
        """Cancel everything, drop the answers, and wait for the threads. Nothing is begun after."""
        self._is_closed = True
        for job in self._jobs:
            job.is_superseded = True
            job.cancel()
        self._pool.clear()
        self.wait()

    def _end(
        self,
        job: Job,
        answer: T,
        error: Exception | None,
        done: Callable[[T], None],
        failed: Callable[[Exception], None] | None,
    ) -> None:
        self._jobs.remove(job)
        del self._runs[job]
        self.jobs_changed.emit()
        if job.is_superseded:
            return
        if error is None:
            done(answer)
        elif not job.is_cancelled:
            self._fail(job, error, failed)

    def _fail(self, job: Job, error: Exception, failed: Callable[[Exception], None] | None) -> None:
        if not isinstance(error, OperatorError):
            _log.error("%s failed", job.label, exc_info=error)
        if failed is not None:
            failed(error)
        else:
            self.failed.emit(job.label, error)
