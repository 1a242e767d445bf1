"""How well accents, builds, quiet stretches and free time are found in 50 made songs.

    python tests/bench/map_truth.py [how many songs] [first seed]

The songs (seeds 0 to 49) are not the ones on which thresholds were set (seeds 100 to 129).
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import mir_eval
import numpy as np

from rehearse.music.analysis.analyse import analyse
from rehearse.music.track import Track, hash_samples
from tests.music import measure
from tests.music.made import make_song


def main() -> None:
    """Measure and print a table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    names = ("accents", "builds", "builds, whole", "quiets", "quiets, whole", "free", "free, whole")
    tallies = {name: measure.Tally() for name in names}
    errors: list[float] = []
    beats = []
    for seed in range(first, first + count):
        samples, rate, truth = make_song(seed)
        beatmap = analyse(Track(samples, rate, hash_samples(samples, rate)))
        length = beatmap.duration
        found = [a.time for a in beatmap.accents]
        tallies["accents"] += measure.events(truth.accents, found)
        pairs = mir_eval.util.match_events(np.asarray(truth.accents), np.asarray(found), 0.05)
        errors += [abs(found[j] - truth.accents[i]) for i, j in pairs]
        for name, true, spans in (
            ("builds", truth.builds, [(b.start, b.end) for b in beatmap.builds]),
            ("quiets", truth.quiets, [(q.start, q.end) for q in beatmap.quiets]),
            ("free", truth.free, [(f.start, f.end) for f in beatmap.free]),
        ):
            tallies[name] += measure.spans(true, spans, length)
            tallies[f"{name}, whole"] += measure.whole_spans(true, spans)
        beats.append(mir_eval.beat.f_measure(np.asarray(truth.beats), np.asarray(beatmap.beats)))
    print(f"{'':<16}{'precision':>10}{'recall':>8}{'F':>7}")
    for name, tally in tallies.items():
        print(f"{name:<16}{tally.precision:>10.3f}{tally.recall:>8.3f}{tally.f:>7.3f}")
    error = np.asarray(errors) * 1000
    print(
        f"accent onsets: median {np.median(error):.1f} ms off, {np.mean(error <= 10):.1%} in 10 ms"
    )
    print(f"beats: mean F {np.mean(beats):.3f} over {count} songs")


if __name__ == "__main__":
    main()
