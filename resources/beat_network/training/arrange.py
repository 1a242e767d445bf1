"""Scores as people play them: instruments, tempo and freedom by chance, at times with drums."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from training import styles
from training.compose import drum_part
from training.piece import DRUMS, Note, Piece, Rng, beat_times
from training.scores import Score

_SOLO = (0, 0, 0, 1, 3, 6, 7, 16, 19, 21, 24, 25, 46, 11, 8)
_GROUPS = (
    (40, 40, 41, 42), (48, 48, 48, 48), (40, 41, 42, 43), (73, 68, 71, 70), (73, 71, 60, 70),
    (56, 56, 57, 58), (61, 61, 60, 58), (52, 52, 52, 52), (65, 66, 66, 67), (40, 73, 42, 0),
    (68, 40, 41, 42), (73, 6, 6, 42), (22, 24, 24, 32), (0, 48, 48, 43), (74, 74, 74, 74),
)  # fmt: skip


def can_play(score: Score) -> bool:
    """Whether the score's bars have beats that can be told: no 3/8, 5/4 and the like."""
    return beat_unit(*score.bars[0, 2:]) > 0


def beat_unit(upper: float, lower: float) -> float:
    """Quarters of one beat in a meter; 0 where that is not agreed."""
    if lower == 8 and upper in (6, 9, 12):
        return 1.5
    if lower == 4 and upper in (2, 3, 4):
        return 1.0
    if lower == 4 and upper == 6:
        return 3.0
    if lower == 2 and upper in (2, 3, 4):
        return 2.0
    return 0.0


def beats_of(score: Score) -> tuple[npt.NDArray[np.float64], list[int], float]:
    """Positions in quarters of evenly spaced beats, their places in the bar, and the unit."""
    unit = beat_unit(*score.bars[0, 2:])
    at: list[float] = []
    places: list[int] = []
    for k, (onset, length, upper, lower) in enumerate(score.bars):
        if beat_unit(upper, lower) != unit:
            break
        full = round(upper * 4 / lower / unit)
        count = int(length / unit + 0.01)
        start = onset + length - count * unit if k == 0 else onset
        if at and abs(start - at[-1] - unit) > 0.01:
            break
        shift = full - count if k == 0 else 0
        at += [start + j * unit for j in range(count)]
        places += [shift + j + 1 for j in range(count)]
    return np.array(at), places, unit


def arrange(rng: Rng, score: Score, seconds: float) -> Piece | None:
    """A stretch of the score of up to `seconds`, played; None when it is too short."""
    at, places, unit = beats_of(score)
    if len(at) < 16:
        return None
    inside = score.notes[score.notes[:, 0] >= at[0] - 0.01]
    density = len(np.unique(inside[:, 0])) / max(1.0, (at[-1] - at[0]) / unit)
    slow, fast = np.clip(np.array([60 * 1.2, 60 * 8.0]) / density, 46, 185)
    bpm = float(np.exp(rng.uniform(np.log(slow), np.log(max(fast, slow * 1.05)))))
    count = min(len(at) - 1, int(seconds * bpm / 60) + 1)
    start = int(rng.integers(0, max(1, len(at) - 1 - count)))
    times = min(8, int(np.ceil(seconds * bpm / 60 / count)))
    banded = rng.random() < 0.4
    freedom = 0.0 if banded or rng.random() < 0.15 else float(rng.random())
    beats = beat_times(rng, bpm, count * times, freedom, max(places))
    chosen = places[start : start + count]
    notes, programs = _play(rng, inside, at[start], unit, count, chosen)
    notes, chosen = _again(notes, chosen, times)
    if banded:
        notes += _drums(rng, chosen, unit)
        programs[DRUMS] = int(rng.choice([0, 0, 8, 16, 32, 40]))
    return Piece(notes, programs, beats, chosen, {}, 0.012 * rng.random() * (0.3 + freedom))


def _again(notes: list[Note], places: list[int], times: int) -> tuple[list[Note], list[int]]:
    """A short tune is played over and over."""
    count = len(places)
    played = [replace(n, at=n.at + k * count) for k in range(times) for n in notes]
    return played, places * times


def _play(
    rng: Rng, rows: npt.NDArray[np.float32], origin: float, unit: float, count: int,
    places: list[int],
) -> tuple[list[Note], dict[int, int]]:  # fmt: skip
    parts = sorted({int(p) for p in rows[:, 3]})[:8]
    solo = rng.random() < (0.6 if len(parts) <= 2 else 0.3)
    group = _GROUPS[int(rng.integers(len(_GROUPS)))]
    one = int(rng.choice(_SOLO))
    programs = {k: one if solo else group[min(k, len(group) - 1)] for k in range(len(parts))}
    accent, shift = rng.uniform(0, 14), int(rng.integers(-5, 6))
    broken = solo and len(parts) >= 3 and rng.random() < 0.4
    short = rng.uniform(0.4, 1.0)
    notes: list[Note] = []
    for onset, length, pitch, part in rows.tolist():
        beat = (onset - origin) / unit
        if not -0.01 <= beat < count or int(part) not in parts:
            continue
        channel = parts.index(int(part))
        swell = 8 * np.sin(beat / 7.0)
        strong = accent * (beat % 1 < 0.01) + accent * (places[int(beat + 0.01)] == 1)
        velocity = 68 + swell + strong + rng.normal(0, 5)
        size = length / unit * short
        if broken and channel > 0 and size >= 0.45:
            notes += _broken(beat, size, int(pitch) + shift, velocity, channel)
        else:
            notes.append(Note(beat, size, int(pitch) + shift, velocity, channel))
    return notes, programs


def _broken(at: float, length: float, pitch: int, velocity: float, channel: int) -> list[Note]:
    """A held note of an inner or low part becomes part of a running figure."""
    place = 0.25 * (channel % 4)
    return [
        Note(at + place + 0.5 * k, 0.4, pitch, velocity - 8, channel)
        for k in range(max(1, int(length / 0.5)))
    ]


def _drums(rng: Rng, places: list[int], unit: float) -> list[Note]:
    bar = max(places)
    triplets = unit == 1.5
    fitting = [
        style for style in styles.STYLES.values()
        if style.bar in (bar, bar // 2) and (style.steps == 3) == triplets and any(style.drums)
    ]  # fmt: skip
    if not fitting:
        return []
    style = fitting[int(rng.integers(len(fitting)))]
    first = places.index(1) if 1 in places else 0
    notes = drum_part(rng, style, (len(places) - first) // style.bar)
    for note in notes:
        note.at += first
    return notes
