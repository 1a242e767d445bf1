"""Scores by other hands, played with exact times, and their beats found from the sound alone.

Public-domain scores of music21's corpus (Clara Schumann, Handel, Bach, Corelli, Schubert,
Liliuokalani); none of them is among those the network was trained on. Scored by mir_eval, the
first 5 s left out as in its convention (Davies, Degara & Plumbley, C4DM-TR-09-06).
"""

from dataclasses import dataclass
from pathlib import Path

import mir_eval
import numpy as np
import pytest

from rehearse.music.analysis.beatpath import Beats
from rehearse.music.analysis.beats import find_beats
from training.arrange import beats_of
from training.piece import Note, Piece
from training.scores import load_scores
from training.synth import play

RATE = 44100
SCORES = load_scores(Path(__file__).parents[1] / "data" / "beat_scores.npz")
TEMPOS = (96.0, 76.0, 84.0, 66.0, 80.0, 88.0)


@dataclass(frozen=True)
class Played:
    name: str
    found: Beats
    times: np.ndarray
    places: np.ndarray


def piece_of(score, bpm, step):
    """The score at `bpm`, from its middle on `step` times as fast."""
    at, places, unit = beats_of(score)
    count = len(at) - 1
    pace = np.full(count, bpm)
    pace[count // 2 :] *= step
    beats = 1.0 + np.concatenate([[0.0], np.cumsum(60 / pace)])
    notes = [
        Note((onset - at[0]) / unit, 0.9 * length / unit, int(pitch), 80.0, int(part))
        for onset, length, pitch, part in score.notes.tolist()
        if at[0] - 0.01 <= onset < at[-1]
    ]
    return Piece(notes, dict.fromkeys(range(9), 0), beats, places[:count])


@pytest.fixture(scope="module", params=[1.0, 1.22], ids=["steady", "step"])
def played(request) -> list[Played]:
    result = []
    for k, (score, bpm) in enumerate(zip(SCORES, TEMPOS, strict=True)):
        piece = piece_of(score, bpm, request.param)
        sound = play(piece, RATE, np.random.default_rng(k)) * np.float32(0.5)
        found = find_beats(np.column_stack([sound, sound]), RATE)
        result.append(Played(score.name, found, piece.beats[:-1], np.array(piece.places)))
    return result


def trimmed(times):
    return mir_eval.beat.trim_beats(np.asarray(times), 5.0)


def test_beats_of_six_scores(played):
    scores = {
        p.name: mir_eval.beat.f_measure(trimmed(p.times), trimmed(p.found.times)) for p in played
    }
    assert len(scores) >= 6
    assert np.mean(list(scores.values())) >= 0.8, scores


def test_offset_is_small(played):
    """What is found lies on the beat, neither before nor after it: 10 ms in the median."""
    off = []
    for p in played:
        nearest = p.times[np.abs(p.times[:, None] - p.found.times).argmin(axis=0)]
        apart = p.found.times - nearest
        off += apart[np.abs(apart) < 0.07].tolist()
    assert abs(float(np.median(off))) < 0.010


def test_confidence_tells_right_from_wrong(played):
    right, wrong = [], []
    for p in played:
        apart = np.abs(p.times[:, None] - p.found.times).min(axis=0)
        right += p.found.confidence[apart < 0.05].tolist()
        wrong += p.found.confidence[apart >= 0.05].tolist()
    assert np.mean(right) > 0.6
    assert len(wrong) < 5 or np.mean(right) > np.mean(wrong)


def test_a_pin_is_kept():
    piece = piece_of(SCORES[4], 80.0, 1.0)
    sound = play(piece, RATE, np.random.default_rng(4))
    pin = float(piece.beats[20])
    found = find_beats(np.column_stack([sound, sound]), RATE, pins=(pin,))
    assert pin in found.times.tolist()


def test_progress_is_told_and_stops():
    sound = np.zeros((RATE * 6, 2), np.float32)
    told = []
    find_beats(sound, RATE, lambda fraction, text: told.append(fraction))
    assert told == sorted(told)
    assert told[-1] == 1.0

    def stop(fraction, text):
        raise InterruptedError

    with pytest.raises(InterruptedError):
        find_beats(sound, RATE, stop)


@pytest.mark.parametrize("level", [0.0, 1e-4])
def test_silence_has_no_beat(level):
    rng = np.random.default_rng(6)
    sound = rng.normal(0, level, (RATE * 20, 2)).astype(np.float32)
    assert len(find_beats(sound, RATE).times) == 0
