"""Long work in other processes, its progress and its results on the main thread.

A job's callbacks arrive on a helper thread. They all cross over through one `Bridge` that lives
as long as the window: a queued signal of a QObject of the main thread is the only crossing Qt
promises to be safe, and an object made per job could die while its signal is under way.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Qt, Signal, Slot

from rehearse.files.user_error import UserError
from rehearse.words import _

if TYPE_CHECKING:
    from concurrent.futures import Future

_log = logging.getLogger(__name__)


class Bridge(QObject):
    """Runs functions on the thread it was made on, in the order they were posted."""

    _posted = Signal(object)  # a function

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._posted.connect(self._run, Qt.ConnectionType.QueuedConnection)

    def post(self, function: Callable[[], None]) -> None:
        """Call `function` soon on the bridge's thread; may be called from any thread."""
        self._posted.emit(function)

    @Slot(object)
    def _run(self, function: Callable[[], None]) -> None:
        function()


@dataclass(eq=False)
class RunningJob:
    """One job in progress: what it does in words, how far it is (0..1, None unknown)."""

    words: str
    fraction: float | None = None
    text: str = ""
    stopped: bool = False
    job: Any = field(default=None, repr=False)


class Jobs(QObject):
    """Starts jobs in worker processes and brings their results home.

    Args:
        workers: a `rehearse.work.pool.Workers`, or a function that makes one when first needed.
    """

    changed = Signal()
    failed = Signal(str)

    def __init__(self, workers: Callable[[], Any], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._workers = workers
        self._bridge = Bridge(self)
        self._running: list[RunningJob] = []

    @property
    def running(self) -> tuple[RunningJob, ...]:
        """Jobs in progress, oldest first."""
        return tuple(self._running)

    def start(
        self,
        words: str,
        function: Callable[..., Any],
        *args: Any,
        done: Callable[[Any], None],
        failed: Callable[[UserError], None] | None = None,
    ) -> RunningJob:
        """Run `function(*args, report)` in a worker; `done(result)` follows on this thread.

        What goes wrong reaches `failed` when given, else the signal, always as a fault; a stopped
        job says nothing.
        """
        running = RunningJob(words)

        def progress(fraction: float, text: str) -> None:
            self._bridge.post(lambda: self._progress(running, fraction, text))

        def finished(job: Any) -> None:
            self._bridge.post(lambda: self._finish(running, job, done, failed))

        self._running.append(running)
        try:
            running.job = self._workers().submit(function, *args, on_progress=progress)
        except (OSError, RuntimeError) as error:
            from concurrent.futures import Future

            job: Future[Any] = Future()
            job.set_exception(error)
            running.job = job
        running.job.add_done_callback(finished)
        self.changed.emit()
        return running

    def stop(self, running: RunningJob) -> None:
        """Ask a job to stop; its result, should it still come, is dropped."""
        running.stopped = True
        if running in self._running:
            self._running.remove(running)
            running.job.cancel()
            self.changed.emit()

    def stop_all(self) -> None:
        """Stop every job in progress."""
        for running in self.running:
            self.stop(running)

    def _progress(self, running: RunningJob, fraction: float, text: str) -> None:
        if not running.stopped:
            running.fraction, running.text = fraction, text
            self.changed.emit()

    def _finish(
        self,
        running: RunningJob,
        job: Any,
        done: Callable[[Any], None],
        failed: Callable[[UserError], None] | None,
    ) -> None:
        from rehearse.work.pool import Stopped

        if running.stopped:
            return
        self._running.remove(running)
        self.changed.emit()
        try:
            result = job.result()
        except Stopped:
            return
        except Exception as error:
            refusal = _error_of(error, running.words)
            if failed is not None:
                failed(refusal)
            else:
                self.failed.emit(refusal.sentence)
        else:
            done(result)


def _error_of(error: Exception, words: str) -> UserError:
    """What went wrong in one sentence; what nobody foresaw is logged with where it rose."""
    if isinstance(error, UserError):
        return error
    notes = "\n".join(getattr(error, "__notes__", ()))
    _log.error("%s: the job failed\n%s", words, notes, exc_info=error)
    return UserError(_("stopped by a mistake in the program"), where=words, do=_("try again"))
