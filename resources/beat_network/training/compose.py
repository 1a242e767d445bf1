"""A band plays a song of several sections: the pieces made up from nothing but chance and habit."""

from __future__ import annotations

import numpy as np

from training import styles as s
from training.parts import Harmony, Melody, Rhythm, bass_bar, chord_bar, rhythm
from training.piece import DRUMS, Note, Piece, Rng, beat_times, swung

_VELOCITY = {"X": 112, "x": 84, "o": 48}
_BASSES = (32, 33, 33, 34, 35, 36, 37, 38, 39, 43, 58, 0)
_CHORDS = (
    0, 1, 2, 4, 5, 6, 7, 16, 17, 18, 21, 24, 25, 26, 27, 28, 29, 30, 46, 48, 50, 61, 62, 63, 80, 81,
    88, 90, 11, 12,
)  # fmt: skip
_LEADS = (
    0, 4, 11, 13, 22, 24, 26, 29, 30, 40, 41, 42, 52, 53, 56, 57, 59, 60, 64, 65, 66, 67, 68, 71,
    73, 74, 75, 80, 81, 82, 104, 114,
)  # fmt: skip
_PADS = (48, 49, 50, 51, 52, 88, 89, 90, 91, 94, 95, 16, 19)


def compose(rng: Rng, seconds: float) -> Piece:
    """A song of about `seconds`."""
    names = list(s.STYLES)
    shares = np.array([s.STYLES[n].share for n in names])
    name = names[int(rng.choice(len(names), p=shares / shares.sum()))]
    style = s.STYLES[name]
    low, high = style.bpm
    bpm = float(np.exp(rng.normal(np.log(low * high) / 2, np.log(high / low) / 3)))
    bpm = float(np.clip(bpm, low * 0.88, high * 1.1))
    bars = int(np.ceil(seconds * bpm / 60 / style.bar)) + 1
    free = rng.random() ** 2 if name in ("no drums", "waltz", "slow three", "stride") else 0.0
    if rng.random() < 0.8:
        free = min(free, 0.3 * rng.random())
    band = _Band(rng, style, name)
    notes: list[Note] = []
    first = 0
    while first < bars:
        length = int(rng.choice([2, 4, 4, 8, 8]))
        notes += band.section(first, min(length, bars - first))
        first += length
    swing = float(rng.uniform(*style.swing))
    unit = 0.5 if style.steps == 4 else 1.0
    if style.steps != 3 and swing > 0.5:
        for note in notes:
            note.at = swung(note.at, swing, unit)
    if style.steps == 3:
        for note in notes:
            # Straight halves are played where the triplet's last third lies.
            if abs(note.at % 1 - 0.5) < 0.01:
                note.at += swing - 0.5
    beats = beat_times(rng, bpm, bars * style.bar, free, style.bar)
    places = [k % style.bar + 1 for k in range(bars * style.bar)]
    lags = {c: float(rng.normal(0, 0.006)) for c in band.programs}
    return Piece(notes, band.programs, beats, places, lags, 0.008 * rng.random())


