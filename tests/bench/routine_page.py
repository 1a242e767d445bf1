"""How long each edit of the Routine page takes until it is painted: 200 poses with 400 moves.

Run: python tests/bench/routine_page.py. Aim: every edit within 16 ms (median) at 1920×1080.
Times run from the call of the gesture to the end of the repaint it causes; checks and
suggestions, which follow after a rest, are timed by themselves.
"""

from __future__ import annotations

import math
import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PySide6.QtWidgets import QApplication

from rehearse.app import make_application
from rehearse.music.beatmap import Accent, BeatMap, Stretch
from rehearse.music.position import Count, Length
from rehearse.music.track import Track
from rehearse.playback.segment import Now
from rehearse.routine.model import Move, Placed, Routine, Side
from rehearse.routine.moves import load_moves
from rehearse.routine.poses import load_catalogue
from rehearse.routine.snapping import Snap
from rehearse.ui.pages.routine.choreography import Choreography
from rehearse.ui.pages.routine.page import RoutinePage
from rehearse.ui.settings import Settings
from rehearse.ui.undo import Documents
from rehearse.ui.workspace import Workspace

SECONDS, POSES, RATE, TIMES = 600.0, 200, 44100, 40
#: Seconds before a hit at which a move is begun by hand.
BEFORE = 1.6


class Nothing:
    """A player that plays nothing."""

    def load(self, track: Track) -> None:
        """Take no notice."""

    def volume(self, kind: str, gain: float) -> None:
        """Take no notice."""

    def now(self) -> Now:
        """Nothing is heard."""
        return Now()

    def close(self) -> None:
        """Nothing to close."""


def make_documents() -> Documents:
    """Ten minutes at 128 BPM with a pose every three seconds."""
    beats = tuple(float(b) for b in np.arange(1.0, SECONDS - 1, 60 / 128))
    places = tuple(k % 4 + 1 for k in range(len(beats)))
    accents = tuple(Accent(beats[k], 0.7) for k in range(0, len(beats), 16))
    beatmap = BeatMap("bench", SECONDS, beats, places, free=(Stretch(0.0, 1.0),), accents=accents)
    names = [pose.name for pose in load_catalogue().poses]
    step = len(beats) // POSES
    poses = tuple(
        Placed(
            f"{k:08x}",
            names[k % len(names)],
            Count(beatmap.counts[k * step].eight, beatmap.counts[k * step].count),
            Length(2),
            Length(3.5),
            moves=(
                Move(f"a{k:07x}", "gather", Length(1.5)),
                Move(f"b{k:07x}", "reach up", Length(1), Side.RIGHT),
            ),
        )
        for k in range(POSES)
    )
    return Documents(Routine("Bench", "song.wav", rules="open-90", poses=poses), beatmap)


def timed(act: Callable[[], object]) -> tuple[float, float]:
    """Milliseconds until the act is on the picture: by the clock, and of computing."""
    begin, computed = time.perf_counter(), time.thread_time()
    act()
    QApplication.processEvents()
    return (time.perf_counter() - begin) * 1000, (time.thread_time() - computed) * 1000


def main() -> int:
    """Print the table; 1 when a median is over 16 ms."""
    app = make_application(["bench"])
    folder = Path(tempfile.mkdtemp())
    workspace = Workspace(Settings(folder / "settings.ini"), make_player=Nothing)
    rng = np.random.default_rng(1)
    samples = rng.normal(0, 0.1, (int(SECONDS * RATE), 2)).astype(np.float32)
    workspace._documents = make_documents()
    workspace.track = Track(samples, RATE, "bench")
    begin = time.perf_counter()
    page = RoutinePage(workspace)
    page.resize(1920, 1080)
    page.show()
    app.processEvents()
    print(f"page made and painted   {(time.perf_counter() - begin) * 1000:7.1f} ms")
    # On a busy machine the rest would be over while an edit is still being painted.
    page.findings._rest.setInterval(3_600_000)
    while not page.wave._pyramid.complete or page.thumbs.ahead:
        app.processEvents()
    worst = 0.0
    for words, stretch in (("30 s in view", 30.0), ("10 min in view", SECONDS)):
        page.wave.set_range(120.0, 120.0 + stretch)
        worst = max(worst, run(page, workspace, words))
    begin = time.perf_counter()
    page.findings.look()
    print(f"checks and suggestions  {(time.perf_counter() - begin) * 1000:7.1f} ms (after a rest)")
    workspace.close()
    return 1 if worst > 16 else 0


