"""Slow music measured, this program's stretch beside librosa's in the same run.

    python -m tests.bench.stretch [--tempos 0.5 0.6 0.75 0.9] [--seed 3] [--scorer FILE]

Every figure compares the stretched sound with the same measure on the input, so that the
measure's own bias cancels. The wrap of loops is measured on drums and on the demo's song, on hits
and anywhere, beside the same places played on and the same loops cut hard. With `--scorer FILE` (a
module with `timing`, `pitch`, `stereo`, `score_seam`) its figures are printed too.
"""

from __future__ import annotations

import argparse
import importlib.util
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

from rehearse.music.decode import load_track
from rehearse.music.mapfile import load_map
from rehearse.music.track import Track
from rehearse.playback.pieces import Piece, render_piece, render_shared, warm_up
from rehearse.playback.stretch import stretch
from rehearse.work.pool import Workers
from rehearse.work.shared import Shared
from tests.helpers import stretch_measures as measures
from tests.helpers.playback_tools import RATE, made

Stretch = Callable[[np.ndarray, int, float], np.ndarray]
DEMO = Path(__file__).parents[2] / "demo" / "copper-lights"
COLUMNS = (
    "onset med", "jit p95", "jit max", "drift/s", "pre-echo", "attack", "cents", "spurious",
    "side/mid", "mono side", "x real",
)  # fmt: skip
LOOPS = {
    "loop": measures.looped,
    "played on": measures.played_on,
    "cut hard": measures.cut_hard,
}


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tempos", type=float, nargs="*", default=[0.5, 0.6, 0.75, 0.9])
    parser.add_argument("--seed", type=int, default=3)
    parser.add_argument("--scorer", type=Path)
    options = parser.parse_args()
    print(f"{'tempo':5} {'library':9}" + "".join(f"{name:>10}" for name in COLUMNS))
    for tempo in options.tempos:
        for name, function in (("rehearse", stretch), ("librosa", by_librosa)):
            values = figures(function, tempo, options.seed)
            print(f"{tempo:5} {name:9}" + "".join(f"{v:10.3f}" for v in values), flush=True)
    print("frames off after 1, 60 and 600 s:", *lengths(options.tempos))
    print(stalls())
    scorer = _module(options.scorer) if options.scorer else None
    for tempo in (*options.tempos, 1.0):
        seams(tempo, options.seed, measures.click)
    if scorer:
        scored(scorer, options.tempos, options.seed)


def by_librosa(audio: np.ndarray, rate: int, tempo: float) -> np.ndarray:
    """librosa's phase vocoder, cut or filled to the exact length."""
    import librosa

    result = librosa.effects.time_stretch(np.ascontiguousarray(audio.T), rate=tempo).T
    frames = round(len(audio) / tempo)
    return np.concatenate([result, np.zeros((max(0, frames - len(result)), 2))])[:frames]


def figures(function: Stretch, tempo: float, seed: int) -> list[float]:
    """One row of the table."""
    audio, times = measures.drums(seed)
    cpu, begin = time.process_time(), time.perf_counter()
    slow = np.asarray(function(audio, RATE, tempo), np.float64)
    used = min(time.process_time() - cpu, time.perf_counter() - begin)
    mono = np.repeat(audio[: 4 * RATE, :1], 2, axis=1)
    return [
        *measures.timing(audio, slow, times, tempo),
        *measures.echo(slow, times / tempo),
        *measures.pitch(function, tempo),
        measures.width(slow) - measures.width(audio),
        measures.width(np.asarray(function(mono, RATE, tempo))),
        len(slow) / RATE / used,
    ]


def lengths(tempos: list[float]) -> Iterator[int]:
    """Frames by which lengths are wrong, for each tempo and 1, 60 and 600 s."""
    for seconds in (1, 60, 600):
        noise = np.random.default_rng(0).standard_normal((seconds * RATE, 1)).astype(np.float32)
        for tempo in tempos:
            yield len(stretch(noise * np.float32(0.1), RATE, tempo)) - round(len(noise) / tempo)


