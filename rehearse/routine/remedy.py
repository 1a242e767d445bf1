"""Does what a finding asks for, where that is one clear edit that puts it right.

A remedy is offered only when the checks, run again, lack its finding and have none that was not
there before. So each one leaves fewer findings: taking remedies comes to an end, and no fault
comes of a warning.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from rehearse.music.position import Length
from rehearse.routine import edits
from rehearse.routine.checks import look_at
from rehearse.routine.checks.case import Case, make_case
from rehearse.routine.checks.finding import Finding, Severity
from rehearse.routine.checks.timing import wanted_between
from rehearse.routine.model import Routine, StagePart
from rehearse.routine.snapping import Snap, snap
from rehearse.routine.timed_pose import TimedPose
from rehearse.words import _

#: A finding that concerns the whole is the same when it is no farther off than this, in seconds.
_NEAR = 1.0
#: What is off may grow by less than this: a gap when the hit before it moves onto an accent.
_GROWS = {"gap": 0.3}
_GROWS_ELSE = 0.02


@dataclass(frozen=True)
class Remedy:
    """One edit that puts a finding right: in words, and the routine after it."""

    words: str
    routine: Routine


_Way = tuple[str, Routine | None]


def remedy(case: Case, finding: Finding) -> Remedy | None:
    """The first edit that removes the finding and adds none; None when there is none.

    Args:
        case: the routine laid out as for the checks. finding: one of its findings.
    """
    before = look_at(case)
    for words, routine in _ways(case, finding):
        if routine is None or routine == case.routine:
            continue
        rules, limits = case.rules, case.thresholds
        made = make_case(routine, case.beatmap, case.catalogue, rules, limits, case.filmed)
        after = look_at(made)
        if _is_better(before, after, finding):
            return Remedy(words, routine)
    return None


def _is_better(before: tuple[Finding, ...], after: tuple[Finding, ...], finding: Finding) -> bool:
    left: dict[tuple[str, Severity, str], list[Finding]] = defaultdict(list)
    for old in before:
        if old != finding:
            left[_about(old)].append(old)
    for new in after:
        same = next((old for old in left[_about(new)] if _is_same(old, new)), None)
        if same is None:
            return False
        left[_about(new)].remove(same)
    return True


def _about(finding: Finding) -> tuple[str, Severity, str]:
    return finding.kind, finding.severity, finding.pose_id


def _is_same(old: Finding, new: Finding) -> bool:
    near = bool(old.pose_id) or abs(old.time - new.time) <= _NEAR
    return near and new.amount <= old.amount + _GROWS.get(old.kind, _GROWS_ELSE)


def _ways(case: Case, finding: Finding) -> Iterator[_Way]:
    """Edits that might put a finding right, the plainest first."""
    if finding.kind == "length":
        yield _("end it in time"), _in_time(case)
        return
    known = [
        k
        for k, timed_pose in enumerate(case.timed_poses)
        if timed_pose.placed.id == finding.pose_id
    ]
    outside = finding.kind == "outside" and finding.severity is Severity.FAULT
    if known and not outside and finding.kind in _WAYS:
        yield from _WAYS[finding.kind](case, known[0])


def _in_time(case: Case) -> Routine | None:
    limit, stage = case.rules.limit, case.stage
    if limit is None or stage.length <= limit:
        return None
    shorter = StagePart(stage.start, stage.start + limit, stage.fade_in, stage.fade_out)
    return edits.set_stage(case.routine, case.beatmap, shorter)


def _hold(case: Case, index: int) -> Iterator[_Way]:
    timed_pose = case.timed_poses[index]
    missing = case.thresholds.shortest_hold - (timed_pose.end - timed_pose.hit)
    hold = _longer(case, timed_pose.placed.hold, timed_pose.end, missing)
    longer = edits.change(case.routine, case.beatmap, timed_pose.placed.id, hold=hold)
    yield _("hold it longer"), longer
    if index + 1 < len(case.timed_poses):
        after = case.timed_poses[index + 1]
        end = longer.placed(timed_pose.placed.id).times(case.beatmap)[2]
        yield _("hold it longer, go on later"), _begin_at(case, longer, after, end)


def _transition(case: Case, index: int) -> Iterator[_Way]:
    if index:
        before, timed_pose = case.timed_poses[index - 1], case.timed_poses[index]
        yield from _begin_earlier(case, index, wanted_between(before, timed_pose, case.thresholds))


def _filmed(case: Case, index: int) -> Iterator[_Way]:
    if index:
        yield from _begin_earlier(case, index, case.filmed[case.timed_poses[index].placed.id])


def _begin_earlier(case: Case, index: int, wanted: float) -> Iterator[_Way]:
    before, timed_pose = case.timed_poses[index - 1], case.timed_poses[index]
    missing = wanted - (timed_pose.hit - timed_pose.start)
    way = _longer(case, timed_pose.placed.transition, timed_pose.start, missing)
    earlier = edits.change(case.routine, case.beatmap, timed_pose.placed.id, transition=way)
    yield _("begin earlier"), earlier
    start = earlier.placed(timed_pose.placed.id).times(case.beatmap)[0]
    yield _("begin earlier, shorten the hold before"), _end_at(case, earlier, before, start)


def _overlap(case: Case, index: int) -> Iterator[_Way]:
    if index == 0:
        return
    before, timed_pose = case.timed_poses[index - 1], case.timed_poses[index]
    yield _("shorten the hold"), _end_at(case, case.routine, before, timed_pose.start)
    yield _("begin later"), _begin_at(case, case.routine, timed_pose, before.end)
    # Where a hold goes on into the hit itself, both give way: half-way between the hits.
    yield (
        _("shorten both"),
        edits.fit(case.routine, case.beatmap, timed_pose.placed.id, after=False),
    )


def _outside(case: Case, index: int) -> Iterator[_Way]:
    end = min(case.stage.end, case.beatmap.duration)
    yield _("shorten the hold"), _end_at(case, case.routine, case.timed_poses[index], end)


def _onto(to: Snap, words: str) -> Callable[[Case, int], Iterator[_Way]]:
    def ways(case: Case, index: int) -> Iterator[_Way]:
        timed_pose = case.timed_poses[index]
        hit = snap(case.beatmap, timed_pose.hit, to)
        yield words, edits.move_to(case.routine, case.beatmap, timed_pose.placed.id, hit)

    return ways


_WAYS: dict[str, Callable[[Case, int], Iterator[_Way]]] = {
    "hold": _hold,
    "transition": _transition,
    "filmed": _filmed,
    "overlap": _overlap,
    "outside": _outside,
    "accent": _onto(Snap.ACCENTS, _("onto the accent")),
    "off the beat": _onto(Snap.HALVES, _("onto the beat")),
}


def _longer(case: Case, length: Length, time: float, seconds: float) -> Length:
    """`length` at least `seconds` longer: by half counts, or by tenths of a second."""
    index = case.beatmap.beat_at(time)
    if not length.in_counts or index is None:
        return Length(length.value + math.ceil(seconds * 10 - 1e-6) / 10, length.in_counts)
    halves = math.ceil(seconds / case.beatmap.interval(index) * 2 - 1e-6)
    return Length(length.value + halves / 2)


def _end_at(case: Case, routine: Routine, timed_pose: TimedPose, end: float) -> Routine | None:
    """The hold over at `end` at the latest; None when nothing is left of it."""
    if end <= timed_pose.hit:
        return None
    hold = _at_most(case, timed_pose.placed.hold, timed_pose.hit, end)
    return edits.change(routine, case.beatmap, timed_pose.placed.id, hold=hold)


def _begin_at(case: Case, routine: Routine, timed_pose: TimedPose, start: float) -> Routine | None:
    """The transition begun at `start` at the earliest; None when the hit is before that."""
    if start >= timed_pose.hit:
        return None
    way = _at_most(case, timed_pose.placed.transition, start, timed_pose.hit)
    return edits.change(routine, case.beatmap, timed_pose.placed.id, transition=way)


def _at_most(case: Case, length: Length, start: float, end: float) -> Length:
    counts = case.beatmap.counts_between(start, end)
    if length.in_counts and counts is not None:
        return Length(math.floor(counts * 4 + 1e-6) / 4)
    return Length(math.floor((end - start) * 1000) / 1000, in_counts=False)
