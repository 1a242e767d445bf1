"""Slow music around its attacks, this program's stretch beside its bare engine, on real music.

    python -m tests.bench.attacks [--songs FOLDER] [--tempos 0.5 0.75] [--pictures FOLDER]

Twelve seconds, from 30 s on, of every song under FOLDER (one a line in `--only NAME …` narrows it
down), besides drums made here, tones under drums made here, and the demo's song. A row each:

peak     highest sample against the source's (dB)
hole     5 % of hits have a deeper dip after them, in the low / mid / high band, against the lower
         of the source at its own speed and at the tempo (dB); before: 5 % have a louder pre-echo
held     5 % of tones held through a hit dip deeper than in the source (dB); swell: 5 % rise higher
soft     how much of the rise of soft attacks is lost (dB), median and 10 %
chunks   level of 50 ms in chunks of 3 s against the whole (dB), 95 %; attacks moved (ms), 95 %
wrap     level at a loop's wrap 9 ms before a hit, against that of its two ends (dB), worst
loud     whole level against the source's (dB)

Bounds, exit status 1 when broken: peak ≤ 0.3 dB; attacks of chunks and whole the same.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from unittest import mock

import numpy as np
from PIL import Image, ImageDraw

from rehearse.music.decode import load_track
from rehearse.music.track import Track
from rehearse.playback import stretch_chunks
from rehearse.playback.attacks import Attacks, attacks_of, find_attacks
from rehearse.playback.loop_pass import LoopPass
from rehearse.playback.segment import Segment
from rehearse.playback.stretch import stretch
from tests.bench.stretch import DEMO, RATE, Stretch, bare
from tests.helpers import attack_measures as measures
from tests.helpers import stretch_measures
from tests.helpers.playback_tools import made

SECONDS, FROM = 12, 30
ENDINGS = {".ogg", ".opus", ".wav", ".flac", ".mp3", ".m4a"}


def main() -> None:
    """Print a row for each piece, tempo and stretch; exit with 1 when a bound is broken."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--songs", type=Path)
    parser.add_argument("--only", nargs="*", default=[])
    parser.add_argument("--tempos", type=float, nargs="*", default=[0.5])
    parser.add_argument("--pictures", type=Path)
    options = parser.parse_args()
    broken = []
    for name, track in music(options.songs, options.only):
        known = attacks_of(track.samples, track.sample_rate)
        if not same_in_parts(track, known):
            broken.append(f"BROKEN {name}: attacks of parts differ from those of the whole")
        for tempo in options.tempos:
            for way, function in (("engine", bare), ("rehearse", stretch)):
                slow = function(track.samples, track.sample_rate, tempo)
                over = measures.peak_over(track.samples, slow)
                told = row(track, known, slow, function, tempo)
                print(f"{name[:18]:18} {tempo} {way:8} peak {over:+5.2f}  {told}", flush=True)
                if function is stretch and over > 0.3:
                    broken.append(f"BROKEN {name} at {tempo}: peak {over:.2f} dB, bound 0.3")
            if options.pictures:
                options.pictures.mkdir(parents=True, exist_ok=True)
                picture(track, known, tempo).save(options.pictures / f"{name}-{tempo}.png")
    print(*broken or ["every bound holds"], sep="\n")
    sys.exit(bool(broken))


def music(folder: Path | None, only: list[str]) -> Iterator[tuple[str, Track]]:
    """Made pieces, the demo's song, and songs of a folder."""
    yield "made drums", made(stretch_measures.drums(1, SECONDS)[0])
    yield "made tones", made(tones())
    paths = [DEMO / "track.ogg"]
    if folder is not None:
        found = [path for path in folder.rglob("*") if path.suffix in ENDINGS]
        paths += sorted(p for p in found if not only or any(word in str(p) for word in only))
    for path in paths:
        track = load_track(path)
        part = track.samples[FROM * track.sample_rate :][: SECONDS * track.sample_rate]
        if len(part) == SECONDS * track.sample_rate:
            yield path.stem, made(part.copy(), track.sample_rate)


