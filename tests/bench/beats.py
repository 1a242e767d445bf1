"""How well beats are found, against rendered scores whose beats are known, beside librosa's.

    python tests/bench/beats.py FOLDER [--split dev|test]

FOLDER holds NAME.ogg, NAME.beats.txt (seconds, tab, place in the bar) and corpus.json. Scored by
mir_eval, first 5 s left out: F-measure (±70 ms), CMLt and AMLt (Davies, Degara & Plumbley,
C4DM-TR-09-06), downbeat F, the median offset of beats within 70 ms, and at which metrical level
the beats of each piece lie.
"""

from __future__ import annotations

import argparse
import json
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import mir_eval
import numpy as np

from rehearse.music.analysis.beats import find_beats
from rehearse.music.decode import load_track
from rehearse.music.track import Track

Finder = Callable[[Track], np.ndarray]
FIGURES = ("F", "CMLt", "AMLt", "downbeat F", "offset ms", "share of length")


def ours(track: Track) -> np.ndarray:
    """Seconds and place in the bar."""
    beats = find_beats(track.samples, track.sample_rate)
    return np.column_stack([beats.times, beats.places])


def librosas(track: Track) -> np.ndarray:
    """Seconds, by librosa's beat tracker as it comes (Ellis 2007)."""
    import librosa

    mono = librosa.resample(track.samples.mean(axis=1), orig_sr=track.sample_rate, target_sr=22050)
    _, beats = librosa.beat.beat_track(y=mono, sr=22050, units="time")
    return np.asarray(beats)[:, None]


def level(truth: np.ndarray, found: np.ndarray) -> str:
    """At which level of the meter the beats lie."""
    between = (truth[1:] + truth[:-1]) / 2
    forms = {
        "right": truth,
        "off-beat": between,
        "double": np.sort(np.concatenate([truth, between])),
        "half": truth[::2],
        "other half": truth[1::2],
    }
    if len(found) < 4:
        return "lost"
    scores = {name: mir_eval.beat.continuity(form, found)[1] for name, form in forms.items()}
    best = max(scores, key=lambda name: scores[name])
    return best.removeprefix("other ") if scores[best] >= 0.7 else "mixed or lost"


def measure(finder: Finder, track: Track, truth: np.ndarray) -> dict[str, float | str]:
    """The figures of one piece."""
    began = time.perf_counter()
    out = finder(track)
    spent = time.perf_counter() - began
    trim = mir_eval.beat.trim_beats
    real, found = trim(truth[:, 0]), trim(out[:, 0])
    scores = mir_eval.beat.continuity(real, found) if len(found) > 1 else (0.0,) * 4
    apart = found - real[np.abs(real[:, None] - found).argmin(axis=0)]
    row: dict[str, float | str] = {
        "F": mir_eval.beat.f_measure(real, found),
        "CMLt": scores[1],
        "AMLt": scores[3],
        "share of length": spent / track.duration,
        "level": level(real, found),
    }
    near = apart[np.abs(apart) < 0.07]
    if len(near):
        row["offset ms"] = 1000 * float(np.median(near))
    if out.shape[1] > 1:
        firsts = trim(truth[truth[:, 1] == 1, 0]), trim(out[out[:, 1] == 1, 0])
        row["downbeat F"] = mir_eval.beat.f_measure(*firsts)
    return row


def mean_line(name: str, rows: list[dict[str, float | str]]) -> str:
    """Means of one finder."""
    cells = []
    for key in FIGURES:
        values = [float(r[key]) for r in rows if key in r]
        cells.append(f"{np.mean(values):10.3f}" if values else f"{'-':>10s}")
    return f"{name:24s}" + "".join(cells)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--split", default="")
    given = parser.parse_args()
    if not (given.folder / "corpus.json").exists():
        print(f"skipped: {given.folder} holds no corpus.json")
        return
    pieces = json.loads((given.folder / "corpus.json").read_text())
    tables: dict[str, list[dict[str, float | str]]] = {"ours": [], "librosa's default": []}
    print(f"{'':24s}" + "".join(f"{key:>10.10s}" for key in FIGURES))
    for name, facts in sorted(pieces.items()):
        if facts["suite"] == "dropped" or given.split not in ("", facts["split"]):
            continue
        track = load_track(given.folder / f"{name}.ogg")
        truth = np.loadtxt(given.folder / f"{name}.beats.txt", ndmin=2)
        for table, finder in (("ours", ours), ("librosa's default", librosas)):
            row = measure(finder, track, truth)
            tables[table].append({**row, "suite": facts["suite"]})
        print(mean_line(name[:24], tables["ours"][-1:]), tables["ours"][-1]["level"], flush=True)
    for table, rows in tables.items():
        for suite in sorted({str(r["suite"]) for r in rows}):
            print(mean_line(f"{table} {suite}"[:24], [r for r in rows if r["suite"] == suite]))
        print(mean_line(f"{table} all"[:24], rows), dict(Counter(str(r["level"]) for r in rows)))


if __name__ == "__main__":
    main()
