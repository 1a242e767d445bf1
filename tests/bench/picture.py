"""Sound against picture while the window is busy and other programs burn the processors.

    python -m tests.bench.picture [--tempos 100 50] [--hogs 2]

The whole demo routine is rehearsed in a real window on a virtual screen with a real sound server,
both recorded: how long after its beat left the speaker each flash was painted. Every second or so
the window also saves the routine (as after an edit), paints all of itself or collects its garbage;
the rows without load stand beside. Source of what matters: ITU-R BT.1359-1 (1998), detectable from
45 ms (sound early) and 125 ms (sound late) on; the project's own bound is a median of 8 ms and
20 ms for 95 %.
"""

from __future__ import annotations

import argparse
import contextlib
import gc
import multiprocessing
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

DEMO = Path(__file__).parents[2] / "demo" / "copper-lights"
#: Milliseconds between two saves, two paintings of everything, two full collections.
SAVE, PAINT, COLLECT = 1300, 2100, 3700


def main() -> None:
    """Measure and print a table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tempos", type=int, nargs="*", default=[100, 50])
    parser.add_argument("--hogs", type=int, default=2)
    options = parser.parse_args()
    hurry_watcher()
    print(f"{'tempo':>5} {'load':12} {'flashes':>7} {'median':>7} {'p95':>7} {'max ms':>7}")
    for tempo in options.tempos:
        measure(tempo, "none", "rehearse")
        with burning(options.hogs):
            measure(tempo, f"busy + {options.hogs}", "tests.bench.picture")


def measure(tempo: int, load: str, program: str) -> None:
    """Print one row."""
    from tests.test_sound_and_picture import measured

    with tempfile.TemporaryDirectory() as folder:
        routine = Path(shutil.copytree(DEMO, Path(folder) / "routine"))
        try:
            late = measured(routine, 0, tempo, program)
        except AssertionError as lost:
            print(f"{tempo:4} % {load:12} {str(lost).splitlines()[0]}", flush=True)
            return
    told = [np.median(late), np.percentile(np.abs(late), 95), late[np.argmax(np.abs(late))]]
    print(
        f"{tempo:4} % {load:12} {len(late):7d} " + " ".join(f"{v:7.1f}" for v in told), flush=True
    )


def hurry_watcher() -> None:
    """Where it is allowed, this process, which looks at the screen, comes before all others: what
    is measured is the program, not a starved witness."""
    with contextlib.suppress(AttributeError, OSError):
        os.sched_setscheduler(0, os.SCHED_RR | os.SCHED_RESET_ON_FORK, os.sched_param(2))


@contextlib.contextmanager
def burning(hogs: int) -> Iterator[None]:
    """Other programs that keep the processors busy."""
    context = multiprocessing.get_context("spawn")
    processes = [context.Process(target=_burn, daemon=True) for _ in range(hogs)]
    for process in processes:
        process.start()
    try:
        yield
    finally:
        for process in processes:
            process.kill()


def _burn() -> None:
    while True:
        sum(range(10_000))


def busy_window(arguments: list[str]) -> int:
    """The program itself, in a window that has more to do than to paint."""
    from PySide6.QtCore import QTimer
    from PySide6.QtWidgets import QApplication

    from rehearse import app, cli
    from rehearse.routine.folder import save_routine

    class BusyWorkspace(app.Workspace):
        def finish_start(self) -> None:
            super().finish_start()
            elsewhere = Path(tempfile.mkdtemp())

            def save() -> None:
                save_routine(elsewhere, self.routine)

            def paint() -> None:
                for window in QApplication.topLevelWidgets():
                    window.grab()

            for pause, spec in ((SAVE, save), (PAINT, paint), (COLLECT, gc.collect)):
                timer = QTimer(self, interval=pause)
                timer.timeout.connect(spec)
                timer.start()

    app.Workspace = BusyWorkspace
    return cli.main(arguments)


if __name__ == "__main__":
    if sys.argv[1:2] == ["open"]:
        sys.exit(busy_window(sys.argv[1:]))
    main()
