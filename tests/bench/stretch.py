"""Slow music measured: this program's stretch beside its bare engine and librosa's, in one run.

    python -m tests.bench.stretch [--tempos 0.4 0.5 0.6 0.75 0.9] [--seeds 1 2 3 4 5] [--all]
                                  [--scorer FILE]

Every figure compares the stretched sound with the same measure on the input, so that the
measure's own bias cancels. The bounds below are checked first, on drums and on dense hats, worst
of all seeds; the exit status is 1 when one is broken. `--scorer FILE` names a module with
`timing`, `pitch`, `stereo`, `make_drums`, `score_seam`; without it the file `score_stretch.py` of a
folder `shared/eval` beside the project is used, and without that this project's own measures.
`--all` adds librosa, stalls, and the wrap of loops on drums and on the demo's song, on hits and
anywhere, beside the same places played on and the same loops cut hard.

Speed is processor time, best of three, the bare engine's in turn with it: the machine may be busy.
"""

from __future__ import annotations

import argparse
import importlib.util
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

from rehearse.music.decode import load_track
from rehearse.music.mapfile import load_map
from rehearse.music.track import Track
from rehearse.playback import stretch as inner
from rehearse.playback.stretch import stretch
from rehearse.playback.stretch_chunks import StretchChunk, render_chunk, render_shared, warm_up
from rehearse.work.pool import Workers
from rehearse.work.shared import Shared
from tests.helpers import attack_measures
from tests.helpers import stretch_measures as measures
from tests.helpers.playback_tools import RATE, made