def chosen_move(do: Choreography, move: str, pose: str) -> Choreography:
    """With a move chosen, as a click does it."""
    do.editor.select_move(move, pose)
    return do


def run(page: RoutinePage, workspace: Workspace, words: str) -> float:
    """Time every edit in this view; the largest median."""
    do, editor = page.choreography, page.editor
    ids = [p.id for p in workspace.routine.poses][45:50]
    editor.grid = Snap.QUARTERS
    step = load_moves().wanted("step 0.25")[0]
    move = workspace.routine.placed(ids[2]).moves[0].id
    acts: dict[str, Callable[[int], object]] = {
        "put a move": lambda k: (
            workspace.undo.undo() if k % 2 else do.put_move(step, (ids[2], None, 150.0))
        ),
        "begin a move on the beat": lambda k: (
            workspace.undo.undo()
            if k % 2
            else do.begin_on_beat(page.timings.find(ids[2]).hit - BEFORE)
        ),
        "move longer": lambda k: chosen_move(do, move, ids[2]).resize_move(
            0.25 if k % 2 else -0.25
        ),
        "reorder moves": lambda k: chosen_move(do, move, ids[2]).swap_move(-1 if k % 2 else 1),
        "drag a move's border": lambda k: do.set_border(
            move, page.timings.find(ids[2]).start + (0.35 if k % 2 else 0.59), "bench border"
        ),
        "hit again": lambda k: do.hit_again(page.timings.find(ids[2]).hit + 0.47),
        "turn": lambda k: do.turn_way(),
        "place": lambda k: do.change_place(),
        "move by key": lambda k: do.move(1 if k % 2 else -1),
        "drag": lambda k: do.move_to(ids[2], 150.0 + k * 0.47, "bench drag"),
        "hold": lambda k: do.lengthen(0.5 if k % 2 else -0.5),
        "transition": lambda k: do.widen(0.5 if k % 2 else -0.5),
        "another pose": lambda k: do.exchange("vacuum" if k % 2 else "crucifix"),
        "swap": lambda k: do.swap_with_next(),
        "put": lambda k: do.put("victory", 160.0 + k * 0.47),
        "put, then undo": lambda k: workspace.undo.undo() if k % 2 else do.put("victory", 160.0),
        "insert up to a pin": lambda k: workspace.undo.undo() if k % 2 else do.insert("bow"),
        "insert, shift all after": lambda k: do.other_way() if k else do.insert("bow"),
        "take out, close up": lambda k: do.take_out(close_up=True),
        "select": lambda k: editor.select(ids[k % 5]),
    }
    print(f"\n{words:24} median    95 %   computing, median and least   (ms, {TIMES} times)")
    worst = 0.0
    for name, act in acts.items():
        editor.select(ids[2])
        editor.cursor = 150.0
        QApplication.processEvents()
        both, idle = [], 0
        for k in range(TIMES):
            before = workspace.routine
            both.append(timed(lambda k=k, act=act: act(k)))
            idle += workspace.routine is before and name != "select"
        times, work = [b[0] for b in both], [b[1] for b in both]
        middle, high = statistics.median(times), sorted(times)[int(TIMES * 0.95)]
        worst, computed = max(worst, middle), statistics.median(work)
        over = "   over" if middle > 16 else ""
        if idle:  # it would be told to be quick
            worst, over = math.inf, f"   changed nothing {idle} times"
        print(f"{name:24}{middle:7.1f} {high:7.1f} {computed:7.1f} {min(work):7.1f}{over}")
        while workspace.undo.canUndo():
            workspace.undo.undo()
        QApplication.processEvents()
    return worst


if __name__ == "__main__":
    sys.exit(main())
