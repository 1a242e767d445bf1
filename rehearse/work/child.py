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
import signal
import subprocess
import sys
import threading
from typing import Any, BinaryIO

_START = (
    "import sys; sys.path[:] = {path!r}; from rehearse.work.child import main; main({target!r})"
)
#: Numeric libraries would otherwise start a thread per core and starve the sound.
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")


class Child:
    """A started child process.

    Args:
        target: what it runs, `package.module:function`; the function is given a `Channel`.
        nice: how far it steps back for others, 0..19 (POSIX).
        alone: in a session of its own; schedulers that share the processors between sessions
            then give it its part whatever the parent's session is busy with.
    """

    def __init__(self, target: str, *, nice: int = 0, alone: bool = False) -> None:
        code = _START.format(path=[p or os.getcwd() for p in sys.path], target=target)
        environment = dict(os.environ, REHEARSE_NICE=str(nice))
        for name in _ONE_THREAD:
            environment.setdefault(name, "1")
        self.process = subprocess.Popen(
            [sys.executable, "-c", code],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=environment,
            start_new_session=alone,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
        self._outbox: queue.SimpleQueue[Any] = queue.SimpleQueue()
        # Its own thread, so that a child that has stopped reading never blocks the caller.
        self._writer = threading.Thread(target=self._write, name="child writer", daemon=True)
        self._writer.start()

    def send(self, message: Any) -> None:
        """Queue a message; lost silently when the child is gone (then `receive` says so)."""
        self._outbox.put(pickle.dumps(message, protocol=5))

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
        assert self.process.stdin is not None
        with contextlib.suppress(OSError, ValueError):
            while (data := self._outbox.get()) is not None:
                self.process.stdin.write(data)
                self.process.stdin.flush()

    def end(self, grace: float = 0.0) -> None:
        """Close its input, wait up to `grace` seconds for it to leave, then kill it."""
        self._outbox.put(None)
        if grace:
            self._writer.join(grace)
            if not self._writer.is_alive():
                self._close_input()
            with contextlib.suppress(subprocess.TimeoutExpired):
                self.process.wait(grace)
        self.process.kill()
        self.process.wait()
        self._writer.join()
        self._close_input()

    def _close_input(self) -> None:
        with contextlib.suppress(OSError):
            if self.process.stdin is not None:
                self.process.stdin.close()

    def close_output(self) -> None:
        """Release the reading end; call it from the thread that reads, once it has ended."""
        if self.process.stdout is not None:
            self.process.stdout.close()


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
    os.nice(nice)
    if nice and os.getsid(0) == os.getpid():
        # Where Linux shares the processors between sessions, each has a nice value of its own.
        with contextlib.suppress(OSError), open("/proc/self/autogroup", "w") as stream:
            stream.write(str(nice))


def main(target: str) -> None:
    """Entry of the child process: run `package.module:function` with the channel."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):
        _step_back(int(os.environ.pop("REHEARSE_NICE", "0")))
    # What a library prints must not end up between the messages.
    sink = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    module, _, name = target.partition(":")
    getattr(importlib.import_module(module), name)(Channel(sys.stdin.buffer, sink))
    os._exit(0)
