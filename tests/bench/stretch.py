"""Slow music measured, this program's stretch beside librosa's in the same run.

    python tests/bench/stretch.py [--rates 0.5 0.6 0.75 0.9] [--scorer FILE] [--long]

Every figure compares the stretched sound with the same measure on the input, so that the
measure's own bias cancels. With `--scorer FILE` (a module with `timing`, `pitch`, `stereo`) its
figures are printed too. `--long` adds the exact length after ten minutes. Other stretching
libraries are not needed; librosa always is there.
"""

from __future__ import annotations

import argparse
import importlib.util
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "helpers")]

from playback_tools import RATE, frequency, made, onsets  # noqa: E402

from rehearse.playback.passage import Passage  # noqa: E402
from rehearse.playback.render import render  # noqa: E402
from rehearse.playback.stretch import stretch  # noqa: E402

Stretch = Callable[[np.ndarray, int, float], np.ndarray]
COLUMNS = (
    "onset med", "jit p95", "jit max", "drift/s", "pre-echo", "attack", "cents", "spurious",
    "side/mid", "mono side", "x real",
)  # fmt: skip


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rates", type=float, nargs="*", default=[0.5, 0.6, 0.75, 0.9])
    parser.add_argument("--scorer", type=Path)
    parser.add_argument("--long", action="store_true")
    options = parser.parse_args()
    print(f"{'tempo':5} {'library':9}" + "".join(f"{name:>10}" for name in COLUMNS))
    for rate in options.rates:
        for name, function in (("rehearse", stretch), ("librosa", by_librosa)):
            values = figures(function, rate)
            print(f"{rate:5} {name:9}" + "".join(f"{value:10.2f}" for value in values), flush=True)
    for rate in (*options.rates, 1.0):
        print(f"seam at {rate}: " + seam(rate), flush=True)
    if options.long:
        for rate in (0.5, 0.7, 0.9):
            noise = np.random.default_rng(0).standard_normal((600 * RATE, 2)).astype(np.float32)
            error = len(stretch(noise * np.float32(0.1), RATE, rate)) - round(len(noise) / rate)
            print(f"length after 600 s at {rate}: {error} frames off")
    if options.scorer:
        scored(options.scorer, options.rates)


def by_librosa(audio: np.ndarray, rate: int, tempo: float) -> np.ndarray:
    """librosa's phase vocoder, cut or filled to the exact length."""
    import librosa

    result = librosa.effects.time_stretch(np.ascontiguousarray(audio.T), rate=tempo).T
    frames = round(len(audio) / tempo)
    return np.concatenate([result, np.zeros((max(0, frames - len(result)), 2))])[:frames]


def drums(seconds: float = 24.0, seed: int = 3) -> tuple[np.ndarray, np.ndarray]:
    """Kick, snare and hat over a panned chord; audio (frames, 2) and onset times."""
    rng = np.random.default_rng(seed)
    time_ = np.arange(int(seconds * RATE)) / RATE
    audio = np.zeros((len(time_), 2))
    for k, f in enumerate((110.0, 138.6, 164.8, 220.0)):
        tone = sum(np.sin(2 * np.pi * f * h * time_ + rng.uniform(0, 6)) / h for h in range(1, 6))
        angle = (k / 3) * np.pi / 2
        audio += 0.03 * tone[:, None] * [np.cos(angle), np.sin(angle)]
    times = 0.5 + 0.3 * np.arange(int((seconds - 1) / 0.3))
    for turn, at in enumerate(times):
        start = round(at * RATE)
        kind = ["kick", "hat", "snare", "hat"][turn % 4]
        length = int({"kick": 0.18, "snare": 0.15, "hat": 0.06}[kind] * RATE)
        q = np.arange(length) / RATE
        noise = rng.standard_normal(length)
        if kind == "kick":
            sound = 0.6 * np.sin(2 * np.pi * (50 * q + 3 * (1 - np.exp(-q / 0.03))))
            sound = sound * np.exp(-q / 0.04) + 0.5 * noise * np.exp(-q / 0.001)
        elif kind == "snare":
            sound = 0.35 * noise * np.exp(-q / 0.02) + 0.25 * np.sin(2 * np.pi * 185 * q) * np.exp(
                -q / 0.02
            )
        else:
            sound = 0.2 * np.diff(noise, prepend=0.0) * np.exp(-q / 0.008)
        audio[start : start + length] += sound[:, None] * (0.7, 0.8)
    return (0.7 * audio / np.abs(audio).max()).astype(np.float32), np.round(times * RATE) / RATE


def figures(function: Stretch, tempo: float) -> list[float]:
    """One row of the table."""
    audio, times = drums()
    cpu, begin = time.process_time(), time.perf_counter()
    slow = np.asarray(function(audio, RATE, tempo), np.float64)
    used = min(time.process_time() - cpu, time.perf_counter() - begin)
    here, there = onsets(audio, least=0.003), onsets(slow, least=0.003)
    error = np.array([1000 * (_nearest(there, t / tempo) - t / tempo) for t in here])
    jitter = np.abs(error - np.median(error))
    before, attack = echo(slow, times / tempo)
    cents, spurious = pitch(function, tempo)
    side, mono = picture(function, audio, slow, tempo)
    return [
        float(np.median(error)),
        float(np.percentile(jitter, 95)),
        float(jitter.max()),
        float(np.polyfit(here / tempo, error, 1)[0]),
        before,
        attack,
        cents,
        spurious,
        side,
        mono,
        len(slow) / RATE / used,
    ]


