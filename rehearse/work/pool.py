"""Long work in spawned processes, so that neither window nor sound ever waits for it.

    workers = Workers()
    job = workers.submit(load_track, path, on_progress=lambda fraction, text: ...)
    track = job.result()

The function stands at module level and is called as `function(*args, report=report)`. It calls
`report(fraction, text)` now and then: that shows progress and, once the job was cancelled, raises
`Stopped` there. Large arrays in arguments and results travel through shared memory. What the
function raises is raised again by `Job.result`.
"""

from __future__ import annotations

import concurrent.futures
import itertools
import queue
import threading
import time
from collections.abc import Callable
from typing import Any, TypeVar

from rehearse.files.user_error import UserError
from rehearse.words import _
from rehearse.work.child import Child, is_one
from rehearse.work.progress import Report
from rehearse.work.serve import Stopped as Stopped
from rehearse.work.shared import dumps, loads

T = TypeVar("T")
#: Seconds that closing waits for a process at most.
_CLOSING = 2.0
_numbers = itertools.count()


class Job(concurrent.futures.Future[T]):
    """One submitted call; a future whose `cancel` also reaches a call that is under way.

    `result` raises `Stopped` after `cancel`, `UserError` or whatever else the function raised, and
    a `UserError` when its process died. Callbacks are called on a helper thread with the job.
    """

    def __init__(self, call: tuple[Any, ...], on_progress: Report | None) -> None:
        super().__init__()
        self._call, self._on_progress = call, on_progress
        self._lock = threading.Lock()
        self._child: Child | None = None
        self._number = next(_numbers)
        self._stopped = False

    def cancel(self) -> bool:
        """Ask the job to stop, before it starts or at its next `report`.

        A function that does not report is ended with its process after some seconds.
        """
        with self._lock:
            self._stopped = True
            if self._child is not None:
                self._child.send(("stop", self._number))
        return True

    def _run(self, child: Child) -> bool:
        """Have `child` do the work; False when the child died of it."""
        with self._lock:
            if self._stopped:
                self._fail(Stopped())
                return True
            self._child = child
            self.set_running_or_notify_cancel()
        try:
            return self._talk(child, dumps(self._call))
        except Exception as error:  # what cannot be sent belongs to the caller, not to this thread
            self._fail(error)
            return True
        finally:
            with self._lock:
                self._child = None

    def _talk(self, child: Child, call: Any) -> bool:
        """Send the call and take what comes back; False when `child` is of no more use."""
        try:
            child.send(("run", self._number, call))
            while self._take(*child.receive()):
                pass
        except EOFError:
            error = UserError(_("a helper process ended unexpectedly"), do=_("try again"))
            self._fail(Stopped() if self._stopped else error)
            return False
        except Exception as error:  # what it still says would be taken for the next job's answer
            self._fail(error)
            return False
        return True

    def _take(self, kind: str, payload: Any) -> bool:
        if kind == "progress":
            if self._on_progress is not None and not self._stopped:
                self._on_progress(*payload)
            return True
        if kind == "result":
            self.set_result(loads(*payload))
        else:
            self._fail(_revive(*payload))
        return False

    def _fail(self, error: BaseException) -> None:
        if not self.done():
            self.set_exception(error)


