"""Notes and bars of public-domain scores, taken from music21's corpus into one small file.

Works of Beethoven, Chopin, Haydn, Joplin and Mozart and Bach's BWV 66 and 846 are left out (they
serve for evaluation elsewhere), and so are the scores the project's own tests play.

    python -m training.scores scores.npz
"""

from __future__ import annotations

import random
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

#: Folder of the corpus: how many of its files to take.
_TAKE = {
    "schumann_robert": 20,
    "schumann_clara": 20,
    "schubert": 5,
    "handel": 5,
    "corelli": 10,
    "verdi": 5,
    "weber": 5,
    "cpebach": 2,
    "beach": 2,
    "johnson_j_r": 2,
    "leadSheet": 2,
    "liliuokalani": 2,
    "monteverdi": 30,
    "bach": 170,
    "ryansMammoth": 260,
    "airdsAirs": 2,
    "oneills1850": 3,
    "palestrina": 16,
    "trecento": 10,
}
_TESTED = ("polonaise_op1n1", "rinaldo", "bwv269", "opus3no1", "lindenbaum", "aloha", "quickstep")
_LEFT_OUT = ("bwv66", "bwv846")
_TUNES_OF_A_BOOK = 60
_LONGEST = 400.0


@dataclass(frozen=True, eq=False)
class Score:
    """One score.

    Args:
        name: where it comes from.
        notes: float32, shape (n, 4): onset and length in quarters, MIDI pitch, part from 0.
        bars: float32, shape (m, 4): onset and length in quarters, both numbers of the meter.
    """

    name: str
    notes: npt.NDArray[np.float32]
    bars: npt.NDArray[np.float32]


def load_scores(path: Path) -> list[Score]:
    """The scores of a file written by `save_scores`."""
    with np.load(path) as data:
        notes = np.split(data["notes"], data["note_ends"][:-1])
        bars = np.split(data["bars"], data["bar_ends"][:-1])
        return [Score(str(n), a, b) for n, a, b in zip(data["names"], notes, bars, strict=True)]


def save_scores(path: Path, scores: list[Score]) -> None:
    """Write scores as one compressed file."""
    np.savez_compressed(
        path,
        names=np.array([s.name for s in scores]),
        notes=np.concatenate([s.notes for s in scores]),
        bars=np.concatenate([s.bars for s in scores]),
        note_ends=np.cumsum([len(s.notes) for s in scores]),
        bar_ends=np.cumsum([len(s.bars) for s in scores]),
    )


def read_score(name: str, stream: Any) -> Score | None:
    """Notes and bars of a parsed music21 score; None when it has no usable bars."""
    parts = list(stream.parts) or [stream]
    rows = [row for k, part in enumerate(parts) for row in _notes(part, k)]
    bars = _bars(parts[0])
    if len(rows) < 16 or len(bars) < 4:
        return None
    notes = np.array(sorted(rows), np.float32)
    end = min(_LONGEST, float(bars[-1][0] + bars[-1][1]))
    return Score(name, notes[notes[:, 0] < end], np.array([b for b in bars if b[0] < end], "f4"))


def _notes(part: Any, index: int) -> list[tuple[float, float, float, float]]:
    rows: list[tuple[float, float, float, float]] = []
    tied: dict[int, int] = {}
    for note in part.flatten().notes:
        if note.duration.isGrace:
            continue
        onset, length = float(note.offset), float(note.duration.quarterLength)
        members = note.notes if note.isChord else [note]
        for member in members:
            pitch = getattr(member, "pitch", None)
            if pitch is None:
                continue
            tie = member.tie.type if member.tie else ""
            if tie in ("stop", "continue") and pitch.midi in tied:
                k = tied[pitch.midi]
                rows[k] = (rows[k][0], onset + length - rows[k][0], rows[k][2], rows[k][3])
            else:
                tied[pitch.midi] = len(rows)
                rows.append((onset, length, float(pitch.midi), float(index)))
    return rows


def _bars(part: Any) -> list[tuple[float, float, float, float]]:
    measures = list(part.getElementsByClass("Measure"))
    result: list[tuple[float, float, float, float]] = []
    meter = (4, 4)
    for k, measure in enumerate(measures):
        if measure.timeSignature is not None:
            meter = (measure.timeSignature.numerator, measure.timeSignature.denominator)
        start = float(measure.offset)
        ends = measures[k + 1].offset if k + 1 < len(measures) else start + measure.highestTime
        if float(ends) > start:
            result.append((start, float(ends) - start, *meter))
    return result


def extract(limit: float) -> list[Score]:
    """Scores of the corpus shuffled by a fixed seed, as many as `limit` seconds give."""
    from music21 import converter, corpus

    chance = random.Random(20)
    jobs = []
    for composer, count in _TAKE.items():
        paths = sorted(Path(p) for p in corpus.getComposer(composer))
        paths = [p for p in paths if not any(x in str(p).lower() for x in (*_TESTED, *_LEFT_OUT))]
        jobs += [(k / count, composer, p) for k, p in enumerate(chance.sample(paths, len(paths)))]
    jobs = [(rank, c, p) for rank, c, p in sorted(jobs, key=lambda job: job[0]) if rank < 1]
    found: list[Score] = []
    began = time.monotonic()
    for _, composer, path in jobs:
        if time.monotonic() - began > limit:
            break
        try:
            parsed = converter.parse(path)
        except Exception as error:  # the corpus holds a few files its own reader refuses
            print(f"{path.name} left out: {error}")
            continue
        tunes = list(getattr(parsed, "scores", [])) or [parsed]
        for k, tune in enumerate(chance.sample(tunes, min(len(tunes), _TUNES_OF_A_BOOK))):
            score = read_score(f"{composer}/{path.stem}/{k}", tune)
            if score is not None:
                found.append(score)
    return found


def main(arguments: list[str]) -> None:
    """Write the file named by the first argument."""
    scores = extract(limit=float(arguments[1]) if len(arguments) > 1 else 3600.0)
    save_scores(Path(arguments[0]), scores)
    print(len(scores), "scores,", sum(len(s.notes) for s in scores), "notes")


if __name__ == "__main__":
    main(sys.argv[1:])
