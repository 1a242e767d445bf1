"""Whether counts keep to one octave of tempo over whole songs that nobody here made.

python -m tests.bench.octaves SONG …

Of each song: counts a minute of the path as the bar-pointer model likes it best and as it is taken,
where they differ the tempos it went through, and how strong the onsets on the counts are against
those half-way between, both against the song's mean. Exit status 1 where more than 5 % of the songs
(and more than one) still change their octave, or where onsets on the counts taken are weaker by a
fifth than on those of the path.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

from rehearse.music.analysis.beatpath import Beats, even_steps, follow
from rehearse.music.analysis.features import FPS, SHORT_BANDS, band_energies
from rehearse.music.analysis.network import activation_of
from rehearse.music.analysis.paces import FEWEST, even_pace, in_one_octave
from rehearse.music.decode import load_track

#: Share of songs that may still change, and of the onsets' strength that must be left.
CHANGING, LEFT = 0.05, 0.8


def tempo(beats: Beats) -> float:
    """Counts a minute."""
    return float(60.0 / np.median(np.diff(beats.times)))


def strength(energies: np.ndarray, times: np.ndarray) -> float:
    """Rise of the bands within a frame of `times`, against its mean over the song."""
    short = energies[:, :SHORT_BANDS]
    rise = np.pad(np.maximum(0.0, short[2:] - short[:-2]).mean(axis=1), 1)
    at = np.clip(np.round(times * FPS).astype(int), 1, len(rise) - 2)
    near = np.max([rise[at + k] for k in (-1, 0, 1)], axis=0)
    return float(near.mean() / rise.mean())


def measure(path: Path) -> tuple[bool, bool]:
    """Whether a song still changes, and whether its counts lie worse than before."""
    track = load_track(path)
    energies = band_energies(track.samples, track.sample_rate)
    found = follow(activation_of(energies))
    if len(found.times) < FEWEST:
        print(f"{path.stem:28s} no counts")
        return False, False
    taken = in_one_octave(found)
    print(f"{path.stem:28s} {tempo(found):6.1f} {tempo(taken):6.1f}", end="")
    if taken is found:
        still = even_pace(found) is not None
        print("  changes its octave" if still else "")
        return still, False
    through = 60.0 / even_steps(found)
    some = " ".join(f"{t:.0f}" for t in through[:: max(1, len(through) // 12)])
    on = [strength(energies, beats.times) for beats in (found, taken)]
    between = strength(energies, (taken.times[1:] + taken.times[:-1]) / 2)
    print(f"  was {some}; onsets {on[0]:.2f}, now {on[1]:.2f}, half-way {between:.2f}")
    return even_pace(taken) is not None, on[1] < LEFT * on[0]


def main() -> int:
    """Measure them all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("songs", nargs="+", type=Path)
    rows = [measure(path) for path in parser.parse_args().songs]
    still, worse = (sum(column) for column in zip(*rows, strict=True))
    print(f"{len(rows)} songs, {still} change their octave, {worse} lie worse")
    return int(still > max(1.0, CHANGING * len(rows)) or worse > 0)


if __name__ == "__main__":
    sys.exit(main())
