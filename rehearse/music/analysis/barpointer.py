"""The bar-pointer model: the most likely beats and bars under a curve of beat activations.

A pointer runs through the bar at a speed that changes only at beats (Whiteley, Cemgil & Godsill,
"Bayesian modelling of temporal structure in musical audio", ISMIR 2006; Krebs, Böck & Widmer,
"An efficient state-space model for joint tempo and meter tracking", ISMIR 2015). Between two
beats nothing can happen, so instead of moving the pointer frame by frame the best path is found
from beat to beat: the score of "a beat at frame t, at place r of the bar, the next one expected k
tempo steps from here" comes from the beats one interval earlier. Frames that no beat can reach
from within their own block (a block is as long as the shortest interval) are computed at once.

Three things are added to the published model. An interval may miss its tempo by one frame at
either side, so that a player's small freedom is not read as a change of tempo. Next to the bars
stands free time, in which there are no beats; the path goes there when the music says so, or
briefly where a song is cut, and may leave it at any tempo. And a frame can be pinned: a beat must
be there.

Scores are natural logarithms in steps of 1/256, held in integers whose lowest bits carry the
choice made, so that one maximum finds both.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float32]
Scores = npt.NDArray[np.int32]
Choices = npt.NDArray[np.uint8]

#: Frames a second at which beats are placed; tempos in BPM that are followed.
GRID = 100
SLOWEST, FASTEST = 40.0, 240.0

_TEMPOS = 96
#: Seconds between beats that are told apart.
INTERVALS = np.geomspace(60 / (FASTEST * 1.03), 60 / (SLOWEST * 0.97), _TEMPOS)
_LAGS = np.round(INTERVALS * GRID).astype(np.int64)
_RING = 256
# The first and the last beat may lie this many frames from the ends at no cost.
_EDGE = 240

_BITS = 7
_ONE = 256
_LOWEST = -(1 << 29)
_HIGH = 1 << 20
_FREE, _START = 3, 7


@dataclass(frozen=True)
class Habits:
    """What the model takes to be usual in music; costs are natural logarithms, ≥ 0.

    Args:
        meters: beats in a bar that are told apart.
        tempo_step: cost of every 2 % by which an interval differs from the one before.
        tempo_reach: largest number of such steps from one beat to the next.
        tempo_jump: cost of any other tempo at the next beat.
        miss: cost of a beat one frame early or late.
        new_meter: cost of another meter at a bar line.
        let_go, take_up: cost of leaving the beat for free time, and of a first beat after it.
    """

    meters: tuple[int, ...] = (3, 4)
    tempo_step: float = 1.2
    tempo_reach: int = 8
    tempo_jump: float = 24.0
    miss: float = 0.7
    new_meter: float = 8.0
    let_go: float = 6.0
    take_up: float = 10.0


@dataclass(frozen=True, eq=False)
class Path:
    """Beats found: frames of the grid, shape (n,), and places in the bar, 1 = first.

    Args:
        score: natural logarithm of how well the path fits; paths of one song can be compared.
    """

    frames: npt.NDArray[np.int64]
    places: npt.NDArray[np.int64]
    score: float = 0.0


class BarPointer:
    """Finds the best path through beats, bars and free time.

    Args:
        habits: what is usual.
        slots: first and last + 1 of the `INTERVALS` that a beat may have; fewer are quicker.
    """

    def __init__(self, habits: Habits | None = None, slots: tuple[int, int] = (0, _TEMPOS)) -> None:
        self.habits = habits or Habits()
        self._slots = slice(*slots)
        self._lags = _LAGS[self._slots]
        self._tempos = len(self._lags)
        self._block = int(self._lags[0]) - 1
        meters = self.habits.meters
        self._places = np.array([p for m in meters for p in range(1, m + 1)])
        self._rows = len(self._places)
        self._firsts = np.flatnonzero(self._places == 1)
        self._lasts = np.array([f + m - 1 for f, m in zip(self._firsts, meters, strict=True)])
        before = np.arange(self._rows) - 1
        before[self._firsts] = self._lasts
        self._before = before

    def decode(self, beat: Floats, first: Floats, free: Floats, tempo: Floats) -> Path:
        """The best path.

        Args:
            beat: score of a beat at each frame against none, shape (t,), log odds.
            first: score of that beat being the first of a bar against another, shape (t,).
            free: score of each frame being free time against lying within the beat, shape (t,).
            tempo: score of each of `INTERVALS` at a beat on each frame, shape (t, 96).

        Returns:
            The beats, in rising order; none where the path lies in free time.
        """
        frames = len(beat)
        gain = _rounded(_row_scores(beat, first, self._places))
        pace = _rounded(tempo[:, self._slots])
        loose = [int(v) for v in _rounded(free)]
        book = _Book(frames, self._rows, self._tempos)
        ring = np.full((_RING, self._rows, self._tempos), _LOWEST, np.int32)
        state = _FreeTime(loose, self.habits, self._rows, self._block)
        for start in range(0, frames, self._block):
            stop = min(start + self._block, frames)
            arrived = self._arrive(ring, start, stop, state, book)
            arrived += (gain[start:stop, :, None] + pace[start:stop, None, :]) << _BITS
            flat = arrived.reshape(stop - start, -1)
            best = flat.argmax(axis=1)
            state.advance(start, flat[np.arange(stop - start), best] >> _BITS, best)
            ring[np.arange(start, stop) % _RING] = self._depart(arrived, book, start)
            if state.value > _HIGH or int(flat.max()) >> _BITS > _HIGH:
                _lower(ring, state)
        return self._trace(book, state, ring, frames)

    def _arrive(self, ring: Scores, start: int, stop: int, state: _FreeTime, book: _Book) -> Scores:
        """Best score of standing on each (frame, row, tempo), before its own gain."""
        habits, t = self.habits, np.arange(start, stop)[:, None]
        back = np.full((stop - start, self._rows, self._tempos), _LOWEST, np.int32)
        tempos = np.arange(self._tempos)[None, :]
        for code, miss in enumerate((0, -1, 1)):
            came = ring[(t - self._lags - miss) % _RING, :, tempos].transpose(0, 2, 1)
            cost = round(habits.miss * _ONE) << _BITS if miss else 0
            np.maximum(back, came - cost + code, out=back)
        arrived = back[:, self._before, :]
        others = back[:, self._lasts, :]
        cost = round(habits.new_meter * _ONE) << _BITS
        for k, row in enumerate(self._firsts):
            for other in range(len(self._lasts)):
                if other != k:
                    changed = others[:, other] - cost + ((other + 1) << 3)
                    np.maximum(arrived[:, row], changed, out=arrived[:, row])
        taken_up = state.entries(start, stop)
        np.maximum(arrived, ((taken_up << _BITS) + _FREE)[:, None, None], out=arrived)
        if start < _EDGE:
            early = np.where(t < _EDGE, _START, _LOWEST)[:, None, :].astype(np.int32)
            np.maximum(arrived, early, out=arrived)
        mask = np.int32((1 << _BITS) - 1)
        book.came[start:stop] = arrived & mask
        result: Scores = np.maximum(arrived & ~mask, np.int32(_LOWEST))
        return result

    def _depart(self, arrived: Scores, book: _Book, start: int) -> Scores:
        """Best score of leaving each (frame, row) at each tempo, over all tempos before."""
        habits = self.habits
        coded = arrived | np.arange(self._tempos, dtype=np.int32)
        best = coded.copy()
        for step in range(1, min(habits.tempo_reach, self._tempos - 1) + 1):
            cost = np.int32(round(step * habits.tempo_step * _ONE) << _BITS)
            np.maximum(best[..., step:], coded[..., :-step] - cost, out=best[..., step:])
            np.maximum(best[..., :-step], coded[..., step:] - cost, out=best[..., :-step])
        jump = coded.max(axis=2, keepdims=True) - np.int32(round(habits.tempo_jump * _ONE) << _BITS)
        np.maximum(best, jump, out=best)
        mask = np.int32((1 << _BITS) - 1)
        book.tempo[start : start + len(best)] = best & mask
        return best & ~mask

    def _trace(self, book: _Book, state: _FreeTime, ring: Scores, frames: int) -> Path:
        ends = [(state.value, -1, frames)]
        for t in range(max(0, frames - _EDGE), frames):
            reach = ring[t % _RING] >> _BITS
            ends.append((int(reach.max()), int(reach.argmax()), t))
        top, index, t = max(ends)
        score = top / _ONE + state.lowered
        beats: list[tuple[int, int]] = []
        while True:
            if index < 0:
                t, index = state.left_at(t)
                if t < 0:
                    break
                row, tempo = divmod(index, self._tempos)
            else:
                row, tempo = divmod(index, self._tempos)
                tempo = int(book.tempo[t, row, tempo])
            beats.append((t, int(self._places[row])))
            code = int(book.came[t, row, tempo])
            if code == _START:
                break
            if code == _FREE:
                index, t = -1, t - self._block
                continue
            t -= int(self._lags[tempo]) + (0, -1, 1)[code & 3]
            row = int(self._lasts[(code >> 3) - 1]) if code >> 3 else int(self._before[row])
            index = row * self._tempos + tempo
        beats.reverse()
        found = np.array(beats, np.int64).reshape(-1, 2)
        return Path(found[:, 0], found[:, 1], score)


class _Book:
    """Every choice made, to walk the best path back: whence a beat was reached, at what tempo."""

    def __init__(self, frames: int, rows: int, tempos: int) -> None:
        self.came: Choices = np.zeros((frames, rows, tempos), np.uint8)
        self.tempo: Choices = np.zeros((frames, rows, tempos), np.uint8)


class _FreeTime:
    """Best score of being in free time at each frame, and where the beat was left for it."""

    def __init__(self, loose: list[int], habits: Habits, rows: int, block: int) -> None:
        self._loose, self._block = loose, block
        self._let_go = round(habits.let_go * _ONE)
        # A first beat may have any tempo and any place: each gets its share of the probability.
        self._take_up = round((habits.take_up + float(np.log(_TEMPOS * rows))) * _ONE)
        self.value, self.lowered = 0, 0.0
        self._scores: list[int] = []
        self._left: list[tuple[int, int]] = []
        self._from = (-1, -1)

    def entries(self, start: int, stop: int) -> Scores:
        """Scores of taking up the beat at frames [start, stop), a block after free time began."""
        scores = [
            self._scores[t - self._block] - self._take_up if t >= self._block else _LOWEST >> _BITS
            for t in range(start, stop)
        ]
        return np.array(scores, np.int32)

    def advance(self, start: int, best: Scores, which: npt.NDArray[np.int64]) -> None:
        """Go on over a block, given the best beat score of each frame and its (row, tempo)."""
        for k, score in enumerate(best.tolist()):
            gone = score - self._let_go
            if gone > self.value:
                self.value, self._from = gone, (start + k, int(which[k]))
            self.value += self._loose[start + k]
            self._scores.append(self.value)
            self._left.append(self._from)

    def lower(self, by: int) -> None:
        """Take `by` off every score."""
        self.value -= by
        self.lowered += by / _ONE
        self._scores[-self._block :] = [score - by for score in self._scores[-self._block :]]

    def left_at(self, t: int) -> tuple[int, int]:
        """Frame and (row, tempo) of the beat before the free time at frame `t`; -1 when none."""
        return self._left[min(t, len(self._left) - 1)]


def _lower(ring: Scores, state: _FreeTime) -> None:
    """Scores only ever matter against each other: keep them within 32 bits."""
    ring -= np.int32(_HIGH << _BITS)
    np.maximum(ring, _LOWEST, out=ring)
    state.lower(_HIGH)


def _row_scores(beat: Floats, first: Floats, places: npt.NDArray[np.int64]) -> Floats:
    """Gain of a beat at each frame for each row, shape (t, rows)."""
    down = -np.logaddexp(0.0, -first)
    other = -np.logaddexp(0.0, first)
    rows = np.where(places[None, :] == 1, down[:, None], other[:, None])
    return (beat[:, None] + rows).astype(np.float32)


def _rounded(scores: Floats) -> Scores:
    return np.round(scores * _ONE).astype(np.int32)
