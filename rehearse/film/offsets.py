"""Early or late: one reading for each hit, with its doubt, or why there is none.

The signals vote: what counts is the stop that most of them see. What they disagree about, how
slowly the fast part ended and how far apart the pictures are make up the doubt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from rehearse.film.arrival import Array, Stop, stops, window
from rehearse.film.body import MAIN, VOICES, Body, remaining
from rehearse.film.movement import Motion
from rehearse.film.points import speed_of_points
from rehearse.words import _
from rehearse.work.progress import Report


class Unread(StrEnum):
    """Why a hit has no reading; the words are the program's."""

    OUTSIDE = "not in the film"
    UNSEEN = "nothing can be seen of it"
    STILL = "hardly moved"
    RESTLESS = "did not come to rest"
    FAR = "nothing arrived near the hit"
    UNSURE = "the picture is not clear enough"


#: Part of the film's median movement under which a pose was hardly moved into.
_MOVED = 0.12
#: Mean speed after the arrival, and seconds of moving on, from which it was no arrival.
_REST, _RESUME = 0.28, 0.16
#: Way left at the start of a stop under which it is no way in (the body was there before), and by
#: how much that counts against it.
_THERE, _NO_WAY = 0.25, 10.0
#: Ways left before and after by which the pictures themselves show that a pose was gone into, and
#: the speed after it and peak over noise that then do: after a small way breath and shake are a
#: large part of the peak.
_FROM, _TO, _REST_SEEN, _CLEAR_SEEN = 0.45, 0.45, 0.4, 4.0
#: Seconds from the hit beyond which what was found is another movement.
_FAR = 0.55
#: Seconds of disagreement, part of the voices elsewhere, and peak over noise.
_DISAGREE, _LOST, _CLEAR = 0.07, 0.55, 6.0
#: Distance from the hold's picture above which the body is still on its way.
_UNDER_WAY = 0.75
#: Seconds of fast part from which an arrival is slow: no moment of it is an arrival. A reach of
#: 1.1 s is over a fifth of its peak speed for 0.82 s.
SLOW = 0.85
#: Seconds between two fast parts of one way, at most: a longer pause ends the way.
_PAUSE = 0.06
#: Seconds round a vote within which a signal's stop is the same one.
_SAME = 0.15
#: Seconds that a time stamp lies before the middle of what its picture shows: half an exposure
#: and the readout (common practice, no source).
EXPOSURE = 0.011
#: Milliseconds of doubt that every reading has.
_LEAST = 28.0
#: Milliseconds of doubt of a way down to the knees (the drop ends before the rest of the body: all
#: signals read such hits 80 to 100 ms early), of the voices that are elsewhere, and of a movement
#: as large as the film's usual one; a smaller one has more.
_KNEELS, _ELSEWHERE, _USUAL = 55.0, 100.0, 8.0
#: The extra's signal, and its voice: the others' together are 2.7. Seconds after the hit of a hold
#: of which there is too little to look for the quietest part.
_POINTS, _VOICE, _HELD = "points", 2.4, 0.6
#: Most that may be unread before a film is refused as a whole.
MOST_UNREAD = 0.4


@dataclass(frozen=True)
class Offset:
    """What was read at one hit.

    Args:
        arrived: film second of the arrival; None where there is none.
        early_or_late: seconds after the hit (+) or before it; None for a slow arrival.
        doubt: half of what is told: the reading is within twice this in 9 of 10 cases, seconds.
        slow: it arrived over a long way, so that no moment of it is the arrival.
        took: seconds that the fast part of the way took.
        why: why there is no reading; None where there is one.
    """

    arrived: float | None = None
    early_or_late: float | None = None
    doubt: float | None = None
    slow: bool = False
    took: float | None = None
    why: Unread | None = None


