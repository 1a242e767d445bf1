"""Suggestions from the music: where a pose would sit well, each with its reason.

Offered, never forced. Three kinds: a strong accent without a pose; a build that ends in an
accent (the transition rises with it, the hit is its end); a quiet stretch, fit for a slow or
kneeling transition. That these moments suit poses is common practice of the trade, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from rehearse.music.beatmap import BeatMap, Build, Stretch
from rehearse.music.position import Count, Length, Position
from rehearse.routine import edits
from rehearse.routine.checks.case import Case, make_case
from rehearse.routine.checks.thresholds import Thresholds, load_thresholds
from rehearse.routine.model import Level, Routine
from rehearse.routine.poses import Catalogue
from rehearse.routine.rules import RuleSet
from rehearse.routine.snapping import Snap, place_of_accent, snap

#: Accents weaker than this (0..1) are left alone.
_STRONG = 0.5
#: A hit this near an accent is on it, in seconds.
_ON = 0.08
#: Shortest quiet stretch worth a slow transition, and longest build to rise with, in seconds.
_QUIET, _LONGEST_BUILD = 3.0, 16.0
_CANDIDATES = 3

Kind = Literal["accent", "build", "quiet"]


@dataclass(frozen=True)
class Suggestion:
    """A place for a pose, or a longer transition for one that is there.

    Args:
        kind: what in the music speaks for it.
        hit, hold, transition: where and how long.
        start, time, end: the same in seconds: transition start, hit, end of the hold.
        poses: names that would fit, best first; empty when a placed pose is meant.
        pose_id: the placed pose whose transition is meant, or empty.
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

    @property
    def on_accent(self) -> bool:
        """Whether an accent is what it is for."""
        return self.kind in ("accent", "build")


def suggest(
    routine: Routine,
    beatmap: BeatMap,
    catalogue: Catalogue,
    thresholds: Thresholds | None = None,
) -> tuple[Suggestion, ...]:
    """All suggestions that fit beside the poses there are and beside each other, by time."""
    case = make_case(
        routine, beatmap, catalogue, RuleSet("open", "open"), thresholds or load_thresholds()
    )
    room = _Room(case, catalogue.with_own(routine.own_poses))
    found = [*room.builds(), *room.quiets(), *room.accents()]
    return tuple(sorted(found, key=lambda s: s.time))


def accept(
    routine: Routine, beatmap: BeatMap, suggestion: Suggestion, pose: str = "", pose_id: str = ""
) -> Routine:
    """Do what a suggestion says.

    Args:
        pose: the pose to put there; empty takes the first that fits.
        pose_id: id of a new pose; empty: a random one.
    """
    if suggestion.pose_id:
        return edits.change(routine, beatmap, suggestion.pose_id, transition=suggestion.transition)
    return edits.place(
        routine,
        beatmap,
        pose or suggestion.poses[0],
        suggestion.hit,
        hold=suggestion.hold,
        transition=suggestion.transition,
        pose_id=pose_id,
    )


