"""A process of its own, spoken to by messages, that never outlives its parent.

The child is a fresh interpreter that imports only what its work needs (not the window), reads
pickled messages from its standard input and writes its own to standard output. When the parent
ends, in whatever way, the system closes the pipe and the child leaves at once.
"""

from __future__ import annotations

import contextlib
import importlib
import os
import pickle
import queue
import select
import signal
import subprocess
import sys
import threading
from typing import Any, BinaryIO

_START = (
    "import sys; sys.path[:] = {path!r}; from rehearse.work.child import main; main({target!r})"
)
#: What a packaged program is called with, before the target, to be a child.
CHILD = "--child-process"
#: Set in a process that `main` was called in.
_children: list[str] = []
_POSIX = os.name == "posix"
#: Seconds that ending a process may hold its caller up. One stuck in a driver dies when the driver
#: lets go of it; whoever ended it must not wait for that.
_DYING = 0.5
#: Numeric libraries would otherwise start a thread per core and starve the sound.
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")


class Child:
    """A started child process.

    Args:
        target: what it runs, `package.module:function`; the function is given a `Channel`.
        nice: how far it steps back for others, 0..19 (POSIX).
    """

    def __init__(self, target: str, *, nice: int = 0) -> None:
        environment = dict(os.environ, REHEARSE_NICE=str(nice))
        for name in _ONE_THREAD:
            environment.setdefault(name, "1")
        self.process = subprocess.Popen(
            _command(target),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=environment,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
        assert self.process.stdin is not None
        self._stdin = self.process.stdin
        self._pipe = self._stdin.fileno()
        if _POSIX:
            os.set_blocking(self._pipe, False)
        self._outbox: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()
        self._lock, self._waiting, self._ended = threading.Lock(), 0, False
        self._writer = threading.Thread(target=self._write, name="child writer", daemon=True)
        try:
            self._writer.start()
        except RuntimeError:  # no more threads: without one the process is of no use
            self.process.kill()
            self.process.wait()
            raise

    def send(self, message: Any) -> None:
        """Send a message without ever waiting; lost silently when the child is gone.

        What fits into the pipe is written here and now: a caller that goes on to hold the
        interpreter lock would hold up any other thread. The rest is left to the writer thread.
        """
        data = pickle.dumps(message, protocol=5)
        with self._lock:
            if self._ended:
                return
            if _POSIX and not self._waiting:
                with contextlib.suppress(OSError):
                    data = data[os.write(self._pipe, data) :]
            if data:
                self._waiting += 1
                self._outbox.put(data)

    def receive(self) -> Any:
        """The child's next message; waits for it.

        Raises:
            EOFError: the child has ended.
        """
        assert self.process.stdout is not None
        try:
            return pickle.load(self.process.stdout)
        except (OSError, ValueError, pickle.UnpicklingError) as error:
            raise EOFError("the child has ended") from error

    def _write(self) -> None:
        if _POSIX:
            room = select.poll()
            room.register(self._pipe, select.POLLOUT)
        with contextlib.suppress(OSError):
            while (data := self._outbox.get()) is not None:
                while data:
                    if _POSIX:
                        room.poll()
                    data = data[os.write(self._pipe, data) :]
                with self._lock:
                    self._waiting -= 1

    def end(self) -> None:
        """End the process at once; waits half a second at most until it is gone."""
        with self._lock:
            self._ended = True
        self._outbox.put(None)
        self.process.kill()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.process.wait(_DYING)
            self._bury()
            return
        threading.Thread(target=self._bury, name="child's end", daemon=True).start()

    def _bury(self) -> None:
        """Wait for the process and give back what it held."""
        self.process.wait()
        self._writer.join()
        with contextlib.suppress(OSError):
            self._stdin.close()

    def close_output(self) -> None:
        """Release the reading end; call it from the thread that reads, once it has ended."""
        if self.process.stdout is not None:
            self.process.stdout.close()


def _command(target: str) -> list[str]:
    """How a child is started: a packaged program has no interpreter to be had but itself."""
    if getattr(sys, "frozen", False):
        return [sys.executable, CHILD, target]
    code = _START.format(path=[p or os.getcwd() for p in sys.path], target=target)
    return [sys.executable, "-c", code]


class Channel:
    """The child's side: messages from and to the parent."""

    def __init__(self, source: BinaryIO, sink: BinaryIO) -> None:
        self._source, self._sink = source, sink
        self._lock = threading.Lock()

    def receive(self) -> Any:
        """The parent's next message; ends this process at once when the parent is gone."""
        try:
            return pickle.load(self._source)
        except (EOFError, OSError, pickle.UnpicklingError):
            os._exit(0)

    def send(self, message: Any) -> None:
        """Send a message to the parent, from any thread."""
        data = pickle.dumps(message, protocol=5)
        try:
            with self._lock:
                self._sink.write(data)
                self._sink.flush()
        except OSError:
            os._exit(0)


def _step_back(nice: int) -> None:
    if hasattr(os, "sched_setscheduler"):
        # Whatever scheduling the parent has for its own work is not for this one.
        os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))
    os.nice(nice)


def is_one() -> bool:
    """Whether this process is itself a child, which its parent can end."""
    return bool(_children)


def main(target: str) -> None:
    """Entry of the child process: run `package.module:function` with the channel."""
    _children.append(target)
    # Log-out and Ctrl+C reach every process: the parent saves first and then ends this one.
    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    if hasattr(os, "nice"):
        _step_back(int(os.environ.pop("REHEARSE_NICE", "0")))
    # What a library prints must not end up between the messages.
    sink = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    module, _, name = target.partition(":")
    getattr(importlib.import_module(module), name)(Channel(sys.stdin.buffer, sink))
    os._exit(0)