class Workers:
    """A few worker processes, started when first needed and kept for the next job.

    Args:
        count: processes at most.
        nice: how far they step back for the window and the sound, 0..19.
    """

    def __init__(self, count: int = 2, *, nice: int = 5) -> None:
        self._count, self._nice = count, nice
        self._jobs: queue.SimpleQueue[Job[Any] | None] = queue.SimpleQueue()
        self._threads: list[threading.Thread] = []
        self._children: set[Child] = set()
        self._lock = threading.Lock()
        self._closed = False

    def submit(
        self, function: Callable[..., T], *args: Any, on_progress: Report | None = None
    ) -> Job[T]:
        """Run `function(*args, report=…)` in a worker.

        Args:
            function: at module level of an importable module.
            on_progress: called on a helper thread with fraction (0..1) and text.
        """
        job: Job[T] = Job((function, args), on_progress)
        with self._lock:
            if self._closed:
                raise RuntimeError("these workers are closed")
            if len(self._threads) < self._count and not self._start(None) and not self._threads:
                job._fail(_not_started(None))
            self._jobs.put(job)
        return job

    def warm(self, function: Callable[..., Any]) -> None:
        """Start all processes now and run `function(report=…)` in each, so that it is loaded."""
        with self._lock:
            while not self._closed and len(self._threads) < self._count:
                if not self._start(Job((function, ()), None)):
                    return

    def close(self) -> None:
        """End the processes; jobs that are not done raise `Stopped`."""
        with self._lock:
            self._closed = True
            for child in self._children:
                child.process.kill()
            for _unused in self._threads:
                self._jobs.put(None)
        end = time.monotonic() + _CLOSING
        for thread in self._threads:
            thread.join(max(0.0, end - time.monotonic()))

    def _start(self, first: Job[Any] | None) -> bool:
        """Start a thread that keeps one process; False when the system has none to spare."""
        thread = threading.Thread(target=self._serve, args=(first,), name="worker", daemon=True)
        try:
            thread.start()
        except RuntimeError:
            return False
        self._threads.append(thread)
        return True

    def _serve(self, first: Job[Any] | None) -> None:
        child = None
        job = first or self._jobs.get()
        while job is not None:
            if child is not None and child.process.poll() is not None:  # ended while it waited
                self._drop(child)
                child = None
            if not job.done():
                child = self._give(job, child)
            job = self._jobs.get()
        if child is not None:
            self._drop(child)

    def _give(self, job: Job[Any], child: Child | None) -> Child | None:
        """Have a job done by `child`, or by a new one; returns who can do the next."""
        try:
            child = child or self._spawn()
        except Exception as error:  # whatever it was: nobody else would finish the job
            job._fail(_not_started(error))
            return None
        if child is None or self._closed:
            job._fail(Stopped())
        elif not job._run(child):
            self._drop(child)
            return None
        return child

    def _spawn(self) -> Child | None:
        """A new process; None once these workers are closed.

        Raises:
            OSError, RuntimeError: the system has no process or thread to spare.
        """
        if self._closed:
            return None
        # Not under the lock, for which the window's thread would wait.
        child = Child("rehearse.work.serve:serve", nice=self._nice)
        with self._lock:
            if not self._closed:
                self._children.add(child)
                return child
        self._drop(child)
        return None

    def _drop(self, child: Child) -> None:
        with self._lock:
            self._children.discard(child)
        child.end()
        child.close_output()


def run_apart(
    function: Callable[..., T],
    *args: Any,
    where: str,
    report: Report | None = None,
    patience: float | None = None,
) -> T:
    """Run `function(*args, report)` in a process of its own; in a worker process, right there.

    Args:
        where: what it is about, for the sentence when it takes longer than `patience` seconds.

    Raises:
        UserError: the process had to be ended; besides whatever the function raises.
    """
    if is_one():
        return function(*args, report=report or (lambda fraction, text: None))
    workers = Workers(1)
    try:
        return workers.submit(function, *args, on_progress=report).result(patience)
    except TimeoutError as error:
        raise UserError(_("takes too long to read"), where=where, do=_("save it again")) from error
    finally:
        workers.close()


def _not_started(cause: Exception | None) -> UserError:
    advice = _("close other programs, then try again")
    error = UserError(_("a helper process could not be started"), do=advice)
    error.__cause__ = cause
    return error


def _revive(kind: type[BaseException], args: tuple[Any, ...], state: Any) -> BaseException:
    # Without calling __init__: an error's signature need not match its args.
    error = kind.__new__(kind, *args)
    error.args = args
    error.__dict__.update(state)
    return error
