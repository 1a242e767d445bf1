"""Versions of a song within a limit: a beginning, a build with its hit, a strong end.

The song is taken in eights. A version begins where the song does (or a little later, where its
opening is long), takes in one build whole with the eight its hit begins, and ends on a strong hit
that rings out. At most two joins leave out what lies between. Every way to choose the ends of the
three parts within the limit is weighed by how little its joins show and how strong its build and
its end are; the best few of different builds are joined for real (`joins`) and ranked by that.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from rehearse.files.user_error import UserError
from rehearse.music.analysis.likeness import SongFeatures, hear, places_heard, unlike
from rehearse.music.beatmap import BeatMap
from rehearse.music.cut import Cut, CutPart, SourceSong
from rehearse.music.joins import Joined, Joiner, join_all
from rehearse.music.track import Track
from rehearse.words import _
from rehearse.work.progress import Report, between

#: A version is at most so many seconds shorter than the limit, and how many are offered.
SPARE, OFFERED = 3.0, 3
#: Limits that can be asked for, seconds.
LEAST, MOST = 15.0, 600.0
#: Seconds before the first beat with which a version begins, and of silence before a song's sound.
_BEFORE, _QUIET = 0.06, 0.1
#: A hit rings out for at least and at most so many seconds; the end fades over the last of them.
_RING, _RING_OUT, _FADE = 1.0, 4.0, 1.5
#: Beginning and end last so many seconds at least; of a build so many are kept at most.
_BEGINNING, _END, _BUILD = 7.0, 6.0, 20.0
#: Without eights, places that a join may lie at are so far apart, in seconds.
_GRID = 4.0
#: Level below the song's loudest second from which it counts as silent, decibels.
_SILENT = 45.0
#: What a join costs besides what it shows; versions that are joined for real; share of the sound
#: by which two versions differ at least.
_JOIN, _TRIED, _OTHER = 0.35, 7, 0.12
#: What it costs to leave one of several songs out.
_ONE_SONG = 0.6
#: Seconds left to the limit for what laying beats on beats takes.
_ROOM = 0.05


@dataclass(frozen=True)
class Proposal:
    """One version.

    Args:
        cut: its recipe. fade_out: seconds over which its end fades.
        reason: why these parts, in a sentence. shows: how much its worst join shows.
        joins: its joins as they were found, in order.
    """

    cut: Cut
    fade_out: float
    reason: str
    shows: float
    joins: tuple[Joined, ...] = ()

    @property
    def told(self) -> tuple[str, ...]:
        """What is said of each join, in order."""
        return tuple(j.sentence for j in self.joins)

    @property
    def length(self) -> float:
        """Seconds."""
        return self.cut.length


@dataclass(frozen=True)
class _Climax:
    """A build: its stretch of the song, its hit, how much it weighs (0..1)."""

    start: float
    hit: float
    weight: float
    real: bool


@dataclass(frozen=True)
class _End:
    """A last hit: where it is, where the version ends at the earliest and latest, its strength."""

    hit: float
    soonest: float
    latest: float
    weight: float
    own: bool


@dataclass(frozen=True, eq=False)
class _Skips:
    """Pairs of places between which the song is left out, with seconds and cost; None: nothing."""

    pairs: list[tuple[int, int] | None]
    seconds: npt.NDArray[np.float64]
    costs: npt.NDArray[np.float64]


@dataclass(frozen=True)
class _Route:
    """One way through the song; its joins by the places where parts end and begin."""

    start: float
    joins: tuple[tuple[int, int], ...]
    end: _End
    rise: _Climax
    length: float
    cost: float


def propose(
    track: Track,
    beatmap: BeatMap,
    song: str,
    limit: float,
    report: Report,
    songs: Sequence[SourceSong] = (),
) -> tuple[Proposal, ...]:
    """Up to three versions within `limit`, those whose joins show least first.

    Args:
        track, beatmap: the song and its map. song: its file's name. limit: seconds.
        report: told how far it is; may raise to stop. songs: as in `from_heard`.

    Raises:
        UserError: the limit is out of range, the song is within it, or it has too few places to
            join.
    """
    _check(track, limit)
    heard = hear(track, between(report, 0.0, 0.7))
    return from_heard(track, beatmap, heard, song, limit, report, songs)


def _check(track: Track, limit: float) -> None:
    if not LEAST <= limit <= MOST:
        what = _("a version of {limit:g} s cannot be made", limit=limit)
        raise UserError(what, do=_("write {least:g} to {most:g} seconds", least=LEAST, most=MOST))
    if track.duration <= limit:
        what = _(
            "the song lasts {duration:.1f} s, which is within {limit:g} s",
            duration=track.duration,
            limit=limit,
        )
        raise UserError(what, do=_("write a shorter limit, or use the whole song"))


def from_heard(
    track: Track,
    beatmap: BeatMap,
    heard: SongFeatures,
    song: str,
    limit: float,
    report: Report,
    songs: Sequence[SourceSong] = (),
) -> tuple[Proposal, ...]:
    """As `propose`, of a song that was listened to.

    Args:
        songs: those that it was put together from; no part goes over the pause between two.
    """
    _check(track, limit)
    report(0.7, _("Weighing versions"))
    finder = _Finder(beatmap, heard, limit, songs)
    joiner = Joiner(track, beatmap, heard)
    offered: list[Proposal] = []
    ways = finder.ways()
    for k, way in enumerate(ways):
        report(0.75 + 0.25 * k / len(ways), _("Joining versions"))
        made = finder.proposal(way, joiner, Cut(song, track.content_hash, "", (CutPart(0, 1),)))
        if made is not None and all(_apart(made.cut, o.cut) >= _OTHER for o in offered):
            offered.append(made)
        if len(offered) >= OFFERED + 1:
            break
    report(1.0, _("Versions are ready"))
    if not offered:
        raise UserError(
            _(
                "no version of {limit:g} to {limit2:g} s was found",
                limit=limit - SPARE,
                limit2=limit,
            ),
            where=track.title,
            do=_("choose parts by hand, or another limit"),
        )
    return tuple(sorted(offered, key=lambda p: p.shows)[:OFFERED])


def _apart(one: Cut, other: Cut) -> float:
    """Share of the longer one's sound that is not in the other."""
    common = sum(
        max(0.0, min(a.end, b.end) - max(a.start, b.start))
        for a, b in itertools.product(one.parts, other.parts)
    )
    return 1.0 - common / max(one.length, other.length)


