"""Suggestions from the music: where a pose would sit well, each with its reason.

Offered, never forced: a strong accent without a pose; a build that ends in an accent (a reach or
a rise that arrives with it, the hit is its end); near-silence before a hit (gather small, then open
into a pose); another quiet stretch, fit for a slow or kneeling transition; accents inside a hold,
or too near to each other for a pose each (the same pose is hit again); where all that is too
little to begin with, the 1 of an eight. That these moments suit poses and moves is common practice
of the trade, no source.

Of the poses that fit, one that the rules still miss goes first, then one that can be reached in
time from its neighbours, then the mandatory ones, then one that shows another side than they do.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from rehearse.music.beatmap import BeatMap, Build, Stretch
from rehearse.music.position import Count, Length, Position, Seconds
from rehearse.routine import edits
from rehearse.routine.beginnings import beginnings
from rehearse.routine.checks.case import Case, Thresholds, load_thresholds, make_case
from rehearse.routine.checks.pose_checks import missing
from rehearse.routine.checks.timing import SLACK, wanted_between
from rehearse.routine.model import Level, Move, Placed, Routine, new_id
from rehearse.routine.pose import Pose
from rehearse.routine.poses import Catalogue, plain
from rehearse.routine.rules import RuleSet
from rehearse.routine.snapping import Snap, place_of_accent, snap
from rehearse.routine.timed_pose import TimedPose
from rehearse.words import _, listed, ngettext, shown

#: Accents weaker than this (0..1) are left alone.
_STRONG = 0.5
#: A hit this near an accent is on it, in seconds.
_ON = 0.08
#: Shortest quiet stretch worth a slow transition, and longest build to rise with, in seconds.
_QUIET, _LONGEST_BUILD = 3.0, 16.0
_CANDIDATES = 3
#: Near-silence this short is enough to gather in, and a hit this soon after it is its hit, in s.
_HUSH, _SOON = 1.5, 2.0
#: Accents this near to each other are a run, in seconds, and so many of them.
_RUN, _MANY = 2.0, 3
#: A hit once more comes at least this long after the hit, and before the hold's end, in seconds.
_AGAIN_AFTER, _AGAIN_BEFORE = 0.7, 0.4
#: The longest hold with hits once more that is offered, in seconds.
_LONGEST_HOLD = 8.0

Kind = Literal["accent", "build", "quiet", "run", "again", "eight"]


@dataclass(frozen=True)
class Suggestion:
    """A place for a pose, or a longer transition for one that is there.

    Args:
        kind: what in the music speaks for it.
        hit, hold, transition: where and how long.
        start, time, end: the same in seconds: transition start, hit, end of the hold.
        poses: names that would fit, best first; empty when a placed pose is meant.
        pose_id: the placed pose whose transition is meant, or empty.
        moves: what to do on the way, beside the moves that are there.
        again: where the pose is hit once more.
        reason: one sentence without its full stop.
        strength: 0..1, how much the music asks for it.
    """

    kind: Kind
    hit: Position
    hold: Length
    transition: Length
    start: float
    time: float
    end: float
    poses: tuple[str, ...]
    pose_id: str
    reason: str
    strength: float
    moves: tuple[Move, ...] = ()
    again: tuple[Position, ...] = ()

    @property
    def on_accent(self) -> bool:
        """Whether an accent is what it is for."""
        return self.kind in ("accent", "build", "run")

    @property
    def words(self) -> str:
        """What would be put there, in a few words."""
        if self.kind == "again":
            return _("hit again")
        moves = listed(shown(move.move) for move in self.moves)
        what = shown(self.poses[0]) if self.poses else "" if moves else _("a longer transition")
        if moves and what:
            return _("{moves}, then {pose}", moves=moves, pose=what)
        return moves or what


def suggest(
    routine: Routine,
    beatmap: BeatMap,
    catalogue: Catalogue,
    thresholds: Thresholds | None = None,
    rules: RuleSet | None = None,
    *,
    least: int = 0,
) -> tuple[Suggestion, ...]:
    """All suggestions that fit beside the poses there are and beside each other, by time.

    Args:
        rules: of the show; what they still miss is offered first. None: no rules.
        least: so many poses, placed and suggested ones together, are reached with the beginnings
            of eights, or in free time, where the music says too little.
    """
    limits = thresholds or load_thresholds()
    case = make_case(routine, beatmap, catalogue, rules or RuleSet("open", "open"), limits)
    room = _Room(case, catalogue.with_own(routine.own_poses))
    found = [*room.builds(), *room.hushes(), *room.quiets(), *room.runs(), *room.accents()]
    new = sum(1 for suggestion in found if not suggestion.pose_id)
    found += room.beginnings(least - len(routine.poses) - new)
    found += room.agains()
    return tuple(sorted(found, key=lambda s: s.time))


def accept(
    routine: Routine, beatmap: BeatMap, suggestion: Suggestion, pose: str = "", pose_id: str = ""
) -> Routine:
    """Do what a suggestion says.

    Args:
        pose: the pose to put there; empty takes the first that fits.
        pose_id: id of a new pose; empty: a random one.
    """
    moves = tuple(replace(move, id=new_id()) for move in suggestion.moves)
    if suggestion.pose_id:
        placed = routine.placed(suggestion.pose_id)
        again = tuple(sorted({*placed.again, *suggestion.again}, key=beatmap.time_of))
        return edits.change(
            routine,
            beatmap,
            suggestion.pose_id,
            transition=suggestion.transition,
            moves=(*moves, *placed.moves),
            again=again,
        )
    name = pose_id or new_id()
    put = edits.place(
        routine,
        beatmap,
        pose or suggestion.poses[0],
        suggestion.hit,
        hold=suggestion.hold,
        transition=suggestion.transition,
        pose_id=name,
    )
    return edits.change(put, beatmap, name, moves=moves, again=suggestion.again)


class _Room:
    """Finds places one after the other, each taking its room from those that follow."""

    def __init__(self, case: Case, catalogue: Catalogue) -> None:
        self.case, self.beatmap = case, case.beatmap
        self.offered: set[str] = set()
        self.taken = [Stretch(s.start, max(s.end, s.hit + 0.01)) for s in case.timed_poses]
        used = {s.pose.name for s in case.timed_poses}
        fresh = [p for p in catalogue.poses if p.name not in used and "stance" not in p.name]
        self.fresh = fresh
        self.missing = missing(case)

    def builds(self) -> Iterator[Suggestion]:
        """Builds that end in an accent, a pose on it or not."""
        for build in self.beatmap.builds:
            if build.accent is None or build.end - build.start > _LONGEST_BUILD:
                continue
            held = [s for s in self.case.timed_poses if abs(s.hit - build.end) <= _ON]
            found = self._rising(build, held[0].placed.id if held else "")
            if found is not None:
                yield found

    def _rising(self, build: Build, pose_id: str) -> Suggestion | None:
        hit = place_of_accent(self.beatmap, build.accent or build.end)
        time = self.beatmap.time_of(hit)
        transition = self._span(build.start, time)
        rise = _("the music rises from {place}", place=self.case.place(build.start))
        if not pose_id:
            before = self._before(time)
            moves = self._moves(_arriving(before), transition)
            way = _(": {move} and arrive with it", move=shown(moves[0].move)) if moves else ""
            reason = _("{rise} and ends in an accent here{way}", rise=rise, way=way)
            poses = self._fitting(Level.STANDING, time, transition)
            return self._make("build", hit, transition, poses, reason, 0.9, moves)
        timed_pose = next(s for s in self.case.timed_poses if s.placed.id == pose_id)
        others = [s.end for s in self.case.timed_poses if s.hit < timed_pose.hit]
        if timed_pose.start <= build.start + 0.25 or any(e > build.start + _ON for e in others):
            return None
        moves = (
            ()
            if timed_pose.placed.moves
            else self._moves(_arriving(self._before(time)), transition)
        )
        return Suggestion(
            kind="build",
            hit=timed_pose.placed.hit,
            hold=timed_pose.placed.hold,
            transition=transition,
            start=build.start,
            time=timed_pose.hit,
            end=timed_pose.end,
            poses=(),
            pose_id=pose_id,
            reason=_("{rise} to this hit", rise=rise),
            strength=0.9,
            moves=moves,
        )

    def hushes(self) -> Iterator[Suggestion]:
        """Near-silence with a strong hit behind it: gather small, then a big pose on the hit."""
        for quiet in self.beatmap.quiets:
            length = quiet.end - quiet.start
            accent = next(
                (
                    a
                    for a in self.beatmap.marked
                    if quiet.end - _ON <= a.time <= quiet.end + _SOON and a.strength >= _STRONG
                ),
                None,
            )
            if length < _HUSH or accent is None:
                continue
            hit = place_of_accent(self.beatmap, accent.time)
            time = self.beatmap.time_of(hit)
            start = max(quiet.start, time - 8.0)
            held = [s.end for s in self.case.timed_poses if s.hit < time and s.end > start]
            transition = self._span(max([start, *held]), time)
            moves = self._moves("gather", transition)
            why = _(
                "{length:.0f} s of near-silence, then a hit: gather small, then open into it",
                length=length,
            )
            if moves:
                yield from self._hush(hit, time, transition, moves, why)

    def _hush(
        self, hit: Position, time: float, way: Length, moves: tuple[Move, ...], why: str
    ) -> Iterator[Suggestion]:
        there = next((s for s in self.case.timed_poses if abs(s.hit - time) <= _ON), None)
        if there is None:
            poses = self._fitting(Level.STANDING, time, way)
            found = self._make("quiet", hit, way, poses, why, 0.85, moves)
            if found is not None:
                yield found
        elif not there.placed.moves:
            placed, start = (
                there.placed,
                self.beatmap.shift(time, Length(-way.value, way.in_counts)),
            )
            yield Suggestion(
                "quiet", placed.hit, placed.hold, way, start, there.hit, there.end, (),
                placed.id, why, 0.85, moves,
            )  # fmt: skip

    def quiets(self) -> Iterator[Suggestion]:
        """Quiet stretches with room for a slow way down."""
        for quiet in self.beatmap.quiets:
            if quiet.end - quiet.start < _QUIET:
                continue
            way = min(self.case.thresholds.to_kneeling * 1.5, (quiet.end - quiet.start) / 2)
            hit = snap(self.beatmap, quiet.start + way, Snap.COUNTS)
            transition = self._span(quiet.start, self.beatmap.time_of(hit))
            reason = _(
                "{end:.0f} s of quiet are fit for a slow way to the knees",
                end=quiet.end - quiet.start,
            )
            poses = self._fitting(Level.KNEELING, self.beatmap.time_of(hit), transition)
            found = self._make("quiet", hit, transition, poses, reason, 0.7)
            if found is not None:
                yield found

    def runs(self) -> Iterator[Suggestion]:
        """Accents in a row, too near to each other for a pose each: one pose, hit on all."""
        strong = [a.time for a in self.beatmap.marked if a.strength >= _STRONG]
        limits = self.case.thresholds
        for run in _runs(strong):
            apart = (run[-1] - run[0]) / (len(run) - 1)
            if apart >= limits.shortest_hold + limits.arms_only:
                continue  # there is time for a pose on each
            run = [t for t in run if t - run[0] <= _LONGEST_HOLD - 1.0]
            hit = place_of_accent(self.beatmap, run[0])
            time = self.beatmap.time_of(hit)
            transition = Length(2) if isinstance(hit, Count) else Length(1.5, in_counts=False)
            counted = isinstance(hit, Count)
            end = self.beatmap.shift(run[-1], Length(2.0) if counted else Length(1.0, False))
            again = tuple(place_of_accent(self.beatmap, t) for t in run[1:])
            why = _(
                "{number} accents in a row: hit it on the first and again on the others",
                number=len(run),
            )
            poses = self._fitting(Level.STANDING, time, transition)
            found = self._make(
                "run", hit, transition, poses, why, 0.85, (), again, self._span(time, end)
            )
            if found is not None:
                yield found

    def agains(self) -> Iterator[Suggestion]:
        """Strong accents inside the hold of a pose that is there: it can be hit again on them."""
        for timed_pose in self.case.timed_poses:
            first, last = timed_pose.hit + _AGAIN_AFTER, timed_pose.end - _AGAIN_BEFORE
            inside = [
                a for a in self.beatmap.marked if first <= a.time <= last and a.strength >= _STRONG
            ]
            inside = [a for a in inside if all(abs(a.time - t) > _ON for t in timed_pose.again)]
            if inside:
                placed = timed_pose.placed
                many = ngettext(
                    "an accent falls", "{number} accents fall", len(inside), number=len(inside)
                )
                yield Suggestion(
                    "again", placed.hit, placed.hold, placed.transition, timed_pose.start,
                    timed_pose.hit, timed_pose.end, (), placed.id,
                    _(
                        "{many} into the hold of {name}: hit it again there",
                        many=many,
                        name=shown(timed_pose.pose.name),
                    ),
                    max(a.strength for a in inside),
                    again=tuple(place_of_accent(self.beatmap, a.time) for a in inside),
                )  # fmt: skip

    def accents(self) -> Iterator[Suggestion]:
        """Strong accents without a pose: those on a count first, the strongest first."""
        strong = [a for a in self.beatmap.marked if a.strength >= _STRONG]
        placed = [(place_of_accent(self.beatmap, a.time), a) for a in strong]
        for hit, accent in sorted(placed, key=lambda p: (_between_counts(p[0]), -p[1].strength)):
            counted = isinstance(hit, Count)
            transition = Length(2) if counted else Length(1.5, in_counts=False)
            poses = self._fitting(Level.STANDING, self.beatmap.time_of(hit), transition)
            why = _("a strong accent without a pose")
            found = self._make("accent", hit, transition, poses, why, accent.strength)
            if found is not None:
                yield found

    def beginnings(self, most: int) -> Iterator[Suggestion]:
        """Where little in the music speaks for itself: so many places with room for a pose."""
        found = 0
        for hit, way, why in beginnings(self.beatmap, self.case.stage, most):
            if found >= most:
                return
            poses = self._fitting(Level.STANDING, self.beatmap.time_of(hit), way)
            made = self._make("eight", hit, way, poses, why, 0.4)
            if made is not None:
                found += 1
                yield made

    def _make(
        self,
        kind: Kind,
        hit: Position,
        transition: Length,
        poses: tuple[str, ...],
        reason: str,
        strength: float,
        moves: tuple[Move, ...] = (),
        again: tuple[Position, ...] = (),
        wished: Length | None = None,
    ) -> Suggestion | None:
        time = self.beatmap.time_of(hit)
        start = self.beatmap.shift(time, Length(-transition.value, transition.in_counts))
        fitted = self._hold(time, start, isinstance(hit, Count), wished)
        if fitted is None or not poses:
            return None
        hold, end = fitted
        self.taken.append(Stretch(start, end))
        wanted = poses[0] in self._still_missing()
        self.offered.add(poses[0])
        if wanted:
            reason += _(
                "; {poses} is still missing for {name}",
                poses=shown(poses[0]),
                name=shown(self.case.rules.name),
            )
        return Suggestion(
            kind, hit, hold, transition, start, time, end, poses, "", reason, strength, moves, again
        )

    def _hold(
        self, time: float, start: float, counted: bool, wished: Length | None
    ) -> tuple[Length, float] | None:
        """The longest hold of four counts or three seconds at most that still reads and fits.

        Where one is `wished`, that one or none.
        """
        stage = self.case.stage
        if start < stage.start - _ON or any(
            t.start < time + 0.01 and t.end > start + 0.01 for t in self.taken
        ):
            return None
        room = min([t.start for t in self.taken if t.start >= time] + [stage.end])
        tries = [Length(c) for c in (4, 3, 2)] if counted else [Length(3.0, False)]
        tries.append(Length(self.case.thresholds.shortest_hold, in_counts=False))
        for hold in tries if wished is None else [wished]:
            end = self.beatmap.shift(time, hold)
            if end <= room + 0.01 and end - time >= self.case.thresholds.shortest_hold - 1e-6:
                return hold, end
        return None

    def _span(self, start: float, end: float) -> Length:
        counts = self.beatmap.counts_between(start, end)
        if counts is not None and counts >= 0.5:
            return Length(round(counts * 2) / 2)
        return Length(round(max(0.0, end - start), 3), in_counts=False)

    def _moves(self, name: str, transition: Length) -> tuple[Move, ...]:
        """One move that leaves a count, or half a second, as the way in; none where short."""
        way = 1.0 if transition.in_counts else 0.5
        left = transition.value - way
        return (Move("", name, replace(transition, value=left)),) if left >= way else ()

    def _before(self, time: float) -> TimedPose | None:
        return next((s for s in reversed(self.case.timed_poses) if s.hit < time - _ON), None)

    def _still_missing(self) -> set[str]:
        """Poses the rules miss, less those of a family that is offered already."""
        offered = [plain(name) for name in self.offered]
        wanted = [plain(m) for m in self.missing]
        wanted = [m for m in wanted if not any(name.startswith(m) for name in offered)]
        return {p.name for p in self.fresh if any(plain(p.name).startswith(m) for m in wanted)}

    def _fitting(self, level: Level, time: float, transition: Length) -> tuple[str, ...]:
        """Names of poses for a hit at `time`, best first; see the module for the order."""
        before = self._before(time)
        after = next((s for s in self.case.timed_poses if s.hit > time + _ON), None)
        way = time - self.beatmap.shift(time, Length(-transition.value, transition.in_counts))
        needed, limits = self._still_missing(), self.case.thresholds

        def order(pose: Pose) -> tuple[bool, ...]:
            timed_pose = TimedPose(
                Placed("", pose.name, Seconds(time)), pose, time - way, time, time
            )
            slow = before is not None and wanted_between(before, timed_pose, limits) > way + SLACK
            slow |= after is not None and (
                wanted_between(timed_pose, after, limits) > after.hit - after.start + SLACK
            )
            same = any(s is not None and s.facing is pose.facing for s in (before, after))
            return (
                pose.name in self.offered,
                pose.name not in needed,
                slow,
                pose.kind != "mandatory",
                same,
            )

        names = [p for p in self.fresh if p.level is level]
        # Names that head another suggestion come last, so that the same is not offered twice.
        return tuple(p.name for p in sorted(names, key=order)[:_CANDIDATES])


def _between_counts(position: Position) -> bool:
    """Whether a hit lies on no whole count."""
    return not isinstance(position, Count) or position.quarter != 0


def _arriving(before: TimedPose | None) -> str:
    """What a build is risen with: from low down the body rises, else an arm goes up."""
    low = before is not None and before.level is not Level.STANDING
    return "rise" if low else "reach up"


def _runs(times: Sequence[float]) -> Iterator[list[float]]:
    """Times near to each other, at least a few in a row."""
    run: list[float] = []
    for time in [*times, math.inf]:
        if run and time - run[-1] > _RUN:
            if len(run) >= _MANY:
                yield run
            run = []
        run.append(time)
