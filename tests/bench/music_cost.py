"""What mapping a song costs: time against its length, memory, and the window's patience.

    python -m tests.bench.music_cost

Each line is a process of its own. The first kind decodes an mp3 and analyses it, as a worker does;
the memory is the process's at its highest. The second opens the window's page for a new routine,
chooses the song and waits for its map, nothing loaded before: how long that takes, and the longest
time between two turns of the window's event loop meanwhile and in the seconds after it.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import soundfile

ROOT = Path(__file__).resolve().parents[2]
RATE = 44100

_WORK = """
import resource, sys, time
began = time.perf_counter()
from rehearse.music.decode import load_track
from rehearse.music.analysis.analyse import analyse
track = load_track(sys.argv[1])
decoded = time.perf_counter()
beatmap = analyse(track)
cold = time.perf_counter()
analyse(track)
warm = time.perf_counter()
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(f"{track.duration:8.0f} s   decoded {decoded - began:5.2f} s   mapped cold "
      f"{cold - decoded:5.2f} s   warm {warm - cold:5.2f} s = {(warm - cold) / track.duration:.4f}"
      f" of its length   {peak:5.0f} MB at most")
"""

_WINDOW = """
import sys, time
began = time.perf_counter()
from pathlib import Path
import rehearse.ui.startup
from PySide6.QtCore import QTimer, Qt
from rehearse.app import make_application
from rehearse.ui.startup import tame_collector
from rehearse.ui.workspace import Workspace
from rehearse.ui.flows.new_routine import NewRoutine
application = make_application(["window"])
workspace = Workspace()
flow = NewRoutine(workspace)
flow.resize(1366, 768)
flow.show()
application.processEvents()
tame_collector()
turns, mapped = [], []
def turn():
    turns.append(time.perf_counter())
    if flow._beatmap is not None and not mapped:
        mapped.append(turns[-1])
        QTimer.singleShot(3000, application.quit)
timer = QTimer(interval=2)
timer.setTimerType(Qt.TimerType.PreciseTimer)
timer.timeout.connect(turn)
timer.start()
opened = time.perf_counter()
flow.take_path(Path(sys.argv[1]))
application.exec()
workspace.close()
end = mapped[0] + 0.5
gaps = [(b - a, b) for a, b in zip(turns, turns[1:])]
work, rest = ([gap for gap, at in gaps if (at <= end) == early] for early in (True, False))
print(f"      new song to map, cold {mapped[0] - opened:5.2f} s   window stood still "
      f"{1000 * max(work):.0f} ms at most, {sum(gap > 0.05 for gap in work)} times over 50 ms   "
      f"(afterwards {1000 * max(rest):.0f} ms)")
"""


def main() -> None:
    """Measure songs of 1, 4 and 30 minutes."""
    with tempfile.TemporaryDirectory() as folder:
        for minutes in (1, 4, 30):
            path = Path(folder) / f"{minutes}.mp3"
            _write(path, minutes * 60)
            for script in (_WORK, _WINDOW):
                command = [sys.executable, "-c", script, str(path)]
                environment = {"QT_QPA_PLATFORM": "offscreen", **os.environ, "HOME": folder}
                subprocess.run(command, check=True, cwd=ROOT, env=environment)


def _write(path: Path, seconds: int) -> None:
    """Drums at 126 a minute over a chord that changes every bar, in stereo at 44.1 kHz."""
    rng = np.random.default_rng(0)
    beat = 60 / 126
    with soundfile.SoundFile(path, "w", RATE, 2, format="MP3") as file:
        for second in range(seconds):
            t = second + np.arange(RATE) / RATE
            since = t % beat
            kick = 0.5 * np.sin(2 * np.pi * 60 * since) * np.exp(-15 * since)
            hat = 0.1 * rng.standard_normal(RATE) * np.exp(-60 * (t % (beat / 2)))
            root = 110 * 2 ** (np.asarray([0, 5, 7, 3])[(t / (4 * beat)).astype(int) % 4] / 12)
            chord = 0.05 * sum(np.sin(2 * np.pi * root * k * t) for k in (1, 1.25, 1.5))
            file.write(
                np.stack([kick + hat + chord, kick - hat + chord], axis=1).astype(np.float32)
            )


if __name__ == "__main__":
    main()
