"""Accents against known hits of made songs, and what evidence those of real pieces have.

    python -m tests.bench.accents [--songs FOLDER …]

Made songs (`tests/music/made.py`, seeds 40 to 51, on which nothing was set): how many of their hits
are medium or strong, and how many of the strongest accents are such hits. Of each piece: accents by
grade, how many a stage part of 75 s offers at least, and of every strong accent its rise in dB
and the rank of its flux among all onsets; of the ten greatest fluxes and rises, their grades.
Exit status 1 when a bound is broken.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

from rehearse.music.analysis.accents import onset_peaks
from rehearse.music.analysis.analyse import analyse
from rehearse.music.analysis.hits import _rise
from rehearse.music.analysis.spectrum import FPS, listen, smooth
from rehearse.music.beatmap import BeatMap
from rehearse.music.decode import load_track
from rehearse.music.track import Track, hash_samples
from tests.music import measure
from tests.music.made import make_song

SEEDS, RECALL, LEADING = range(40, 52), 0.9, 0.75
STAGE = 75.0


def known() -> bool:
    """Hits of made songs; whether the bounds hold."""
    marked, leading = measure.Tally(), measure.Tally()
    for seed in SEEDS:
        samples, rate, truth = make_song(seed)
        beatmap = analyse(Track(samples, rate, hash_samples(samples, rate)))
        marked += measure.events(truth.accents, [a.time for a in beatmap.marked])
        ranked = sorted(beatmap.accents, key=lambda a: -a.strength)[: len(truth.accents)]
        leading += measure.events(truth.accents, sorted(a.time for a in ranked))
    print(f"known hits marked {marked.recall:.3f} (≥ {RECALL}), leading {leading.f:.3f}")
    return marked.recall >= RECALL and leading.f >= LEADING


def piece(path: Path) -> None:
    """The table of one piece."""
    track = load_track(path)
    beatmap, curves = analyse(track), listen(track.samples, track.sample_rate)
    peaks = onset_peaks(curves)
    times, flux = peaks / FPS, curves.flux[peaks]
    rise = _rise(smooth(curves.level, 0.02), peaks)
    rank = np.argsort(np.argsort(-flux)) + 1
    grades = {
        g: [a for a in beatmap.accents if a.grade == g] for g in ("strong", "medium", "light")
    }
    counts = ", ".join(f"{len(found)} {grade}" for grade, found in grades.items())
    print(f"{path.name} {track.duration:.0f} s: {counts}; 75 s offer {offered(beatmap)} or more")
    for accent in grades["strong"][:12]:
        k = int(np.abs(times - accent.time).argmin())
        print(
            f"   {accent.time:7.2f} s  rise {rise[k]:5.1f} dB  flux rank {rank[k]} of {len(peaks)}"
        )
    for name, values in (("flux", flux), ("rise", rise)):
        best = np.argsort(-values)[:10]
        near = [[a.grade for a in beatmap.accents if abs(a.time - times[k]) < 0.06] for k in best]
        print(f"   greatest {name}: " + ", ".join(g[0] if g else "–" for g in near))


def offered(beatmap: BeatMap) -> int:
    """Fewest medium and strong accents in any 75 s of the song."""
    times = np.array([a.time for a in beatmap.marked])
    starts = np.arange(0.0, max(beatmap.duration - STAGE, 0.0) + 0.1, 5.0)
    return min(int(((times >= s) & (times < s + STAGE)).sum()) for s in starts)


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--songs", nargs="*", type=Path, default=[])
    given = parser.parse_args()
    held = known()
    for path in given.songs:
        piece(path)
    return 0 if held else 1


if __name__ == "__main__":
    sys.exit(main())
