"""A filmed run played in the window: how late each picture is shown, and what it costs.

usage: python -m tests.bench.film_play FOLDER [SECONDS]

FOLDER is a routine with a film that was read. Plays without a sound device, on the real clock.
Bound: of the film's pictures in what was played, 95 % are painted within one frame of their time
(exit status 1 when broken); one that is never painted counts as late. Beside other work that is
the machine's figure more than the program's. So the film is also gone through in steps of the
clock, with time for each: the processor's milliseconds a picture compare on any machine.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path

import av
import numpy as np

SHARE = 0.95
#: Seconds of music from a look at it to the next, looks before and while it is measured, and
#: seconds that the thread which decodes gets for each.
LOOK, BEFORE, LOOKS, PAUSE = 0.016, 20, 150, 0.03


def main() -> int:
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from rehearse.app import make_application
    from rehearse.ui.settings import Settings
    from rehearse.ui.window import Window
    from rehearse.ui.workspace import Workspace

    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 10.0
    app = make_application(["rehearse"])
    settings = Settings(Path(tempfile.mkdtemp()) / "settings.ini")
    settings.put("silent", True)
    workspace = Workspace(settings)
    window = Window(workspace)
    window.resize(1366, 768)
    window.show()
    workspace.open(Path(sys.argv[1]))
    window.film_of_a_run()
    flow = window._flow

    def wait(done) -> None:
        until = time.monotonic() + 120
        while not done() and time.monotonic() < until:
            app.processEvents()
            time.sleep(0.01)

    wait(lambda: workspace.track is not None and flow.take is not None)
    wait(lambda: flow.sheet.contact is not None)
    painted, used = play(flow, seconds)
    film = Path(sys.argv[1]) / flow.take.folder / "film.mp4"
    share = told(painted, times_of(film), used, seconds)
    step_through(app, flow)
    flow.leave()
    window.close()
    workspace.close()
    return 0 if share >= SHARE else 1


def play(flow, seconds: float) -> tuple[dict[float, float], float]:
    """The film second at which each picture was painted first, by its own; processor seconds."""
    from PySide6.QtCore import QEvent, QObject
    from PySide6.QtTest import QTest

    painted: dict[float, float] = {}

    class Paints(QObject):
        def eventFilter(self, watched: QObject, event: QEvent) -> bool:
            watching = flow.watching
            on = event.type() == QEvent.Type.Paint and watching.music and watching.music.on
            if on and watching.picture is not None:
                painted.setdefault(watching.picture, watching.film_second())
            return False

    paints = Paints()
    flow.view.installEventFilter(paints)
    flow.main_action()
    used = time.process_time()
    QTest.qWait(round(1000 * seconds))
    used = time.process_time() - used
    flow.main_action()
    flow.view.removeEventFilter(paints)
    return painted, used


def step_through(app, flow) -> None:
    """Print what each picture costs while it plays, whatever else the machine does."""
    from rehearse.ui.film.film_music import FilmMusic

    music, pictures = flow.watching.music, set()
    start, begun = music.second, 0.0
    playing, FilmMusic.on = FilmMusic.on, property(lambda self: True)
    try:
        for k in range(BEFORE + LOOKS):
            if k == BEFORE:
                pictures, begun = set(), time.process_time()
            music.second = start + LOOK * k
            music.moved.emit()
            app.processEvents()
            time.sleep(PAUSE)
            pictures.add(flow.watching.picture)
        used = 1000 * (time.process_time() - begun) / len(pictures)
    finally:
        FilmMusic.on = playing
    print(f"gone through in steps: {len(pictures)} pictures, {used:.1f} ms of processor each")


def times_of(film: Path) -> np.ndarray:
    """The pictures' own seconds."""
    with av.open(str(film)) as file:
        return np.array(sorted(p.pts * float(p.time_base) for p in file.demux(video=0) if p.size))


def told(painted: dict[float, float], times: np.ndarray, used: float, seconds: float) -> float:
    """Print what was seen; the part of the pictures that was in time."""
    own = np.array(sorted(painted))
    own = own[own >= own[0] + 0.5]  # the first half second the music settles
    late = np.array([painted[second] for second in own]) - own
    frame = float(np.median(np.diff(times)))
    due = int(((times >= own[0] - 1e-6) & (times <= own[-1] + 1e-6)).sum())
    share = float((np.abs(late) <= frame).sum()) / due
    print(
        f"{due} pictures due, frame {1000 * frame:.0f} ms; painted within one frame of their time: "
        f"{100 * share:.0f} %; painted {100 * len(own) / due:.0f} %; lateness median "
        f"{1000 * np.median(late):.0f} ms, 95 % {1000 * np.percentile(late, 95):.0f} ms; "
        f"{100 * used / seconds:.0f} % of a core, {1000 * used / max(1, len(painted)):.1f} ms a "
        "picture"
    )
    return share


if __name__ == "__main__":
    sys.exit(main())