@dataclass(frozen=True)
class _Vote:
    time: float
    disagree: float
    lost: float
    stops: dict[str, Stop]
    way: float

    def middle(self, what: str) -> float:
        return float(np.median([getattr(stop, what) for stop in self.stops.values()]))

    def rested(self, most: float) -> bool:
        """Whether the body rested: its points, where they stop too, are on nobody else."""
        points = self.stops.get(_POINTS)
        if points is not None and points.rest <= most and points.resume <= _RESUME:
            return True
        return self.middle("rest") <= most and self.middle("resume") <= _RESUME

    @property
    def main(self) -> Stop:
        return self.stops.get(MAIN) or next(iter(self.stops.values()))


def read_offsets(
    motion: Motion,
    body: Body,
    hits: Sequence[float],
    kneels: Sequence[bool] = (),
    report: Report | None = None,
) -> list[Offset]:
    """One reading for each hit, film seconds, rising; `kneels`: which ways go down to the knees."""
    votes: list[_Vote | None] = []
    ways: list[tuple[float, float]] = []
    for k, hit in enumerate(hits):
        before = hits[k - 1] if k else None
        after = hits[k + 1] if k + 1 < len(hits) else None
        around = window(hit, before, after)
        hold = _hold(body, hit, min(hit + 1.3, (after or hit + 2) - 0.35))
        found = _stops(motion, body, hit, around, hold)
        left = _way_left(motion, body, around[0], hold)
        votes.append(_vote(found, hit, left))
        ways.append(_before_and_after(left, votes[-1]))
        if report is not None:
            report((k + 1) / len(hits), _("Reading the hits"))
    areas = [vote.way for vote in votes if vote is not None]
    usual = float(np.median(areas)) if areas else 1.0
    frame = float(np.median(np.diff(motion.times)))
    low = kneels or [False] * len(hits)
    return [
        _offset(vote, hit, usual, way, frame, _KNEELS if down else 0.0)
        for vote, hit, way, down in zip(votes, hits, ways, low, strict=True)
    ]


def _stops(
    motion: Motion, body: Body, hit: float, around: tuple[float, float], hold: _Hold
) -> dict[str, list[Stop]]:
    """The stops of each signal, by its name."""
    found = {name: stops(body.times, s, hit, *around) for name, s in body.signals.items()}
    if motion.album is not None:
        middle = hit + _HELD if hold is None else hold[0]
        speed = speed_of_points(motion.album, motion.times, body.box, around, middle)
        found[_POINTS] = [] if speed is None else stops(*speed, hit, *around)
    return found


#: Film second of the middle of the quietest quarter second, and of the end of where it was sought.
_Hold = tuple[float, float] | None
_Left = tuple[Array, Array] | None


def _at(left: _Left, time: float) -> float:
    return 0.0 if left is None else float(np.interp(time, left[0], left[1]))


def _against(stop: Stop, left: _Left) -> float:
    """What the pictures say against a stop: much way left after it, or none before it."""
    if left is None:
        return 0.0
    there = max(0.0, _THERE - _at(left, stop.start))
    return 5 * max(0.0, _at(left, stop.time) - 0.4) + _NO_WAY * there


def _before_and_after(left: _Left, vote: _Vote | None) -> tuple[float, float]:
    """The way left at the start of what was voted for, and at its end."""
    if vote is None or left is None:
        return 0.0, 0.0
    return _at(left, min(stop.start for stop in vote.stops.values())), _at(left, vote.time)


def _hold(body: Body, hit: float, end: float) -> _Hold:
    """The quietest quarter second after the hit; None: there is too little after it."""
    inside = np.flatnonzero((body.times >= hit - 0.1) & (body.times <= end))
    if len(inside) < 40:
        return None
    means = np.convolve(body.signals[MAIN][inside], np.ones(30) / 30, "valid")
    return float(body.times[inside[0] + int(means.argmin()) + 15]), end


def _way_left(motion: Motion, body: Body, start: float, hold: _Hold) -> _Left:
    """The way left to the picture of the hold."""
    if hold is None:
        return None
    quiet, end = hold
    return remaining(motion, body, start - 0.3, max(end, quiet) + 0.1, (quiet - 0.15, quiet + 0.15))