def stalls() -> str:
    """How long a loop in this process is held up while 10 s are stretched here or in a worker:
    the median of five rounds, because other programs hold it up as well."""
    track, piece = made(measures.drums(1)[0]), Piece("whole", RATE, 11 * RATE, 0.5)
    shared, workers = Shared(track.samples), Workers(1)
    workers.submit(warm_up).result()
    rounds = []
    for _ in range(5):
        idle = _longest(lambda began: time.perf_counter() > began + 0.3)
        job = workers.submit(render_shared, shared, RATE, piece, 1.0)
        away = _longest(lambda _, job=job: job.done())
        here = threading.Thread(target=render_piece, args=(track.samples, RATE, piece))
        here.start()
        rounds.append((idle, away, _longest(lambda _, here=here: not here.is_alive())))
    workers.close()
    idle, away, inside = np.median(rounds, axis=0)
    return (
        "longest stall of the calling process (ms): "
        f"idle {idle:.1f}, stretched in a worker {away:.1f}, in the process itself {inside:.0f}"
    )


def _longest(over: Callable[[float], bool]) -> float:
    """Milliseconds by which a wait of 1 ms was exceeded at most, until `over`."""
    worst, began = 0.0, time.perf_counter()
    while not over(began):
        before = time.perf_counter()
        time.sleep(0.001)
        worst = max(worst, time.perf_counter() - before - 0.001)
    return 1000 * worst


def places(seed: int) -> Iterator[tuple[str, Track, list[tuple[float, float]]]]:
    """Loops (start, end) on hits and anywhere, on drums and on the demo's song."""
    rng = np.random.default_rng(seed)
    audio, hits = measures.drums(seed)
    song, beatmap = load_track(DEMO / "track.ogg"), load_map(DEMO / "beats.yaml")
    beats = np.array(beatmap.beats)
    for name, track, times in (("drums", made(audio), hits), ("song", song, beats)):
        first = rng.integers(5, len(times) - 20, 16)
        loops = [
            (times[i], times[i + n]) for i, n in zip(first, rng.choice([4, 8, 16], 16), strict=True)
        ]
        yield f"{name}, on hits", track, loops
        moved = [(a + rng.uniform(0, 0.25), b + rng.uniform(0, 0.25)) for a, b in loops]
        yield f"{name}, anywhere", track, moved


def seams(
    tempo: float, seed: int, measure: Callable[[np.ndarray, int], tuple[float, float]]
) -> None:
    """Medians of 16 loops of each sort."""
    for name, track, loops in places(seed):
        told = []
        for way, function in LOOPS.items():
            found = [measure(function(track, a, b, tempo), track.sample_rate) for a, b in loops]
            high, step = np.median(found, axis=0)
            told.append(f"{way} {high:6.1f} dB, step {step:5.2f}")
        print(f"wrap at {tempo:4} {name:16} {' | '.join(told)}", flush=True)


def _module(path: Path) -> Any:
    spec = importlib.util.spec_from_file_location("scorer", path)
    assert spec is not None
    assert spec.loader is not None
    scorer = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(scorer)
    return scorer


def scored(scorer: Any, tempos: list[float], seed: int) -> None:
    """The figures of a scorer outside this project."""
    for tempo in tempos:
        for name, function in (("rehearse", stretch), ("librosa", by_librosa)):
            for which in ("drums", "drums_dense"):
                t = scorer.timing(function, which, tempo, seed=seed)
                print(
                    f"{tempo} {name:8} {which:11} median {t['err_ms']['median']:.2f} "
                    f"jitter p95 {t['jitter_ms']['p95']:.2f} max {t['jitter_ms']['max']:.2f} ms, "
                    f"pre-echo {t['preecho_out']:.1f} dB, attack {t['conc_out']:.2f}, "
                    f"length {t['len_err']}, missed {t['missed']}"
                )
            p = scorer.pitch(function, tempo)
            s = scorer.stereo(function, tempo, scorer.make_drums(seed=seed)[0], RATE)
            print(
                f"{tempo} {name:8} pitch {p['max_cents']:.2f} cents, spurious "
                f"{p['spurious_db']:.1f} dB, side/mid {s['side_mid_change_db']:+.2f} dB, "
                f"mono side {s['mono_side_db']:.0f} dB",
                flush=True,
            )

    def wrap(loop: np.ndarray, rate: int) -> tuple[float, float]:
        told = scorer.score_seam(loop, rate)
        return told["click_vs_p99_db"], told["step_ratio"]

    for tempo in (*tempos, 1.0):
        seams(tempo, seed, wrap)


if __name__ == "__main__":
    main()