class _Finder:
    """Looks for ways through one song within one limit."""

    def __init__(
        self,
        beatmap: BeatMap,
        heard: SongFeatures,
        limit: float,
        songs: Sequence[SourceSong] = (),
    ) -> None:
        self.beatmap, self.heard, self.limit, self.songs = beatmap, heard, limit, songs
        self.pauses = [(a.end + b.start) / 2 for a, b in itertools.pairwise(songs)]
        self.places = self._places()
        steps = [self._step(time) for time in self.places]
        around = places_heard(heard, self.places, steps)
        self.unlike = unlike(around, around)
        self.level = [heard.power(t, t + 2.0) for t in self.places]
        self.before = [heard.power(t - 2.0, t) for t in self.places]
        self.loudest = max(self.level, default=0.0)
        self.sound = self._sound()
        self._kept: dict[tuple[int, int], _Skips] = {}

    def _places(self) -> list[float]:
        """Where parts may end and begin: eights, and a grid where there is no beat."""
        beatmap = self.beatmap
        eights = [b for b, c in zip(beatmap.beats, beatmap.counts, strict=True) if c.count == 1]
        free = [(s.start, s.end) for s in beatmap.free] if eights else [(0.0, beatmap.duration)]
        grid = [
            self._quietest(start + k * _GRID)
            for start, end in free
            for k in range(1, int((end - start) / _GRID))
        ]
        return sorted({*eights, *grid})

    def _quietest(self, time: float) -> float:
        """The softest tenth of a second within a second."""
        tries = np.arange(time - 1.0, time + 1.0, 0.1)
        return round(float(min(tries, key=lambda t: self.heard.power(t, t + 0.1))), 6)

    def _step(self, time: float) -> float:
        index = self.beatmap.nearest(time)
        near = index >= 0 and abs(self.beatmap.beats[index] - time) < 0.01
        return self.beatmap.intervals[index] if near else 0.5

    def _sound(self) -> tuple[float, float]:
        """Where the song is no longer, and not yet again, silent."""
        level = self.heard.curves.level
        loud = np.flatnonzero(level > float(level.max()) - _SILENT) / 100.0
        last = min(self.beatmap.duration, float(loud[-1]) + 0.3)
        return max(0.0, float(loud[0]) - _QUIET), last

    # -- beginnings, builds, ends -----------------------------------------------------------
    def starts(self) -> Iterator[tuple[float, float]]:
        """Seconds with which a version may begin, and what each costs."""
        yield round(self.sound[0], 6), 0.0
        beatmap = self.beatmap
        later = [b for b, c in zip(beatmap.beats, beatmap.counts, strict=True) if c.count in (1, 5)]
        opening = self.sound[0] + 0.35 * self.limit
        for beat in later:
            if self.sound[0] + 0.5 < beat < opening:
                whole = beatmap.counts[beatmap.nearest(beat)].count == 1
                part = any(abs(p.start - beat) < 0.3 for p in beatmap.parts)
                yield (
                    round(max(0.0, beat - _BEFORE), 6),
                    (0.3 if part else 0.5) + (0.0 if whole else 0.2),
                )

    def rises(self) -> list[_Climax]:
        """Builds with their hits, the heaviest first."""
        found = [
            _Climax(max(b.start, b.accent - _BUILD), b.accent, self._rise_weight(b.accent), True)
            for b in self.beatmap.builds
            if b.accent is not None
        ]
        for time in self.places:
            if all(abs(time - r.hit) > 6.0 for r in found):
                weight = 0.7 * self._rise_weight(time)
                start = time - min(8.0, 8 * self._step(time))
                found.append(_Climax(max(0.0, start), time, weight, False))
        first = self.sound[0] + _BEGINNING
        inside = [r for r in found if r.hit >= first and r.hit < self.sound[1] - 4.0]
        return sorted(inside, key=lambda r: -r.weight)[:8]

    def _rise_weight(self, hit: float) -> float:
        power = self.heard.power
        rise = power(hit, hit + 3.0) - power(max(0.0, hit - 6.0), hit)
        loud = power(hit, hit + 3.0) - self.loudest
        near = [a.strength for a in self.beatmap.accents if abs(a.time - hit) < 0.15]
        return float(np.clip(0.5 + rise / 16.0 + loud / 20.0 + 0.3 * max(near, default=0.0), 0, 1))

    def ends(self) -> list[_End]:
        """Last hits, the strongest first: the song's own, and those of its accents."""
        last = self.sound[1]
        hits = [a for a in self.beatmap.accents if a.time > 0.3 * last]
        own = max((a.time for a in hits if last - 8.0 < a.time < last - 0.4), default=None)
        found = []
        if own is None:
            before = [b for b in self.beatmap.beats if b < last - _RING]
            own = before[-1] if before else last - 2.0
        found.append(_End(own, min(last, own + _RING), last, 1.0, True))
        for accent in hits:
            loud = self.heard.power(accent.time, accent.time + 1.0) - self.loudest
            weight = float(np.clip(0.55 * accent.strength + 0.25 + loud / 24.0, 0.0, 0.85))
            if accent.time + _RING_OUT < last and abs(accent.time - own) > 1.0:
                hit = accent.time
                found.append(_End(hit, hit + 1.5 * _RING, hit + _RING_OUT, weight, False))
        if len(found) < 4:
            found += self._plain_ends()
        return sorted(filter(None, map(self._in_song, found)), key=lambda e: -e.weight)[:10]

    def _in_song(self, end: _End) -> _End | None:
        """The end as far as its own song goes; None: that song is out before it rang out."""
        latest = min([end.latest, *(pause for pause in self.pauses if pause > end.hit)])
        return replace(end, latest=latest) if latest >= end.soonest else None

    def _plain_ends(self) -> list[_End]:
        """Eights to end on where few hits stand out."""
        later = [t for t in self.places if 0.3 * self.sound[1] < t < self.sound[1] - _RING_OUT]
        ends = [_End(t, t + 1.5 * _RING, t + _RING_OUT, 0.2, False) for t in later]
        return ends[-8:]

    # -- ways -------------------------------------------------------------------------------
    def ways(self) -> list[_Route]:
        """The best ways, the cheapest first, several for each of the builds and ends."""
        best: dict[tuple[float, float], list[_Route]] = {}
        rises, ends, starts = self.rises(), self.ends(), list(self.starts())
        for rise, end in itertools.product(rises, ends):
            if end.hit < rise.hit + 0.5:
                continue
            found: list[_Route] = []
            for start, dear in starts:
                found += self._through(start, dear, rise, end)
            best[(rise.hit, end.hit)] = sorted(found, key=lambda w: w.cost)[:2]
        ways = sorted(itertools.chain(*best.values()), key=lambda w: w.cost)
        return self._varied(ways)

    def _varied(self, ways: Sequence[_Route]) -> list[_Route]:
        """The cheapest of each build in turn, then of each end."""
        seen: dict[float, int] = {}
        ranked = []
        for way in ways:
            turn = seen.get(way.rise.hit, 0)
            seen[way.rise.hit] = turn + 1
            ranked.append((way.cost + 0.35 * turn, way))
        return [way for _unused, way in sorted(ranked, key=lambda pair: pair[0])[: 3 * _TRIED]]

    def _through(self, start: float, dear: float, rise: _Climax, end: _End) -> Iterator[_Route]:
        """The best ways from a start over a build to an end."""
        if rise.start < start - 0.3:
            return
        places = np.asarray(self.places)
        first = int(np.searchsorted(places, start + _BEGINNING - 0.5))
        build = int(np.searchsorted(places, rise.start + 0.3, side="right")) - 1
        # An eight follows the hit before anything is left out.
        after = int(np.searchsorted(places, rise.hit + 2.0))
        final = int(np.searchsorted(places, end.hit - _END + 0.5, side="right")) - 1
        before, behind = self._skips(first, build), self._skips(after, final)
        spent = start + before.seconds[:, None] + behind.seconds[None, :]
        longest = np.minimum(end.latest - spent, self.limit - _ROOM)
        fits = longest >= np.maximum(end.soonest - spent, self.limit - SPARE + _ROOM)
        fits[0, 0] = False  # nothing left out: no cut at all
        inside = [pause for pause in self.pauses if start < pause < end.hit]
        for pause in inside:
            over = (self._over(skips, pause) for skips in (before, behind))
            fits &= np.logical_or.outer(*over)
        cost = np.where(fits, before.costs[:, None] + behind.costs[None, :], np.inf)
        cheap = dear - 0.9 * rise.weight - 0.5 * end.weight + (0.0 if rise.real else 0.4)
        cheap += _ONE_SONG * (len(self.pauses) - len(inside))
        for _unused in range(2):
            i, j = np.unravel_index(int(np.argmin(cost)), cost.shape)
            if not np.isfinite(cost[i, j]):
                return
            pairs = (before.pairs[i], behind.pairs[j])
            joins = tuple(pair for pair in pairs if pair is not None)
            total = cheap + float(cost[i, j])
            yield _Route(start, joins, end, rise, float(longest[i, j]), total)
            cost[i, j] = np.inf

    def _skips(self, first: int, last: int) -> _Skips:
        """What may be left out between two places: nothing, or from one to a later one."""
        key = (first, last)
        if key not in self._kept:
            pairs = list(itertools.combinations(range(max(0, first), last + 1), 2))
            seconds = [self.places[into] - self.places[left] for left, into in pairs]
            costs = [_JOIN + self._cost(left, into) for left, into in pairs]
            self._kept[key] = _Skips(
                [None, *pairs], np.array([0.0, *seconds]), np.array([0.0, *costs])
            )
        return self._kept[key]

    def _over(self, skips: _Skips, time: float) -> npt.NDArray[np.bool_]:
        """Which of these leave out the sound at a time."""
        return np.array(
            [p is not None and self.places[p[0]] <= time <= self.places[p[1]] for p in skips.pairs]
        )

    def _cost(self, left: int, into: int) -> float:
        step = self.level[into] - self.before[left]
        return float(self.unlike[left, into]) + 0.03 * max(0.0, abs(step) - 3.0)

    # -- for real ---------------------------------------------------------------------------
    def proposal(self, way: _Route, joiner: Joiner, like: Cut) -> Proposal | None:
        """The way with its joins found; None where they take it out of the limit."""
        edges = [way.start, *(self.places[k] for pair in way.joins for k in pair)]
        length = sum(b - a for a, b in zip(edges[1::2], edges[2::2], strict=True))
        edges.append(round(way.start + way.length + length, 6))
        parts = tuple(CutPart(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True))
        made, found = join_all(joiner, parts)
        cut = replace(like, parts=made)
        over = cut.length - self.limit
        if over > -0.01 or cut.length < self.limit - SPARE:
            last = made[-1]
            end = min(last.end - over - 0.02, way.end.latest)
            if end < way.end.soonest:
                return None
            cut = replace(cut, parts=(*made[:-1], replace(last, end=round(end, 6))))
        if not self.limit - SPARE <= cut.length <= self.limit:
            return None
        whole = way.end.own and cut.parts[-1].end > way.end.latest - 0.1
        fade = 0.05 if whole else min(_FADE, 0.7 * (cut.parts[-1].end - way.end.hit))
        return Proposal(
            cut,
            round(fade, 3),
            self._reason(way, whole),
            round(max(j.shows for j in found) + 0.1 * len(found), 3),
            found,
        )

    def _reason(self, way: _Route, whole: bool) -> str:
        """Why these parts, in a sentence."""
        later = way.start > self.sound[0] + 0.5
        begin = (
            _("starts at {clock}", clock=self._clock(way.start))
            if later
            else _("the song's own start")
        )
        kind = _("the build") if way.rise.real else _("the rise")
        build = _(
            "{kind} at {clock} with its hit at {clock2}",
            kind=kind,
            clock=self._clock(way.rise.start),
            clock2=self._clock(way.rise.hit),
        )
        end = (
            _("the song's own end")
            if whole
            else _("ends on the hit at {clock}", clock=self._clock(way.end.hit))
        )
        return f"{begin}, {build}, {end}"

    def _clock(self, time: float) -> str:
        """A time as minutes and seconds, of several songs with the song's number."""
        number = sum(1 for song in self.songs if song.start <= time)
        time -= self.songs[number - 1].start if number else 0.0
        clock = f"{int(time // 60)}:{int(time % 60):02d}"
        return _("{clock} of song {number}", clock=clock, number=number) if number > 1 else clock
