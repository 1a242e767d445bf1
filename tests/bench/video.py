"""Cue videos of a routine in both forms: speed, size, and each hit's frame against its beat.

    python -m tests.bench.video [ROUTINE_FOLDER …]      # default: the demo

Bounds: at least 3 times as fast as they play on two cores, at most 25 MB for 90 s, every hit lit
up within one frame of its beat. CPU seconds are told beside, as other work on the machine disturbs
the wall clock only; the bound holds for the wall clock, or, on a machine under load, for the CPU
seconds spread over two cores (`--loaded`).
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

import av
import numpy as np

from rehearse.cueing.voice import SpeechEngine
from rehearse.handout import cue_video
from rehearse.handout.cue_plan import CuePlan, plan_stretches
from rehearse.handout.cue_track import finished
from rehearse.handout.handout_source import load_source
from rehearse.handout.mp4_writer import RATE
from rehearse.ui.stage.frames import StageFrames

DEMO = Path(__file__).resolve().parents[2] / "demo" / "copper-lights"
LEAST_SPEED, MOST_MEGABYTES, MOST_FRAMES = 3.0, 25.0, 1.0
#: Luminance of the rim's top, 0..255, between a lit count and a hit.
LIT = 180


def flashes(path: Path) -> list[float]:
    """Seconds of the first frame of each hit: the top of its rim becomes bright."""
    found, before = [], 255.0
    with av.open(str(path)) as opened:
        for frame in opened.decode(video=0):
            rows = np.frombuffer(frame.planes[0], np.uint8).reshape(-1, frame.planes[0].line_size)
            middle = frame.width // 2
            bright = float(rows[4:12, middle - 40 : middle + 40].mean())
            if bright > LIT >= before:
                found.append(float(frame.pts * frame.time_base))
            before = bright
    return found


def cpu() -> float:
    """CPU seconds of this process and its threads."""
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def measure(folder: Path, screen: str, plan: CuePlan, loaded: bool) -> bool:
    """Make one video and print what it is; whether every bound is kept."""
    sounds = []

    def keep(*args: object, **kwargs: object) -> object:
        sounds.append(finished(*args, **kwargs))
        return sounds[-1]

    cue_video.finished = keep
    material = load_source(folder)
    track = material.song()
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "video.mp4"
        wall, used = time.perf_counter(), cpu()
        made = cue_video.write_cue_video(
            *(material, track, path, plan, SpeechEngine(), StageFrames), screen=screen
        )
        wall, used = time.perf_counter() - wall, cpu() - used
        size, found = path.stat().st_size / 1e6, flashes(path)
    cue_video.finished = finished
    expected = []
    for one, (_, music) in zip(plan_stretches(material, plan), sounds[0].starts, strict=True):
        flashed = [t for t in material.sheet.flashes if one.start <= t < one.end]
        expected += [music + (t - one.start) / one.tempo for t in flashed]
    beside = [RATE * min((abs(t - f) for f in found), default=99.0) for t in expected]
    speed = made.length / (used / 2 if loaded else wall)
    heavy = 90 * size / made.length
    worst = max(beside, default=0.0)
    print(
        f"{folder.name[:24]:24} {screen:9} {made.length:7.1f} s {made.length / wall:5.1f} x wall "
        f"{2 * made.length / used:5.1f} x CPU of two, {size:6.2f} MB, {heavy:5.2f} MB / 90 s, "
        f"{len(found)} flashes for {len(expected)} hits, at most {worst:.2f} frames"
    )
    fine = worst <= MOST_FRAMES and len(found) == len(expected)
    return speed >= LEAST_SPEED and heavy <= MOST_MEGABYTES and fine


def main(arguments: list[str]) -> int:
    """Measure and print; 1 when a bound is broken."""
    loaded = "--loaded" in arguments
    folders = [Path(a) for a in arguments if not a.startswith("-")] or [DEMO]
    fine = True
    for folder in folders:
        for screen in cue_video.SCREENS:
            fine &= measure(folder, screen, CuePlan(), loaded)
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
