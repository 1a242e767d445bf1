"""What each player plays: rhythms of accompaniment, lines of bass, chords and melody.

Positions are beats from the start of the bar. Rhythms chosen by chance favour the strong places
of the bar only as much as real players do: some avoid the beat altogether.
"""

from __future__ import annotations

import numpy as np

from training.piece import Note, Rng

Rhythm = list[tuple[float, float]]

_MAJOR, _MINOR = (0, 2, 4, 5, 7, 9, 11), (0, 2, 3, 5, 7, 8, 10)
_LOOPS = (
    (0, 0, 0, 0), (0, 3, 4, 0), (0, 5, 3, 4), (5, 3, 0, 4), (0, 4, 5, 3), (1, 4, 0, 0),
    (0, 6, 5, 4), (0, 5, 1, 4), (2, 5, 1, 4), (0, 3, 0, 4), (0, 6, 3, 0), (5, 4, 3, 4),
    (0, 2, 3, 4), (0, 0, 3, 4),
    (0, 3, 0, 0, 3, 3, 0, 0, 4, 3, 0, 4), (0, 0, 0, 0, 3, 3, 0, 0, 4, 3, 0, 0),
)  # fmt: skip
_STEADY = {
    "quarters": 1.0, "eighths": 0.5, "strum": 0.5, "arpeggio": 0.5, "arpeggio16": 0.25,
    "arpeggio3": 1 / 3, "triplets": 1 / 3, "octaves": 0.5, "boogie": 0.5, "walk": 1.0, "walk3": 1.0,
}  # fmt: skip
_CELLS: dict[str, tuple[float, ...]] = {
    "offbeats": (0.5,), "offbeats16": (0.5, 0.75), "gallop": (0, 0.5, 0.75), "shuffle": (0, 2 / 3),
    "ragged": (0.25, 0.5), "oompah3": (1 / 3, 2 / 3),
}  # fmt: skip


class Harmony:
    """A key and a loop of chords."""

    def __init__(self, rng: Rng) -> None:
        self.root = int(rng.integers(0, 12))
        self.scale = _MAJOR if rng.random() < 0.55 else _MINOR
        self.loop = _LOOPS[int(rng.integers(len(_LOOPS)))]
        self.pace = float(rng.choice([0.5, 1, 1, 1, 1, 2, 4]))
        self.seventh = rng.random() < 0.4

    def degree(self, bars: float) -> int:
        """Step of the scale the chord at `bars` stands on."""
        return self.loop[int(np.floor(bars / self.pace + 1e-6)) % len(self.loop)]

    def pitch(self, step: int, low: int) -> int:
        """MIDI pitch of scale step `step` (any integer), step 0 in the octave from `low`."""
        octave, inside = divmod(step, 7)
        base = low + (self.root - low) % 12
        return base + 12 * octave + self.scale[inside]

    def chord(self, bars: float, low: int) -> list[int]:
        """Pitches of the chord, in the octave from `low`."""
        steps = (0, 2, 4, 6) if self.seventh else (0, 2, 4)
        pitches = [self.pitch(self.degree(bars) + s, 48) for s in steps]
        return sorted(low + (p - low) % 12 for p in pitches)


def rhythm(kind: str, rng: Rng, bar: int, kick: list[float]) -> Rhythm:
    """Positions and lengths of one bar of a kind of accompaniment."""
    if kind in _STEADY:
        step = _STEADY[kind]
        places = [step * k for k in range(round(bar / step))]
        if kind == "strum" and rng.random() < 0.5:
            places = [p for p in places if p % 1 == 0 or rng.random() < 0.7]
    elif kind in _CELLS:
        places = [b + c for b in range(bar) for c in _CELLS[kind]]
    elif kind in ("random", "funk", "random3", "rests"):
        places = _by_chance(kind, rng, bar)
    else:
        places = _set_places(kind, rng, bar, kick)
    places = sorted({round(p, 4) for p in places if 0 <= p < bar}) or [0.0]
    ends = [*places[1:], bar + (places[0] if rng.random() < 0.3 else 0)]
    short = kind in ("stabs", "offbeats", "funk", "backbeats", "oompah", "charleston", "ragged")
    full = rng.uniform(0.3, 0.6) if short else rng.uniform(0.7, 1.0)
    return [(p, max(0.08, (e - p) * full)) for p, e in zip(places, ends, strict=True)]


