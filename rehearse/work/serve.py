"""The worker's side of the pool: take a call, run it, send back what became of it."""

from __future__ import annotations

import os
import pickle
import queue
import threading
import time
import traceback
from collections.abc import Callable
from typing import Any

from rehearse.files.user_error import UserError
from rehearse.work.child import Channel
from rehearse.work.shared import dumps, loads

#: Seconds between two progress messages at least.
_PACE = 0.05
#: Seconds a cancelled function has to reach its next `report` before its process is ended.
_PATIENCE = 2.0


class Stopped(Exception):
    """The job was cancelled."""


def serve(channel: Channel) -> None:
    """Main function of a worker process: run one job after another."""
    jobs: queue.SimpleQueue[tuple[int, Any]] = queue.SimpleQueue()
    stopped: set[int] = set()
    running: list[int] = []

    def listen() -> None:
        while True:
            kind, *rest = channel.receive()
            if kind == "run":
                jobs.put((rest[0], rest[1]))
            else:
                stopped.add(rest[0])
                threading.Timer(_PATIENCE, give_up, rest).start()

    def give_up(job: int) -> None:
        if job in running:
            os._exit(1)

    threading.Thread(target=listen, name="listener", daemon=True).start()
    while True:
        job, call = jobs.get()
        running.append(job)
        message = _perform(channel, call, lambda job=job: job in stopped)  # type: ignore[misc]
        running.clear()
        stopped.discard(job)
        channel.send(message)


def _perform(channel: Channel, call: Any, is_stopped: Callable[[], bool]) -> tuple[str, Any]:
    last = 0.0

    def report(fraction: float, text: str = "") -> None:
        nonlocal last
        if is_stopped():
            raise Stopped
        now = time.monotonic()
        if now - last >= _PACE or fraction >= 1:
            last = now
            channel.send(("progress", (fraction, text)))

    try:
        function, args = loads(*call)
        return "result", dumps(function(*args, report=report))
    except BaseException as error:
        return "error", _pack(error)


def _pack(error: BaseException) -> tuple[type[BaseException], tuple[Any, ...], Any]:
    if not isinstance(error, UserError | Stopped):
        error.add_note("".join(traceback.format_exception(error)))
    packed = type(error), error.args, error.__dict__
    try:
        pickle.dumps(packed)
    except Exception:
        notes = {"__notes__": getattr(error, "__notes__", [])}
        return RuntimeError, (f"{type(error).__name__}: {error}",), notes
    return packed