def _nearest(values: np.ndarray, wanted: float) -> float:
    return float(values[np.argmin(np.abs(values - wanted))])


def echo(audio: np.ndarray, times: np.ndarray) -> tuple[float, float]:
    """Median pre-echo (dB, power 50..5 ms before the attack's peak against around it), and the
    share of an attack's energy within 20 ms."""
    power = np.convolve(np.diff(audio.mean(axis=1), 2) ** 2, np.hanning(65) / 32, "same")
    befores, shares = [], []
    for at in times[1:-1]:
        start = int((at - 0.02) * RATE)
        peak = start + int(np.argmax(power[start : start + int(0.06 * RATE)]))

        def part(a: float, b: float, peak: int = peak) -> np.ndarray:
            return power[peak + int(a * RATE) : peak + int(b * RATE)]

        befores.append(
            10 * np.log10((part(-0.05, -0.005).mean() + 1e-14) / part(-0.005, 0.01).mean())
        )
        shares.append(part(-0.005, 0.015).sum() / part(-0.05, 0.06).sum())
    return float(np.median(befores)), float(np.median(shares))


def pitch(function: Stretch, tempo: float) -> tuple[float, float]:
    """Largest error in cents of single tones; energy beside a tone against it (dB)."""
    time_ = np.arange(6 * RATE) / RATE
    cents, spurious = [], []
    for f in (82.41, 440.0, 997.0, 3000.7):
        tone = np.repeat((0.3 * np.sin(2 * np.pi * f * time_))[:, None], 2, 1).astype(np.float32)
        wave = np.asarray(function(tone, RATE, tempo))[2 * RATE : 5 * RATE, 0]
        cents.append(1200 * np.log2(frequency(wave) / f))
        spectrum = np.abs(np.fft.rfft(wave * np.blackman(len(wave)))) ** 2
        axis = np.fft.rfftfreq(len(wave), 1 / RATE)
        inside = np.abs(axis - f) < 4
        spurious.append(10 * np.log10(spectrum[~inside].sum() / spectrum[inside].sum()))
    return float(np.abs(cents).max()), float(np.max(spurious))


def picture(
    function: Stretch, audio: np.ndarray, slow: np.ndarray, tempo: float
) -> tuple[float, float]:
    """Change of side against mid (dB), and side against mid of a mono input (dB)."""

    def width(sound: np.ndarray) -> float:
        side, mid = np.diff(sound, axis=1), sound.sum(axis=1)
        return float(10 * np.log10(((side**2).mean() + 1e-20) / (mid**2).mean()))

    mono = np.repeat(audio[: 4 * RATE, :1], 2, axis=1)
    return width(slow) - width(audio), width(np.asarray(function(mono, RATE, tempo)))


def seam(tempo: float) -> str:
    """The wrap of loops: high-frequency power at the wrap against the 99th percentile near by.

    Off the beat nothing else sounds there. On a hit the loop's own attack does, so it is compared
    with the same attack in the song played on.
    """
    audio, times = drums()
    track = made(audio)
    quiet, hits = [], []
    for first, last in ((8, 24), (12, 20), (16, 48)):
        for shift in (0.12, 0.0):
            a, b = times[first] + shift, times[last] + shift
            loop = render(track, [Passage("loop", a, b, tempo)] * 3)
            wrap = round(loop.starts[1] * RATE)
            at_wrap, usual = _power(loop.samples, wrap)
            if shift:
                quiet.append(10 * np.log10(at_wrap / usual))
            else:
                whole = render(track, [Passage("on", times[first - 4], b, tempo)])
                place = round(whole.starts[0] * RATE + (a - times[first - 4]) / tempo * RATE)
                hits.append(10 * np.log10(at_wrap / _power(whole.samples, place)[0]))
    return (
        f"off the beat {max(quiet):.1f} dB against the 99th percentile near by; "
        f"on a hit {max(hits, key=abs):+.1f} dB against the same hit played on"
    )


def _power(samples: np.ndarray, place: int) -> tuple[float, float]:
    high = np.convolve(np.diff(samples[:, 0], 2) ** 2, np.hanning(131) / 65, "same")
    near = high[place - int(0.4 * RATE) : place + int(0.4 * RATE)]
    return float(high[place - 66 : place + 66].max()) + 1e-14, float(np.percentile(near, 99))


def scored(path: Path, rates: list[float]) -> None:
    """The figures of a scorer outside this project."""
    spec = importlib.util.spec_from_file_location("scorer", path)
    assert spec is not None
    assert spec.loader is not None
    scorer = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(scorer)
    for rate in rates:
        for name, function in (("rehearse", stretch), ("librosa", by_librosa)):
            for which in ("drums", "drums_dense"):
                t = scorer.timing(function, which, rate)
                print(
                    f"{rate} {name:8} {which:11} median {t['err_ms']['median']:.2f} "
                    f"jitter p95 {t['jitter_ms']['p95']:.2f} max {t['jitter_ms']['max']:.2f} ms, "
                    f"pre-echo {t['preecho_out']:.1f} dB, attack {t['conc_out']:.2f}, "
                    f"length {t['len_err']}, missed {t['missed']}"
                )
            p = scorer.pitch(function, rate)
            s = scorer.stereo(function, rate, scorer.make_drums()[0], RATE)
            print(
                f"{rate} {name:8} pitch {p['max_cents']:.2f} cents, spurious "
                f"{p['spurious_db']:.1f} dB, side/mid {s['side_mid_change_db']:+.2f} dB, "
                f"mono side {s['mono_side_db']:.0f} dB",
                flush=True,
            )


if __name__ == "__main__":
    main()