class _Room:
    """Finds places one after the other, each taking its room from those that follow."""

    def __init__(self, case: Case, catalogue: Catalogue) -> None:
        self.case, self.beatmap = case, case.beatmap
        self.offered: set[str] = set()
        self.taken = [Stretch(s.start, max(s.end, s.hit + 0.01)) for s in case.shown]
        shown = {s.pose.name for s in case.shown}
        fresh = [p for p in catalogue.poses if p.name not in shown and "stance" not in p.name]
        self.fresh = sorted(fresh, key=lambda p: p.kind != "mandatory")

    def builds(self) -> Iterator[Suggestion]:
        """Builds that end in an accent, a pose on it or not."""
        for build in self.beatmap.builds:
            if build.accent is None or build.end - build.start > _LONGEST_BUILD:
                continue
            held = [s for s in self.case.shown if abs(s.hit - build.end) <= _ON]
            found = self._rising(build, held[0].placed.id if held else "")
            if found is not None:
                yield found

    def _rising(self, build: Build, pose_id: str) -> Suggestion | None:
        hit = place_of_accent(self.beatmap, build.accent or build.end)
        time = self.beatmap.time_of(hit)
        transition = self._span(build.start, time)
        rise = f"the music rises from {self.case.place(build.start)}"
        if not pose_id:
            reason = f"{rise} and ends in an accent here"
            poses = self._fitting(Level.STANDING)
            return self._make("build", hit, transition, poses, reason, 0.9)
        shown = next(s for s in self.case.shown if s.placed.id == pose_id)
        others = [s.end for s in self.case.shown if s.hit < shown.hit]
        if shown.start <= build.start + 0.25 or any(e > build.start + _ON for e in others):
            return None
        return Suggestion(
            kind="build",
            hit=shown.placed.hit,
            hold=shown.placed.hold,
            transition=transition,
            start=build.start,
            time=shown.hit,
            end=shown.end,
            poses=(),
            pose_id=pose_id,
            reason=f"{rise} to this hit",
            strength=0.9,
        )

    def quiets(self) -> Iterator[Suggestion]:
        """Quiet stretches with room for a slow way down."""
        for quiet in self.beatmap.quiets:
            if quiet.end - quiet.start < _QUIET:
                continue
            way = min(self.case.thresholds.to_kneeling * 1.5, (quiet.end - quiet.start) / 2)
            hit = snap(self.beatmap, quiet.start + way, Snap.COUNTS)
            transition = self._span(quiet.start, self.beatmap.time_of(hit))
            reason = f"{quiet.end - quiet.start:.0f} s of quiet are fit for a slow way to the knees"
            poses = self._fitting(Level.KNEELING)
            found = self._make("quiet", hit, transition, poses, reason, 0.7)
            if found is not None:
                yield found

    def accents(self) -> Iterator[Suggestion]:
        """Strong accents without a pose, the strongest first."""
        for accent in sorted(self.beatmap.accents, key=lambda a: -a.strength):
            if accent.strength < _STRONG:
                return
            hit = place_of_accent(self.beatmap, accent.time)
            counted = isinstance(hit, Count)
            transition = Length(2) if counted else Length(1.5, in_counts=False)
            poses = self._fitting(Level.STANDING)
            found = self._make(
                "accent", hit, transition, poses, "a strong accent without a pose", accent.strength
            )
            if found is not None:
                yield found

    def _make(
        self,
        kind: Kind,
        hit: Position,
        transition: Length,
        poses: tuple[str, ...],
        reason: str,
        strength: float,
    ) -> Suggestion | None:
        time = self.beatmap.time_of(hit)
        start = self.beatmap.shift(time, Length(-transition.value, transition.in_counts))
        fitted = self._hold(time, start, isinstance(hit, Count))
        if fitted is None or not poses:
            return None
        hold, end = fitted
        self.taken.append(Stretch(start, end))
        self.offered.add(poses[0])
        return Suggestion(
            kind, hit, hold, transition, start, time, end, poses, "", reason, strength
        )

    def _hold(self, time: float, start: float, counted: bool) -> tuple[Length, float] | None:
        """The longest hold of four counts or three seconds at most that still reads and fits."""
        stage = self.case.stage
        if start < stage.start - _ON or any(
            t.start < time + 0.01 and t.end > start + 0.01 for t in self.taken
        ):
            return None
        room = min([t.start for t in self.taken if t.start >= time] + [stage.end])
        tries = [Length(c) for c in (4, 3, 2)] if counted else [Length(3.0, False)]
        for hold in [*tries, Length(self.case.thresholds.shortest_hold, in_counts=False)]:
            end = self.beatmap.shift(time, hold)
            if end <= room + 0.01 and end - time >= self.case.thresholds.shortest_hold - 1e-6:
                return hold, end
        return None

    def _span(self, start: float, end: float) -> Length:
        counts = self.beatmap.counts_between(start, end)
        if counts is not None and counts >= 0.5:
            return Length(round(counts * 2) / 2)
        return Length(round(max(0.0, end - start), 3), in_counts=False)

    def _fitting(self, level: Level) -> tuple[str, ...]:
        names = [p.name for p in self.fresh if p.level is level]
        # Names that head another suggestion come last, so that the same is not offered twice.
        return tuple(sorted(names, key=lambda name: name in self.offered)[:_CANDIDATES])