class _Band:
    def __init__(self, rng: Rng, style: s.Style, name: str) -> None:
        self.rng, self.style = rng, style
        self.harmony = Harmony(rng)
        self.lines = _lines(rng, style, name)
        self.programs = {
            0: int(rng.choice(_BASSES)),
            1: int(rng.choice(_CHORDS)),
            2: int(rng.choice(_CHORDS)),
            3: int(rng.choice(_LEADS)),
            4: int(rng.choice(_PADS)),
            5: int(rng.choice(_LEADS)),
            DRUMS: int(rng.choice([0, 0, 0, 8, 16, 24, 25, 32, 40])),
        }
        if name in ("stride", "no drums") and rng.random() < 0.5:
            # One player at one instrument.
            solo = int(rng.choice([0, 0, 0, 1, 3, 6, 24, 25, 46]))
            self.programs.update(dict.fromkeys(range(4), solo))
        self.loud = {c: float(rng.uniform(0.55, 1.1)) for c in self.programs}
        self.loud[3] *= 1.1
        self.present = {c: rng.random() < p for c, p in ((2, 0.5), (3, 0.75), (4, 0.3), (5, 0.25))}
        self._new_ideas()

    def _new_ideas(self) -> None:
        rng, style = self.rng, self.style
        kick = [at for at, _ in _hits(self.lines.get(s.KICK, ""), style, 0)]
        self.bass = str(rng.choice(style.bass))
        self.comps = [str(rng.choice(style.comp)) for _ in range(2)]
        self.bass_plan = rhythm(self.bass, rng, style.bar, kick)
        self.comp_plans: list[Rhythm] = [rhythm(c, rng, style.bar, kick) for c in self.comps]
        triplets = style.steps == 3
        self.tunes = [Melody(rng, style.bar, triplets and rng.random() < 0.8) for _ in range(2)]

    def section(self, first: int, bars: int) -> list[Note]:
        """Notes of `bars` bars from bar `first`."""
        rng, bar = self.rng, self.style.bar
        if rng.random() < 0.35:
            self._new_ideas()
        on = {c: self.present.get(c, True) and rng.random() < 0.85 for c in range(6)}
        drums = bool(self.lines) and rng.random() < 0.88
        few = rng.choice(list(self.lines), 2) if self.lines and rng.random() < 0.15 else None
        if not drums and not on[0] and not on[1]:
            on[1] = True
        notes: list[Note] = []
        for index in range(first, first + bars):
            here: list[Note] = []
            if on[0]:
                here += bass_bar(self.bass, rng, self.bass_plan, self.harmony, index, bar, 0)
            for k in (1, 2):
                if on[k]:
                    plan = self.comp_plans[k - 1]
                    here += chord_bar(self.comps[k - 1], rng, plan, self.harmony, index, bar, k)
            for k, channel in enumerate((3, 5)):
                if on[channel]:
                    here += self.tunes[k].bar(rng, self.harmony, index, bar, channel)
            if on[4]:
                here += [Note(0, bar, p, 60, 4) for p in self.harmony.chord(index, 55)]
            if drums:
                here += self._drums(index, index == first, index == first + bars - 1, few)
            for note in here:
                note.at += index * bar
                note.velocity *= self.loud[note.channel]
            notes += here
        return notes

    def _drums(self, index: int, opens: bool, closes: bool, few: object) -> list[Note]:
        rng, style = self.rng, self.style
        notes = []
        fill_from = style.bar - float(rng.choice([1, 2])) if closes and rng.random() < 0.5 else 99.0
        for drum, line in self.lines.items():
            if few is not None and drum not in few:  # type: ignore[operator]
                continue
            for at, velocity in _hits(line, style, index):
                if at < fill_from or (drum == s.KICK and rng.random() < 0.5):
                    notes.append(Note(at, 0.2, drum, velocity + rng.normal(0, 5), DRUMS))
        if opens and rng.random() < 0.5:
            notes.append(Note(0, 0.5, s.CRASH, 100, DRUMS))
        step = 1 / style.steps
        for at in np.arange(max(0, fill_from), style.bar, step) if fill_from < 99 else ():
            if rng.random() < 0.75:
                drum = int(rng.choice([s.SNARE, s.SNARE, s.TOM_HIGH, s.TOM, s.TOM_LOW]))
                notes.append(Note(float(at), 0.2, drum, rng.uniform(60, 110), DRUMS))
        return notes


def _lines(rng: Rng, style: s.Style, name: str) -> dict[int, str]:
    lines = dict(style.drums[int(rng.integers(len(style.drums)))])
    if name == "chance":
        lines = _chance_lines(rng, style)
    if lines and rng.random() < 0.3:
        lines = {d: _altered(rng, line) for d, line in lines.items()}
    if len(lines) > 1 and rng.random() < 0.12:
        del lines[list(lines)[int(rng.integers(len(lines)))]]
    return lines


def _altered(rng: Rng, line: str) -> str:
    marks = list(line)
    if len(marks) >= 8:
        k = int(rng.integers(len(marks)))
        marks[k] = "." if marks[k] != "." else str(rng.choice(["x", "o"]))
    return "".join(marks)


def _chance_lines(rng: Rng, style: s.Style) -> dict[int, str]:
    """Drums nobody has a name for: any pattern of sixteenths, kept for the whole song."""
    size = style.bar * style.steps * int(rng.choice([1, 1, 2]))
    place = np.arange(size)
    weight = np.where(place % 4 == 0, 0.55, np.where(place % 2 == 0, 0.35, 0.15))
    lines = {}
    for drum in rng.choice([s.KICK, s.SNARE, s.HAT, s.CLAP, s.TOM, s.CONGA, s.COWBELL], 4, False):
        chance = weight * rng.uniform(0.3, 1.4)
        if drum == s.SNARE and rng.random() < 0.7:
            chance = np.where(place % 8 == 4, 0.95, 0.12)
        marks = [str(rng.choice(["X", "x", "o"])) if rng.random() < c else "." for c in chance]
        lines[int(drum)] = "".join(marks)
    if rng.random() < 0.7:
        lines[s.KICK] = "X" + lines.get(s.KICK, "." * size)[1:]
    return lines


def _hits(line: str, style: s.Style, index: int) -> list[tuple[float, float]]:
    """Position in beats and velocity of every stroke of a drum line in bar `index`."""
    size = style.bar * style.steps
    marks = [line[(index * size + k) % len(line)] for k in range(size)] if line else []
    return [(k / style.steps, float(_VELOCITY[m])) for k, m in enumerate(marks) if m != "."]


def drum_part(rng: Rng, style: s.Style, bars: int) -> list[Note]:
    """Drums alone in a style, for a score that somebody else plays."""
    lines = _lines(rng, style, "")
    level = rng.uniform(0.5, 1.0)
    notes = []
    for index in range(bars):
        for drum, line in lines.items():
            for at, velocity in _hits(line, style, index):
                here = at + index * style.bar
                notes.append(Note(here, 0.2, drum, level * (velocity + rng.normal(0, 5)), DRUMS))
    return notes
