"""Keeping a routine at its place in the music when the beat map under it is corrected."""

from __future__ import annotations

from dataclasses import replace

from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Count, Length, Position, Seconds
from rehearse.routine.model import Move, Placed, Routine, Section
from rehearse.routine.moving import chain

#: How far a place may move by rewriting it, seconds.
SAME = 0.001
#: Lengths in counts are written in steps of a quarter.
_QUARTER = 0.25
#: Seconds before the end of a shorter song at which poses are put, and to a count near by.
_LAST, _NEAR = 2.0, 0.1


def remap(routine: Routine, old: BeatMap, new: BeatMap, *, follow: float = 0.0) -> Routine:
    """The routine with its counts rewritten from map `old` to map `new`.

    Every hit, hold, transition, move and section keeps its place in the music within a
    millisecond.
    What falls on a count of the new map (or a quarter of one) is written as that count; what
    falls between becomes seconds. Counts that `old` does not have stay as they are.

    Args:
        routine: what is kept.
        old, new: the maps before and after the correction.
        follow: what is written in counts may move along with its beat by up to this many
            seconds and stays a count; for corrections that only shift beats a little.
    """
    moved = _Move(old, new, follow)
    return replace(
        routine,
        poses=tuple(moved.placed(p) for p in routine.poses),
        sections=tuple(moved.section(s) for s in routine.sections),
        exit=moved.way_off(routine),
    )


def carry_over(routine: Routine, old: BeatMap, new: BeatMap) -> Routine:
    """The routine on the map of another song: counts that it has too are kept.

    What stands on a count that the new song lacks goes where its time was, or before the end of a
    shorter song, so that every position is in the map and the routine can be opened again.
    """
    last = max(0.0, new.duration - _LAST)

    def kept(position: Position, latest: float = last) -> Position:
        try:
            new.time_of(position)
        except KeyError:
            time = old.time_of(position) if _has(old, position) else latest
            return new.position_at(round(min(time, latest), 2), _NEAR)
        return position

    def section(part: Section) -> Section:
        start, end = kept(part.start), kept(part.end, new.duration)
        if new.time_of(end) <= new.time_of(start):
            start, end = Seconds(round(last, 2)), Seconds(round(new.duration, 2))
        return replace(part, start=start, end=end)

    return replace(
        routine,
        poses=tuple(
            replace(p, hit=kept(p.hit), again=tuple(kept(a) for a in p.again))
            for p in routine.poses
        ),
        sections=tuple(map(section, routine.sections)),
    )


def _has(beatmap: BeatMap, position: Position) -> bool:
    try:
        beatmap.time_of(position)
    except KeyError:
        return False
    return True


class _Move:
    def __init__(self, old: BeatMap, new: BeatMap, follow: float) -> None:
        self.old, self.new, self.follow = old, new, follow

    def position(self, position: Position) -> Position:
        if isinstance(position, Seconds):
            return position
        try:
            time = self.old.time_of(position)
        except KeyError:
            return position
        exact = self.new.position_at(time, SAME)
        if isinstance(exact, Count) or not self.follow:
            return exact
        return self.new.position_at(time, self.follow)

    def placed(self, placed: Placed) -> Placed:
        try:
            start, hit, end = placed.times(self.old)
        except KeyError:
            return placed
        moved = self.position(placed.hit)
        now = self.new.time_of(moved)
        # What moves with its beat takes its hold and its transition along.
        hold = self._length(placed.hold, now, end - hit)
        transition = self._length(placed.transition, now, start - hit)
        again = tuple(self.position(position) for position in placed.again)
        # Each move keeps the seconds from the start of its transition, however it is told.
        moves = self._moves(placed.moves, start, now + (start - hit))
        return replace(
            placed, hit=moved, hold=hold, transition=transition, again=again, moves=moves
        )

    def way_off(self, routine: Routine) -> tuple[Move, ...]:
        if not routine.exit or not routine.poses:
            return routine.exit
        try:
            end = routine.poses[-1].times(self.old)[2]
        except KeyError:
            return routine.exit
        return self._moves(routine.exit, end, end)

    def _moves(self, moves: tuple[Move, ...], start: float, now: float) -> tuple[Move, ...]:
        """The moves that lay from `start` on in the old map, from `now` on in the new one."""
        shift, kept = now - start, []
        for timed in chain(moves, start, self.old):
            # From where the one before ends now, so that no millisecond adds to the next.
            seconds = max(0.0, timed.end + shift - now)
            kept.append(replace(timed.move, length=self._length(timed.move.length, now, seconds)))
            now = self.new.shift(now, kept[-1].length)
        return tuple(kept)

    def section(self, section: Section) -> Section:
        return replace(section, start=self.position(section.start), end=self.position(section.end))

    def _length(self, length: Length, hit: float, seconds: float) -> Length:
        """`length` from `hit` in the new map, so that it lasts `seconds` (negative: before)."""
        if not length.in_counts:
            return length
        sign = -1.0 if seconds < 0 else 1.0
        slack = max(SAME, self.follow)
        # A transition that would begin before the song begins with it, as `Placed.times` has it.
        same = max(0.0, self.new.shift(hit, Length(sign * length.value)))
        if abs(same - hit - seconds) <= slack:
            return length
        counts = self.new.counts_between(*sorted((hit, hit + seconds)))
        if counts is not None:
            value = round(counts / _QUARTER) * _QUARTER
            ends = self.new.shift(hit, Length(sign * value))
            if value > 0 and abs(ends - hit - seconds) <= slack:
                return Length(value)
        return Length(round(abs(seconds), 3), in_counts=False)
