"""How long the routine's work takes: 200 poses on a map of ten minutes. Run it from the root.

python -m tests.bench.routine
"""

from __future__ import annotations

import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from rehearse.music.beatmap import Accent, BeatMap, Build, Stretch
from rehearse.music.position import Count, Length
from rehearse.routine import edits
from rehearse.routine.checks import check, load_thresholds
from rehearse.routine.compare import compare
from rehearse.routine.folder import open_folder, save_folder, save_routine
from rehearse.routine.model import Routine
from rehearse.routine.poses import load_catalogue
from rehearse.routine.rules import load_rules
from rehearse.routine.suggest import suggest
from rehearse.routine.versions import thin

POSES, MINUTES, TIMES = 200, 10, 9


def song() -> BeatMap:
    """Ten minutes at 128 BPM with an accent every four counts."""
    duration = MINUTES * 60.0
    beats = tuple(float(t) for t in np.round(np.arange(4.0, duration - 4, 60 / 128), 6))
    return BeatMap(
        "bench",
        duration,
        beats,
        tuple(k % 4 + 1 for k in range(len(beats))),
        (Stretch(0.0, 4.0),),
        accents=tuple(Accent(t, 0.6) for t in beats[::4]),
        builds=tuple(Build(t, t + 4, t + 4) for t in beats[64::128]),
        quiets=(Stretch(200.0, 210.0),),
    )


def routine(beatmap: BeatMap) -> Routine:
    """Two hundred poses, two an eight."""
    names = [p.name for p in load_catalogue().poses]
    made = Routine("Bench", "track.ogg", rules="ifbb-amateur")
    for k in range(POSES):
        hit = Count(1 + k // 2, 1 + 4 * (k % 2))
        made = edits.place(
            made, beatmap, names[k % len(names)], hit, hold=Length(2), pose_id=f"{k:08x}"
        )
    return made


def median_ms(work: Callable[[], object]) -> float:
    """Milliseconds, the median of a few runs."""
    spent = []
    for _ in range(TIMES):
        start = time.perf_counter()
        work()
        spent.append((time.perf_counter() - start) * 1000)
    return statistics.median(spent)


def main() -> None:
    """Print the table; the first load of the pose catalogue is told apart."""
    start = time.perf_counter()
    catalogue = load_catalogue()
    print(f"{'first load of the pose catalogue':<40}{(time.perf_counter() - start) * 1e3:8.1f} ms")
    beatmap = song()
    made = routine(beatmap)
    moved = edits.shift_after(made, beatmap, Count(20, 1), Length(1))
    rules, limits = load_rules("ifbb-amateur"), load_thresholds()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        save_folder(folder, made, beatmap)
        rows = {
            "open the folder (≤ 150 ms)": lambda: open_folder(folder),
            "save the routine": lambda: save_routine(folder, made, beatmap),
            "move one pose": lambda: edits.move_by(made, beatmap, "00000064", Length(1)),
            "shift what follows": lambda: edits.shift_after(made, beatmap, Count(2, 1), Length(1)),
            "all checks": lambda: check(made, beatmap, catalogue, rules, limits),
            "suggestions": lambda: suggest(Routine("B", "t.ogg"), beatmap, catalogue),
            "compare": lambda: compare(made, moved, beatmap),
        }
        for label, work in rows.items():
            print(f"{label:<40}{median_ms(work):8.1f} ms")
        (folder / "versions").mkdir(exist_ok=True)
        now = datetime.now(UTC)
        for k in range(1800):
            stamp = (now - timedelta(seconds=2 * k)).strftime("%Y-%m-%dT%H%M%S.%fZ")
            (folder / "versions" / f"routine {stamp}.yaml").touch()
        print(f"{'thin out 1800 versions':<40}{median_ms(lambda: thin(folder)):8.1f} ms")


if __name__ == "__main__":
    main()