#: What must hold at every tempo and seed: name, unit, worst value allowed, whether more is worse.
MUSTS = (
    ("median", "ms", 0.3, True),
    ("p95", "ms", 0.5, True),
    ("max", "ms", 1.0, True),
    ("pre-echo", "dB", -45.0, True),
    ("attack", "", 0.98, False),
    ("missed", "", 0, True),
    ("doubled", "", 0, True),
    ("length", "frames", 0, True),
    ("peak", "dB", 0.3, True),
    ("cents", "", 0.1, True),
    ("spurious", "dB", -48.0, True),
    ("mono side", "dB", -100.0, True),
    ("speed", "x real time", 25.0, False),
)
#: The share of an attack's energy within 20 ms of it may be a little less at the slowest tempo.
SLOWEST_ATTACK = 0.975
SCORER = Path(__file__).parents[3] / "shared" / "eval" / "score_stretch.py"
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
    """Print the tables; exit with 1 when a bound is broken."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tempos", type=float, nargs="*", default=[0.4, 0.5, 0.6, 0.75, 0.9])
    parser.add_argument("--seeds", type=int, nargs="*", default=[1, 2, 3, 4, 5])
    parser.add_argument("--scorer", type=Path, default=SCORER if SCORER.exists() else None)
    parser.add_argument("--all", action="store_true")
    options = parser.parse_args()
    scorer = _module(options.scorer) if options.scorer else None
    print("measured by", options.scorer.name if scorer else "this project's own measures")
    broken = []
    for tempo in options.tempos:
        for dense in (False, True) if scorer else (False,):
            broken += check(scorer, tempo, options.seeds, dense)
    if options.all:
        tables(options.tempos, options.seeds[0], scorer)
    print(*broken or ["every bound holds"], sep="\n")
    sys.exit(bool(broken))


def tables(tempos: list[float], seed: int, scorer: Any) -> None:
    """librosa beside, lengths, stalls, the wrap of loops."""
    print(f"{'tempo':5} {'library':9}" + "".join(f"{name:>10}" for name in COLUMNS))
    for tempo in tempos:
        for name, function in (("rehearse", stretch), ("engine", bare), ("librosa", by_librosa)):
            values = figures(function, tempo, seed)
            print(f"{tempo:5} {name:9}" + "".join(f"{v:10.3f}" for v in values), flush=True)
    print("frames off after 1, 60 and 600 s:", *lengths(tempos))
    print(stalls())
    for tempo in (*tempos, 1.0):
        seams(tempo, seed, measures.click)
    if scorer:
        scored(scorer, tempos, seed)


def bare(audio: np.ndarray, rate: int, tempo: float) -> np.ndarray:
    """The library's stretch as it was used before attacks were repaired."""
    planes = inner._split(audio, tail=min(int(inner._TAIL * rate), len(audio) // 8))
    slow = inner._widened(inner.engine(planes, rate, tempo), planes)
    return inner._join(slow, round(len(audio) / tempo))


def check(scorer: Any, tempo: float, seeds: list[int], dense: bool) -> list[str]:
    """Print the worst of all seeds, the bare engine's beneath; returns the bounds broken."""
    what, broken = f"{tempo} {'dense hats' if dense else 'drums':10}", []
    costs = speeds(scorer, tempo, dense)
    for name, function, cost in (("rehearse", stretch, costs[0]), ("engine", bare, costs[1])):
        found = [must(scorer, function, tempo, seed, dense) for seed in seeds]
        steady = _steady(scorer, function, tempo)
        worst = {
            key: (max if more else min)([each[key] for each in found])
            for key, _, _, more in MUSTS
            if key in found[0]
        }
        worst |= steady | {"speed": cost}
        print(f"{what} {name:8} " + "  ".join(f"{k} {v:.4g}" for k, v in worst.items()), flush=True)
        for key, unit, bound, more in MUSTS if function is stretch else ():
            bound = SLOWEST_ATTACK if key == "attack" and tempo <= 0.4 else bound
            if worst[key] > bound if more else worst[key] < bound:
                broken.append(f"BROKEN {what} {key}: {worst[key]:.3f} {unit}, bound {bound}")
    return broken


def must(scorer: Any, function: Stretch, tempo: float, seed: int, dense: bool) -> dict[str, float]:
    """One seed's figures at attacks."""
    if scorer is None:
        audio, times = measures.drums(seed, 12.0)
        slow = np.asarray(function(audio, RATE, tempo))
        median, p95, most, _ = measures.timing(audio, slow, times, tempo)
        echo, attack = measures.echo(slow, times / tempo)
        told = {"median": abs(median), "p95": p95, "max": most, "missed": 0}
        told |= {"pre-echo": echo, "attack": attack}
    else:
        audio, times = scorer.make_drums(seed=seed, dense=dense)
        held: list[np.ndarray] = []

        def kept(*call: Any) -> np.ndarray:
            held.append(function(*call))
            return held[-1]

        t = scorer.timing(kept, (audio, times), tempo)
        slow = held[0]
        told = {
            "median": abs(t["err_ms"]["median"]),
            "p95": max(t["err_ms"]["p95"], t["jitter_ms"]["p95"]),
            "max": max(t["err_ms"]["max"], t["jitter_ms"]["max"]),
            "pre-echo": t["preecho_out"],
            "attack": t["conc_out"],
            "missed": t["missed"],
        }
    hits = np.round(times * RATE).astype(int)
    return told | {
        "doubled": attack_measures.doubled(audio, slow, hits, RATE, tempo),
        "length": abs(len(slow) - round(len(audio) / tempo)),
        "peak": attack_measures.peak_over(audio, slow),
    }


def _steady(scorer: Any, function: Stretch, tempo: float) -> dict[str, float]:
    """What does not depend on attacks: pitch, and mono that stays mono."""
    mono = np.repeat(measures.drums(1, 4.0)[0][:, :1], 2, axis=1)
    side = measures.width(np.asarray(function(mono, RATE, tempo), np.float64))
    if scorer is None:
        cents, spurious = measures.pitch(function, tempo)
    else:
        p = scorer.pitch(function, tempo)
        cents, spurious = p["max_cents"], p["spurious_db"]
    return {"cents": cents, "spurious": spurious, "mono side": side}


def speeds(scorer: Any, tempo: float, dense: bool) -> tuple[float, float]:
    """Seconds heard for one of processor time, of this program's stretch and of the bare engine."""
    audio = scorer.make_drums(seed=1, dense=dense)[0] if scorer else measures.drums(1)[0]
    best = {stretch: 0.0, bare: 0.0}
    for _ in range(3):
        for function in best:
            begin = time.process_time()
            slow = function(audio, RATE, tempo)
            used = time.process_time() - begin
            best[function] = max(best[function], len(slow) / RATE / used)
    return best[stretch], best[bare]


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
    track, chunk = made(measures.drums(1)[0]), StretchChunk("whole", RATE, 11 * RATE, 0.5)
    shared, workers = Shared(track.samples), Workers(1)
    workers.submit(warm_up).result()
    rounds = []
    for _ in range(5):
        idle = _longest(lambda began: time.perf_counter() > began + 0.3)
        job = workers.submit(render_shared, shared, RATE, chunk, 1.0)
        away = _longest(lambda _, job=job: job.done())
        here = threading.Thread(target=render_chunk, args=(track.samples, RATE, chunk))
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
