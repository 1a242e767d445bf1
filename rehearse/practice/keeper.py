"""The window's logbook: one thread of its own opens it, writes to it and reads from it.

The window's thread never waits for a disk, a lock or a damaged file: it hands over what happened
and goes on. What is written is written in the order in which it happened, and whoever asks for
something is answered after all that was handed over before. What could not be written is tried
again every few seconds, and once more at the end.
"""

from __future__ import annotations

import logging
import queue
import threading
import time
from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar

from rehearse.files.user_error import UserError
from rehearse.practice.logbook import Logbook
from rehearse.practice.passes import Pass, Verdict
from rehearse.practice.planbook import row_of
from rehearse.practice.planline import Plan
from rehearse.practice.roundlog import RoundDone
from rehearse.practice.takelog import TakeDone
from rehearse.words import _

log = logging.getLogger("rehearse")

#: Seconds between two tries to write what waits.
RETRY = 5.0

T = TypeVar("T")
Job = Callable[[Logbook], None]
_END = None


def at_once(deliver: Callable[[], None]) -> None:
    """Answers in the logbook's own thread: for whoever has no event loop."""
    deliver()


class Keeper:
    """Owns the logbook of one routine folder.

    Every method returns at once and raises nothing; faults are told.

    Args:
        path: the file. identity: the routine's own name. fallback: as for `Logbook`.
        on_error: told one sentence when something could not be kept or read.
        after: keepers that are closed already and first have to be done.
        post: how a call gets from the logbook's thread to the one that asked.
    """

    def __init__(
        self,
        path: Path,
        *,
        identity: str = "",
        fallback: Path | None = None,
        after: Iterable[Keeper] = (),
        on_error: Callable[[str], None] = lambda _sentence: None,
        post: Callable[[Callable[[], None]], None] = at_once,
    ) -> None:
        self.path = path
        self._identity, self._fallback = identity, fallback
        self._on_error, self._post = on_error, post
        self._after = tuple(after)
        self._jobs: queue.SimpleQueue[Job | None] = queue.SimpleQueue()
        self._closed = False
        self._thread = threading.Thread(target=self._run, name="logbook", daemon=True)
        self._thread.start()

    # -- what the window asks ------------------------------------------------------------------

    def record(self, done: Pass) -> None:
        """Keep one pass for good."""
        self._jobs.put(lambda book: _nothing(book.record(done)))

    def judge(
        self, pass_id: str, verdict: Verdict | None, *, broke_at: float | None = None
    ) -> None:
        """Set or change the verdict on a pass recorded before."""
        self._jobs.put(lambda book: book.judge(pass_id, verdict, broke_at=broke_at))

    def end_session(self, at: datetime, *, unwell: bool = False) -> None:
        """Close the session of this moment."""
        self._jobs.put(lambda book: book.end_session(at, unwell=unwell))

    def keep_plan(self, plan: Plan) -> None:
        """Keep a plan that has its key."""
        self._jobs.put(lambda book: book.keep_plan(row_of(plan)))

    def keep_round(self, done: RoundDone) -> None:
        """Keep a round as far as it has come."""
        self._jobs.put(lambda book: book.keep_round(done))

    def keep_take(self, done: TakeDone) -> None:
        """Keep what was read of a film."""
        self._jobs.put(lambda book: book.keep_take(done))

    def ask(
        self,
        read: Callable[[Logbook], T],
        done: Callable[[T], None],
        failed: Callable[[], None] = lambda: None,
    ) -> None:
        """Answer `done(read(logbook))`; `read` runs in the logbook's thread, `done` does not.

        Where it cannot be read that is told, and `failed` called. Nothing is answered once the
        keeper is closed.
        """

        def job(book: Logbook) -> None:
            try:
                found = book.read(read)
            except BaseException:
                self._answer(failed)
                raise
            self._answer(lambda: done(found))

        self._jobs.put(job)

    def settle(self, seconds: float = 10.0) -> bool:
        """Wait until everything handed over is done; False when that takes longer."""
        passed = threading.Event()
        self._jobs.put(lambda _book: passed.set())
        return passed.wait(seconds)

    def close(self) -> None:
        """Let everything handed over be written, then close the file; returns at once."""
        if not self._closed:
            self._closed = True
            self._jobs.put(_END)

    def join(self, seconds: float = 10.0) -> bool:
        """Wait for the end after `close`; False when it takes longer."""
        self._thread.join(seconds)
        return not self._thread.is_alive()

    # -- the logbook's own thread --------------------------------------------------------------

    def _run(self) -> None:
        for other in self._after:
            other.join()
        self._after = ()
        try:
            book = Logbook(self.path, self._fallback, identity=self._identity, insist=True)
        except Exception as error:  # whatever it is, the window goes on without it
            self._fail(error)
            self._run_without()
            return
        self._tell_notice(book)
        try:
            tried = time.monotonic()
            while (job := self._next(book)) is not _END:
                if job is not _nothing:
                    self._do(job, book)
                if book.has_waiting and time.monotonic() - tried >= RETRY:
                    tried = time.monotonic()
                    book.retry()
        finally:
            self._do(Logbook.close, book)

    def _next(self, book: Logbook) -> Job | None:
        try:
            return self._jobs.get(timeout=RETRY if book.has_waiting else None)
        except queue.Empty:
            return _nothing

    def _do(self, job: Job, book: Logbook) -> None:
        notice = book.notice
        try:
            job(book)
        except UserError as error:
            self._tell(error.sentence)
        except KeyError:
            pass  # a verdict on a pass that was never kept
        except Exception as error:
            self._fail(error)
        if book.notice != notice:
            self._tell_notice(book)

    def _run_without(self) -> None:
        while self._jobs.get() is not _END:
            pass

    def _fail(self, error: Exception) -> None:
        log.error("logbook", exc_info=error)
        what = _("the logbook cannot be used, what is practised now is not kept")
        self._tell(UserError(what, where=self.path.name, do=_("start again")).sentence)

    def _tell_notice(self, book: Logbook) -> None:
        if book.notice:
            self._tell(book.notice)

    def _tell(self, sentence: str) -> None:
        self._answer(lambda: self._on_error(sentence))

    def _answer(self, deliver: Callable[[], None]) -> None:
        self._post(lambda: None if self._closed else deliver())


def _nothing(_anything: Any) -> None:
    return None
