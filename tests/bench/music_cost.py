"""What mapping a song costs: time against its length, and the process's memory at its highest.

    python tests/bench/music_cost.py

Each line is a process of its own that decodes an mp3 and analyses it, as a worker does.
"""

from __future__ import annotations

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


def main() -> None:
    """Measure songs of 1, 4 and 30 minutes."""
    with tempfile.TemporaryDirectory() as folder:
        for minutes in (1, 4, 30):
            path = Path(folder) / f"{minutes}.mp3"
            _write(path, minutes * 60)
            subprocess.run([sys.executable, "-c", _WORK, str(path)], check=True, cwd=ROOT)


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