def _set_places(kind: str, rng: Rng, bar: int, kick: list[float]) -> list[float]:
    if kind == "two":
        return [float(b) for b in range(0, bar, 2 if bar == 4 else 1)]
    if kind == "backbeats":
        return [float(b) for b in range(1, bar, 2)]
    if kind in ("oompah", "offbeats23"):
        if bar == 4:
            return [1.0, 3.0] if rng.random() < 0.5 else [0.5, 1.5, 2.5, 3.5]
        return [1.0, 2.0] if bar == 3 else [0.5, 1.5]
    if kind == "kick":
        return kick or [0.0]
    if kind == "tresillo":
        return (
            [0.0, 1.5, 3.0] if bar == 4 and rng.random() < 0.5 else [0.0, 0.75, 1.5, 2, 2.75, 3.5]
        )
    if kind == "dotted":
        return list(np.arange(0, bar, 0.75 if rng.random() < 0.7 else 1.5))
    if kind == "tumbao":
        return [1.5, 3.0] if bar >= 3 else [0.75, 1.5]
    if kind == "montuno":
        return [0.0, 0.5, 1.0, 1.5, 2.5, 3.5] if rng.random() < 0.5 else [0.0, 1.0, 1.5, 2.5, 3.5]
    if kind == "charleston":
        return [0.0, 1.5] if rng.random() < 0.6 else [0.5, 2.0]
    if kind == "push":
        return [0.0, 1.5, 3.5] if rng.random() < 0.5 else [0.0, bar - 0.5]
    if kind == "stabs":
        return [float(p) for p in rng.choice(np.arange(0, bar, 0.5), 2)]
    return [0.0] if rng.random() < 0.8 else [0.0, float(bar // 2)]


def _by_chance(kind: str, rng: Rng, bar: int) -> list[float]:
    step = 1 / 3 if kind == "random3" else (0.25 if kind == "funk" or rng.random() < 0.5 else 0.5)
    places = np.arange(round(bar / step)) * step
    on_beat = np.isclose(places % 1, 0) | np.isclose(places % 1, 1)
    strength = rng.uniform(0.1, 0.9)
    chance = np.where(on_beat, strength, np.where(np.isclose(places % 0.5, 0), 0.4, 0.2))
    if step > 0.3 and kind == "random3":
        chance = np.where(on_beat, strength, np.where(places % 1 > 0.5, 0.45, 0.1))
    if kind == "rests":
        chance[places == 0] = 0.15
    if kind == "funk":
        chance[0] = 0.9
    return [float(p) for p, c in zip(places, chance, strict=True) if rng.random() < c]


def bass_bar(
    kind: str, rng: Rng, plan: Rhythm, harmony: Harmony, bar_index: int, bar: int, channel: int
) -> list[Note]:
    """One bar of bass on the rhythm `plan`."""
    notes = []
    for k, (at, length) in enumerate(plan):
        degree = harmony.degree(bar_index + at / bar)
        step = degree
        if kind in ("walk", "walk3"):
            step = degree + (0 if k == 0 else int(rng.choice([2, 4, 1, 3, -1, 5, 7])))
        elif kind == "boogie":
            step = degree + (0, 0, 2, 2, 4, 4, 5, 4)[k % 8]
        elif kind in ("two", "quarters") and k % 2 and rng.random() < 0.7:
            step = degree + 4 - 7 * int(rng.integers(0, 2))
        elif kind in ("octaves", "funk", "random") and k % 2 and rng.random() < 0.5:
            step = degree + int(rng.choice([7, 7, 4, 6]))
        velocity = 88 + rng.normal(0, 6) + (6 if at == 0 else 0)
        notes.append(Note(at, length, harmony.pitch(step, 28), velocity, channel))
        if kind == "walk3" and rng.random() < 0.2:
            notes.append(Note(at + 2 / 3, 0.25, notes[-1].pitch, 70, channel))
    return notes


def chord_bar(
    kind: str, rng: Rng, plan: Rhythm, harmony: Harmony, bar_index: int, bar: int, channel: int
) -> list[Note]:
    """One bar of chords or broken chords on the rhythm `plan`."""
    notes = []
    broken = kind.startswith("arpeggio") or (kind in ("triplets", "dotted") and channel % 2)
    turn = int(rng.integers(0, 3))
    for k, (at, length) in enumerate(plan):
        # A chord pushed ahead of the bar line already is the next bar's.
        ahead = 0.5 / bar if kind in ("push", "montuno") and at > bar - 0.75 else 0.0
        chord = harmony.chord(bar_index + at / bar + ahead, 52)
        velocity = 72 + rng.normal(0, 6)
        if broken or kind == "montuno":
            order = [*chord, *[p + 12 for p in chord[:2]]]
            order = order[::-1] if turn == 1 else order
            notes.append(Note(at, length * 1.3, order[k % len(order)], velocity, channel))
        else:
            notes += [Note(at, length, p, velocity, channel) for p in chord]
    return notes


class Melody:
    """A line made of a few motifs that come back, as tunes do."""

    def __init__(self, rng: Rng, bar: int, triplets: bool) -> None:
        kind = "random3" if triplets else "random"
        self._motifs = [self._motif(rng, kind, bar) for _ in range(int(rng.integers(2, 4)))]
        self._plan = [int(rng.integers(len(self._motifs))) for _ in range(4)]
        self._low = int(rng.choice([60, 60, 67, 72]))
        self._walk = 0
        self._steps = [int(rng.integers(-2, 3)) for _ in range(24)]

    @staticmethod
    def _motif(rng: Rng, kind: str, bar: int) -> Rhythm:
        if rng.random() < 0.12:
            return []
        plan = rhythm(kind, rng, bar, [])
        return [p for p in plan if rng.random() < rng.uniform(0.6, 1.0)]

    def bar(self, rng: Rng, harmony: Harmony, bar_index: int, bar: int, channel: int) -> list[Note]:
        """The next bar."""
        notes: list[Note] = []
        for at, length in self._motifs[self._plan[bar_index % len(self._plan)]]:
            self._walk = int(np.clip(self._walk + self._steps[len(notes) % 24], -5, 9))
            step = harmony.degree(bar_index + at / bar) + self._walk
            if at % 1 == 0 and rng.random() < 0.6:
                step = harmony.degree(bar_index + at / bar) + 2 * (self._walk // 2)
            velocity = 86 + rng.normal(0, 8)
            notes.append(Note(at, length, harmony.pitch(step, self._low), velocity, channel))
        return notes