def _vote(found: dict[str, list[Stop]], hit: float, left: _Left) -> _Vote | None:
    """The stop most signals see; of each its best two are heard."""
    voices = {**VOICES, _POINTS: _VOICE} if _POINTS in found else VOICES
    heard: list[tuple[str, float, Stop]] = []
    for name, some in found.items():
        scored = [(s.score - _against(s, left), s) for s in some]
        scored.sort(key=lambda pair: -pair[0])
        for k, (score, stop) in enumerate(scored[:2]):
            weight = np.exp(min(0.0, score - scored[0][0]) / 2) * (1.0 if k == 0 else 0.5)
            heard.append((name, voices[name] * float(weight), stop))
    if not heard:
        return None
    whole = sum(voices.values())

    def backed(time: float) -> float:
        near = sum(w * np.exp(-0.5 * ((time - s.time) / 0.05) ** 2) for _name, w, s in heard)
        return float(near) / whole - 0.25 * ((time - hit) / 0.35) ** 2

    chosen = max((stop.time for _name, _weight, stop in heard), key=backed)
    near: dict[str, Stop] = {}
    for name, _weight, stop in heard:
        away = abs(stop.time - chosen)
        if away <= _SAME and (name not in near or away < abs(near[name].time - chosen)):
            near[name] = stop
    order = sorted(near, key=lambda name: near[name].time)
    weights = np.array([voices[name] for name in order])
    times = np.array([near[name].time for name in order])
    sums = np.cumsum(weights)
    time = float(times[np.searchsorted(sums, sums[-1] / 2)])
    disagree = float(np.sqrt((weights * (times - time) ** 2).sum() / sums[-1]))
    way = _way(found, near)
    return _Vote(time, disagree, 1 - float(sums[-1]) / whole, near, way)


def _way(found: dict[str, list[Stop]], near: dict[str, Stop]) -> float:
    """The whole way: a reach may slow down and go on without a pause, which makes two parts."""
    name = MAIN if MAIN in near else next(iter(near))
    begun, covered = near[name].start, near[name].area
    for stop in sorted(found[name], key=lambda stop: -stop.time):
        if begun - _PAUSE <= stop.time < near[name].time:
            begun, covered = stop.start, covered + stop.area
    return covered


def _offset(
    vote: _Vote | None, hit: float, usual: float, way: tuple[float, float], frame: float, low: float
) -> Offset:
    if vote is None:
        return Offset(why=Unread.UNSEEN)
    if why := _why(vote, hit, usual, way):
        return Offset(why=why)
    arrived = vote.time + EXPOSURE
    took = vote.time - vote.main.start
    if took > SLOW:
        return Offset(arrived, slow=True, took=took)
    return Offset(arrived, arrived - hit, _doubt(vote, usual, frame, low), took=took)


def _why(vote: _Vote, hit: float, usual: float, way: tuple[float, float]) -> Unread | None:
    if vote.way < _MOVED * usual:
        return Unread.STILL
    seen = way[0] > _FROM and way[1] < _TO
    if not vote.rested(_REST_SEEN if seen else _REST):
        return Unread.RESTLESS
    if abs(vote.time - hit) > _FAR:
        return Unread.FAR
    clear = _CLEAR_SEEN if seen else _CLEAR
    unclear = vote.main.top < clear * vote.main.noise or way[1] > _UNDER_WAY
    if unclear or vote.disagree > _DISAGREE or vote.lost > _LOST:
        return Unread.UNSURE
    return None


def _doubt(vote: _Vote, usual: float, frame: float, low: float) -> float:
    """Half of the doubt that is told, in seconds; parts add up as independent ones do."""
    parts = (
        _LEAST,
        250 * frame,
        600 * vote.disagree,
        0.7 * 350 * vote.middle("fall"),
        0.7 * 250 * vote.middle("spread"),
        _ELSEWHERE * vote.lost,
        _USUAL * usual / max(vote.way, 0.1 * usual),
        low,
        300 * vote.main.noise / max(vote.main.top, 1e-9),
    )
    return float(np.sqrt(sum(part**2 for part in parts))) / 1000
