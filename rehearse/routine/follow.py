"""A routine follows its music into another cut: what is placed stays where it is heard.

A place is carried over by the second of the song that is heard there: position in the old cut,
second of the song, position in the new one. What lost its music is set aside in the routine, told
in seconds of the song, and comes back with its music. Lengths in counts stay counts: the beat goes
on over a join.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from rehearse.music.beatmap import BeatMap
from rehearse.music.cut import Cut, whole
from rehearse.music.position import Count, Position, Seconds
from rehearse.routine.model import Aside, Placed, Routine, Section
from rehearse.words import _, shown

#: Seconds by which a count may have moved against its beat, and two places are one.
_SAME = 0.005
#: Names told one by one; the rest are counted.
_TOLD = 4


@dataclass(frozen=True)
class Music:
    """What a routine stands on: a cut of a song (or the whole of it) and the map of that cut."""

    cut: Cut
    beatmap: BeatMap


def music_of(routine: Routine, beatmap: BeatMap) -> Music:
    """What a routine stands on: its cut, or the whole song."""
    cut = routine.cut or whole(routine.track, beatmap.track_hash, beatmap.duration)
    return Music(cut, beatmap)


def on_music_of(mine: Routine, my_map: BeatMap, other: Routine, its_map: BeatMap) -> Routine | None:
    """Another routine of the same song on the music of mine; None: it is of another song."""
    old, new = music_of(other, its_map), music_of(mine, my_map)
    # One of them may have had another song added: the first one's seconds stay the same.
    added = old.cut.first_hash == new.cut.first_hash and not (old.cut.songs and new.cut.songs)
    if old.cut.hash != new.cut.hash and not added:
        return None
    moved = follow(other, old, new)
    return replace(moved, track=mine.track, stage=mine.stage, cut=mine.cut)


def follow(routine: Routine, old: Music, new: Music) -> Routine:
    """`routine` on another cut of the same song, `new.cut` not yet written into it.

    Poses are taken in their order; of two that would be hit at the same time, in a new cut that
    plays only once what the old one played twice, the second is set aside.
    """
    way = _PlaceMapper(old, new)
    poses: list[Placed] = []
    aside: list[Placed] = []
    hits: list[float] = []
    waiting = [(p, p.hit.value, 0) for p in routine.aside.poses if isinstance(p.hit, Seconds)]
    standing = [(p, *way.of_song(p.hit)) for p in routine.poses]
    for placed, time, turn in sorted([*standing, *waiting], key=lambda row: (row[2], row[1])):
        there = placed in routine.poses
        position = way.into(placed.hit if there else None, time, turn)
        hit = None if position is None else new.beatmap.time_of(position)
        if position is None or hit is None or any(abs(hit - other) < _SAME for other in hits):
            aside.append(way.put_aside(placed, time) if there else placed)
            continue
        hits.append(hit)
        poses.append(way.moved(placed, position, old.beatmap if there else None))
    sections, kept = way.sections(routine)
    return replace(
        routine,
        poses=tuple(sorted(poses, key=lambda p: new.beatmap.time_of(p.hit))),
        sections=tuple(sorted(sections, key=lambda s: new.beatmap.time_of(s.start))),
        aside=Aside(tuple(sorted(aside, key=_place)), tuple(kept)),
    )


def _place(placed: Placed) -> float:
    return placed.hit.value if isinstance(placed.hit, Seconds) else 0.0


class _PlaceMapper:
    """From places in one cut to places in another."""

    def __init__(self, old: Music, new: Music) -> None:
        self.old, self.new = old, new

    def of_song(self, position: Position) -> tuple[float, int]:
        """The second of the song at a position, and how often it was heard before in the cut."""
        heard = self.old.beatmap.time_of(position)
        _unused, time = self.old.cut.song_time(heard)
        earlier = [t for t in self.old.cut.heard_at(time) if t < heard - _SAME]
        return round(time, 6), len(earlier)

    def into(self, was: Position | None, time: float, turn: int) -> Position | None:
        """Where `time` of the song is heard for the `turn`-th time; None: nowhere.

        Args:
            was: the position in the old cut. A count stays one, and so do its quarters, whatever
                a join has made of the step to the next beat.
        """
        if isinstance(was, Count) and was.quarter:
            beat = Count(was.eight, was.count)
            at = self.into(beat, *self.of_song(beat))
            if isinstance(at, Count):
                return replace(at, quarter=was.quarter)
        times = list(self.new.cut.heard_at(time))
        if not times:
            return None
        heard = max(0.0, times[min(turn, len(times) - 1)])
        return self.new.beatmap.position_at(round(heard, 6), _SAME)

    def moved(self, placed: Placed, position: Position, beatmap: BeatMap | None) -> Placed:
        """The pose at its new place; hits inside its hold keep their distance, in counts if so.

        Args:
            beatmap: the map its positions mean; None: they are seconds of the song.
        """
        new = self.new.beatmap
        start = _time(placed.hit, beatmap)
        now = new.time_of(position)
        again = []
        for each in placed.again:
            other = _time(each, beatmap)
            counts = None if beatmap is None else beatmap.counts_between(start, other)
            phase = new.phase_at(now)
            if counts is not None and phase is not None:
                index = int(phase)
                target = phase + counts
                whole = min(int(target), len(new.beats) - 1)
                time = new.beats[whole] + (target - whole) * new.intervals[whole]
                again.append(new.position_at(time, _SAME) if whole >= index else each)
            else:
                again.append(new.position_at(round(now + other - start, 6), _SAME))
        return replace(placed, hit=position, again=tuple(again))

    def put_aside(self, placed: Placed, time: float) -> Placed:
        """The pose in seconds of the song."""
        start = self.old.beatmap.time_of(placed.hit)
        again = (self.old.beatmap.time_of(each) - start + time for each in placed.again)
        return replace(
            placed, hit=Seconds(max(0.0, time)), again=tuple(Seconds(round(t, 6)) for t in again)
        )

    # -- sections ---------------------------------------------------------------------------
    def sections(self, routine: Routine) -> tuple[list[Section], list[Section]]:
        """Sections as far as they are heard, and those that are not, or not whole."""
        made: list[Section] = []
        kept: list[Section] = []
        waiting = {s.id: s for s in routine.aside.sections}
        for section in routine.sections:
            whole = waiting.pop(section.id, None)
            if whole is None or self._heard(whole, self.old) != (section.start, section.end):
                whole = self._in_song(section)
            self._place(whole, section.name, made, kept)
        for whole in waiting.values():
            self._place(whole, whole.name, made, kept)
        return made, kept

    def _in_song(self, section: Section) -> Section:
        beatmap, cut = self.old.beatmap, self.old.cut
        start = cut.song_time(beatmap.time_of(section.start))[1]
        # Its end is heard as the end of what comes before it.
        before = max(0.0, beatmap.time_of(section.end) - 0.1)
        end = cut.song_time(before)[1] + beatmap.time_of(section.end) - before
        if end <= start:  # a part from earlier in the song follows inside it
            end = start + beatmap.time_of(section.end) - beatmap.time_of(section.start)
        return replace(section, start=Seconds(round(start, 6)), end=Seconds(round(end, 6)))

    def _place(self, whole: Section, name: str, made: list[Section], kept: list[Section]) -> None:
        whole = replace(whole, name=name)
        heard = self._heard(whole, self.new)
        if heard is not None:
            made.append(replace(whole, start=heard[0], end=heard[1]))
        if heard is None or not self._is_whole(whole):
            kept.append(whole)

    def _heard(self, whole: Section, music: Music) -> tuple[Position, Position] | None:
        """From where to where a stretch of the song is heard; None: not at all."""
        pieces = self._pieces(whole, music.cut)
        if not pieces:
            return None
        start, end = pieces[0][0], pieces[0][1]
        for a, b in pieces[1:]:
            if abs(a - end) > 2.0:
                break
            end = b
        at = music.beatmap.position_at
        return at(round(start, 6), _SAME), at(round(end, 6), _SAME)

    def _is_whole(self, whole: Section) -> bool:
        start, end = _time(whole.start, None), _time(whole.end, None)
        heard = sum(b - a for a, b in self._pieces(whole, self.new.cut))
        return heard > end - start - 0.1

    @staticmethod
    def _pieces(whole: Section, cut: Cut) -> list[tuple[float, float]]:
        start, end = _time(whole.start, None), _time(whole.end, None)
        found = []
        for part, begin in zip(cut.parts, cut.begins, strict=False):
            a, b = max(start, part.start), min(end, part.end)
            if b - a > 0.3:
                found.append((begin + a - part.start, begin + b - part.start))
        return found


def _time(position: Position, beatmap: BeatMap | None) -> float:
    if isinstance(position, Seconds):
        return position.value
    return beatmap.time_of(position) if beatmap is not None else 0.0


def told_aside(aside: Aside) -> str:
    """What is set aside, in a sentence; empty for nothing."""
    words = names_aside(aside)
    return _("Set aside until their music comes back: {words}.", words=words) if words else ""


def names_aside(aside: Aside) -> str:
    """The names of what is set aside, the first few with their seconds of the song."""
    words = [
        _("{pose} (song {place:.1f} s)", pose=shown(p.pose), place=_place(p)) for p in aside.poses
    ]
    words += [_("section {name}", name=s.name) for s in aside.sections]
    more = _(" and {number} more", number=len(words) - _TOLD) if len(words) > _TOLD else ""
    return ", ".join(words[:_TOLD]) + more
