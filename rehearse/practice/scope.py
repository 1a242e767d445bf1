"""The stretch that a pass goes through, and the poses it takes in.

Part practice serves the whole only when it takes in the way into and out of the part (Fontana,
Furtado, Mazzardo & Gallagher 2009, Perceptual and Motor Skills 109, 517–530): every stretch made
here begins before the first pose is left and ends with the last one held.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from rehearse.files.user_error import UserError
from rehearse.music.beatmap import SAME_PLACE, BeatMap
from rehearse.music.position import Length
from rehearse.practice.passes import PoseTaken
from rehearse.routine.model import Routine
from rehearse.words import _, section_text, shown

#: "moves": those of a section, drilled transition by transition (`movesdrill`). "round": a
#: comparison round, which has no music.
ScopeKind = Literal["section", "transition", "marks", "whole", "moves", "round"]
#: Counts held in the pose before it is left, so that the way out of it is practised too.
WAY_IN = 4
#: Shorter stretches cannot be counted in and out.
SHORTEST = 1.0


@dataclass(frozen=True)
class Spot:
    """One pose in the music: seconds at which its way in begins, it is hit, its hold ends."""

    pose: str
    name: str
    start: float
    hit: float
    end: float
    origin: str = ""
    origin_name: str = ""

    @property
    def transition(self) -> str:
        """The transition's own name: it changes when another pose comes before."""
        return f"{self.origin}>{self.pose}"

    @property
    def words(self) -> str:
        """The transition in words."""
        return f"{self.origin_name} → {self.name}" if self.origin else f"walk-on → {self.name}"


@dataclass(frozen=True)
class Scope:
    """What is drilled: [start, end) in seconds of the track.

    `item` is the section's id, the transition's name (`Spot.transition`), "" for the whole and
    for a stretch between two marks.
    """

    kind: ScopeKind
    item: str
    name: str
    start: float
    end: float

    @property
    def length(self) -> float:
        """Seconds at full tempo."""
        return self.end - self.start


def shown_scope(scope: Scope) -> str:
    """Its name as people read it; a section is called as the athlete called it."""
    if scope.kind == "section":
        return section_text(scope.name)
    return scope.name if scope.kind == "marks" else shown(scope.name)


def spots_of(routine: Routine, beatmap: BeatMap) -> tuple[Spot, ...]:
    """Every pose of the routine in the order of the hits; no hold outlasts the music.

    Raises:
        KeyError: the beat map lacks a count that the routine uses.
    """
    timed = sorted(((p, p.times(beatmap)) for p in routine.poses), key=lambda item: item[1][1])
    result: list[Spot] = []
    last = whole_scope(routine, beatmap).end
    for placed, (start, hit, end) in timed:
        before = result[-1] if result else None
        origin = (before.pose, before.name) if before else ("", "")
        held = min(end, last) if hit < last else end
        result.append(Spot(placed.id, placed.pose, start, hit, held, *origin))
    return tuple(result)


def whole_scope(routine: Routine, beatmap: BeatMap) -> Scope:
    """The part of the track used on stage, or the whole track."""
    stage = routine.stage
    start, end = (stage.start, stage.end) if stage else (0.0, beatmap.duration)
    return Scope("whole", "", "whole routine", start, min(end, beatmap.duration))


def section_scope(
    routine: Routine, beatmap: BeatMap, section_id: str, *, way_in: float = WAY_IN
) -> Scope:
    """A section with the way into its first pose and the whole hold of its last.

    Raises:
        KeyError: there is no such section.
    """
    section = routine.section(section_id)
    start, end = beatmap.time_of(section.start), beatmap.time_of(section.end)
    inside = [s for s in spots_of(routine, beatmap) if start - SAME_PLACE <= s.hit < end]
    if inside:
        start = min(start, _before(inside[0], beatmap, way_in))
        end = max(end, inside[-1].end)
    return Scope("section", section_id, section.name, start, min(end, beatmap.duration))


def transition_scope(
    routine: Routine, beatmap: BeatMap, pose_id: str, *, way_in: float = WAY_IN
) -> Scope:
    """From `way_in` counts before the pose before is left to the end of this pose's hold.

    Raises:
        KeyError: there is no such pose.
    """
    for spot in spots_of(routine, beatmap):
        if spot.pose == pose_id:
            start = _before(spot, beatmap, way_in)
            end = min(spot.end, beatmap.duration)
            return Scope("transition", spot.transition, spot.words, start, end)
    raise KeyError(pose_id)


def marks_scope(beatmap: BeatMap, one: float, other: float) -> Scope:
    """The stretch between two marks set on the spot, in either order; seconds of the track.

    Raises:
        UserError: the marks lie too close together.
    """
    start, end = max(0.0, min(one, other)), min(beatmap.duration, max(one, other))
    if end - start < SHORTEST:
        raise UserError(
            _("the two marks lie less than a second apart"),
            do=_("set the second one later"),
        )
    name = _(
        "{start} to {end}",
        start=beatmap.position_at(start, 0.03),
        end=beatmap.position_at(end, 0.03),
    )
    return Scope("marks", "", name, start, end)


def taken_in(spots: Sequence[Spot], start: float, reached: float) -> tuple[PoseTaken, ...]:
    """The poses that a pass from `start` to `reached` took in: hit, and held half their time."""
    result = []
    for spot in spots:
        if spot.hit < start - SAME_PLACE or reached < (spot.hit + spot.end) / 2:
            continue
        way_in = spot.start >= start - SAME_PLACE
        begins = spot.start if way_in else spot.hit
        origin = (spot.origin, spot.origin_name) if way_in else (None, "")
        result.append(PoseTaken(spot.pose, spot.name, begins, spot.end, *origin))
    return tuple(result)


def seconds_of(length: Length, beatmap: BeatMap, at: float, percent: int) -> float:
    """Seconds of output that a rest lasts: counts follow the tempo at `at`, seconds do not."""
    if not length.in_counts:
        return length.value
    count = abs(beatmap.shift(at, Length(1.0)) - at)
    return length.value * count * 100 / percent


def _before(spot: Spot, beatmap: BeatMap, counts: float) -> float:
    return max(0.0, beatmap.shift(spot.start, Length(-counts)))