def tones() -> np.ndarray:
    """Seven held tones under kicks and snares."""
    rng = np.random.default_rng(3)
    seconds = np.arange(SECONDS * RATE) / RATE
    sound = np.zeros((len(seconds), 2))
    for k, f in enumerate((110.0, 220.0, 330.3, 523.25, 987.8, 1760.0, 2793.8)):
        sound += 0.03 * np.sin(2 * np.pi * f * seconds + k)[:, None] * [np.cos(k), np.sin(k)]
    q = np.arange(round(0.18 * RATE)) / RATE
    kick = 0.6 * np.sin(2 * np.pi * (50 * q + 3 * (1 - np.exp(-q / 0.03)))) * np.exp(-q / 0.036)
    for turn, start in enumerate(range(RATE // 2, len(seconds) - RATE, RATE // 2)):
        noise = rng.standard_normal(len(q))
        snare = (0.3 * noise + 0.25 * np.sin(2 * np.pi * 185 * q)) * np.exp(-q / 0.02)
        struck = snare if turn % 2 else kick + 0.3 * noise * np.exp(-q / 0.0009)
        sound[start : start + len(q)] += 0.7 * struck[:, None]
    return 0.8 * sound


def same_in_parts(track: Track, known: Attacks) -> bool:
    """Whether parts of a track have the attacks of the whole."""
    ends = [*range(0, track.frames, round(2.7 * track.sample_rate)), track.frames]
    parts = [find_attacks(track.samples, track.sample_rate, a, b) for a, b in pairwise(ends)]
    return np.array_equal(np.concatenate([p.frames for p in parts]), known.frames)


def row(track: Track, known: Attacks, slow: np.ndarray, function: Stretch, tempo: float) -> str:
    """The other figures of one piece."""
    about = (track.samples, slow)
    rest = (track.sample_rate, tempo)
    sharp, soft = known.frames[~known.soft], known.frames[known.soft]
    bands = {band: measures.around(*about, sharp, *rest, band) for band in measures.BANDS}
    holes = "/".join(f"{_low(each['hole']):.1f}" for each in bands.values())
    befores = "/".join(f"{_high(each['before']):.1f}" for each in bands.values())
    dips, swells = measures.held(*about, sharp, *rest)
    rises = measures.soft_rise(*about, soft, *rest)
    levels, moved = chunks(track, sharp, function, tempo)
    powers = [10 * np.log10((np.square(sound, dtype=float)).mean()) for sound in about]
    return (
        f"hole {holes} before {befores}  held({len(dips)}) {_low(dips):.1f} "
        f"swell {_high(swells):.1f}  soft({len(rises)}) {_at(rises, 50):.1f} {_at(rises, 10):.1f}  "
        f"chunks {levels:.2f} dB {moved:.2f} ms  wrap {wrap(track, sharp, function, tempo):.1f}  "
        f"loud {powers[1] - powers[0]:+.2f}"
    )


def _at(values: np.ndarray, part: float) -> float:
    return float(np.percentile(values, part)) if len(values) else np.nan


def _low(values: np.ndarray) -> float:
    return _at(values, 5)


def _high(values: np.ndarray) -> float:
    return _at(values, 95)


def by(function: Stretch) -> mock._patch:
    """Pieces stretched by another function."""
    other = lambda known, audio, rate, tempo: function(audio, rate, tempo)  # noqa: E731
    return mock.patch.object(
        stretch_chunks,
        "stretch_with",
        stretch_chunks.stretch_with if function is stretch else other,
    )


def chunks(track: Track, sharp: np.ndarray, function: Stretch, tempo: float) -> tuple[float, float]:
    """How far a segment made of pieces is from the same made whole."""
    rate, samples = track.sample_rate, track.samples
    span = LoopPass.of(Segment("a", 0.0, track.duration - 0.5, tempo), rate).span
    with by(function):
        whole = stretch_chunks.render_chunk(samples, rate, stretch_chunks.whole_of(span))
        whole = stretch_chunks.whole_buffer(span, whole).read(0, span.frames)[0]
        feed = stretch_chunks.Feed(span, 0)
        chunk = stretch_chunks.opening_at(feed.next_source, rate, tempo)
        while (
            feed.add(chunk, stretch_chunks.render_chunk(samples, rate, chunk)) and not feed.complete
        ):
            chunk = stretch_chunks.chunk_at(feed.next_source, rate, tempo)
    parts = feed.buffer.read(0, span.frames)[0]
    one, other = (measures.levels(sound, rate) for sound in (whole, parts))
    high, moved, ms = [measures.envelope(s, rate, "high") for s in (whole, parts)], [], rate / 1000
    for hit in np.round(sharp[sharp < span.last] / tempo).astype(int):
        near = slice(max(0, hit - int(8 * ms)), hit + int(8 * ms))
        first, second = (np.argmax(each[near] > each[near].max() / 4) for each in high)
        moved.append(abs(int(first) - int(second)) / ms)
    return _high(np.abs(one - other)[one > one.max() - 30]), _at(np.array(moved), 95)


def wrap(track: Track, sharp: np.ndarray, function: Stretch, tempo: float) -> float:
    """The deepest of ten wraps that lie 9 ms before a hit, against the source at both its ends."""
    rate, near = track.sample_rate, int(0.11 * track.sample_rate)
    inside = sharp[(sharp > 1.3 * rate) & (sharp < track.frames - 1.5 * rate)]
    rng, deepest = np.random.default_rng(2), []
    for _ in range(30 if len(inside) > 1 else 0):
        a, b = np.sort(rng.choice(inside, 2, replace=False)) - round(0.009 * rate)
        if 0.8 * rate < b - a < 5 * rate and len(deepest) < 10:
            with by(function):
                loop = stretch_measures.looped(track, a / rate, b / rate, tempo)
            ends = np.concatenate([track.samples[b - near : b], track.samples[a : a + near]])
            deepest.append(measures.wrap_dip(loop, ends, rate, tempo)[1])
    return min(deepest, default=np.nan)


def picture(track: Track, known: Attacks, tempo: float, shown: int = 6) -> Image.Image:
    """Envelopes (dB, 60 dB high) about six attacks, low, mid and high from the top down: source at
    its own speed grey, the bare engine blue, this program's orange; 120 ms to each side."""
    rate, wide, tall = track.sample_rate, 300, 120
    canvas = Image.new("RGB", (shown * wide, 3 * tall), "white")
    draw = ImageDraw.Draw(canvas)
    sounds = [track.samples, *(f(track.samples, rate, tempo) for f in (bare, stretch))]
    fit = (known.frames > rate) & (known.frames < track.frames - rate)
    chosen = known.frames[fit][:: max(1, int(fit.sum()) // shown)][:shown]
    steps = np.linspace(-0.12, 0.12, wide - 10)
    for line, band in enumerate(measures.BANDS):
        curves = [10 * np.log10(measures.envelope(s, rate, band) + 1e-12) for s in sounds]
        for column, hit in enumerate(chosen):
            top = max(
                c[round(hit / t) :][: rate // 20].max()
                for c, t in zip(curves, (1, tempo, tempo), strict=True)
            )
            for curve, at, colour in zip(
                curves, (hit, hit / tempo, hit / tempo), ("gray", "blue", "darkorange"), strict=True
            ):
                place = np.clip(round(at) + steps * rate, 0, len(curve) - 1).astype(int)
                y = (line + np.clip((top - curve[place]) / 60, 0, 1)) * tall
                draw.line(list(zip(column * wide + np.arange(len(y)), y, strict=True)), colour, 1)
            middle = column * wide + len(steps) // 2
            draw.line([(middle, line * tall), (middle, (line + 1) * tall)], "lightgray")
    return canvas


if __name__ == "__main__":
    main()
