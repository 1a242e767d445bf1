"""Checks of time: length, poses outside the music, overlaps, short holds, fast ways, long gaps."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from rehearse.music.trim import over_limit
from rehearse.routine.checks.case import Case, Thresholds
from rehearse.routine.checks.finding import Finding, Severity, seconds
from rehearse.routine.model import Facing, Level, Side
from rehearse.routine.timed_pose import TimedPose

#: Less than this is no shortage, in seconds: lengths are written in quarters of a count.
SLACK = 0.01
#: Less than this past the end is the end, in seconds.
_END = 0.05
#: An overlap shorter than this, in seconds, is none.
_SAME = 0.02


def check_length(case: Case) -> Iterator[Finding]:
    """Too long, too short, and where the warning before the end falls."""
    limit, length = case.rules.limit, case.stage.length
    if limit is not None:
        if over := over_limit(length, limit):
            yield _too_long(case, limit, over)
        yield from _last_seconds(case, limit)
    minimum = case.rules.minimum
    if minimum is not None and over_limit(minimum, length):
        yield Finding(
            "length",
            Severity.WARNING,
            f"the music is {length:.1f} s long, {case.rules.name} wants at least {minimum:.1f} s",
            f"let it end {minimum - length:.1f} s later",
        )


def _too_long(case: Case, limit: float, over: float) -> Finding:
    by = f"{over:.1f} s" if over >= 0.1 else f"{over:.3f} s"
    cut = case.stage.start + limit
    lost = [s.pose.name for s in case.timed_poses if s.hit >= cut]
    broken = [s.pose.name for s in case.timed_poses if s.hit < cut < s.end]
    parts = []
    if broken:
        parts.append(f"the hold of {' and '.join(broken)} would be broken off")
    if lost:
        parts.append(f"{_list(lost)} would be cut")
    what = f"; {', '.join(parts)}" if parts else ""
    return Finding(
        "length",
        Severity.FAULT,
        f"the music is {case.stage.length:.1f} s long, {by} over the "
        f"{limit:.1f} s of {case.rules.name}{what}",
        f"end the stage part {by} earlier, or {case.rules.note}",
        case.place(cut),
        cut,
    )


def _last_seconds(case: Case, limit: float) -> Iterator[Finding]:
    left = case.rules.warning
    time = case.stage.start + limit - left
    end = min(case.stage.end, case.beatmap.duration)
    if not case.timed_poses or not case.stage.start < time < end:
        return
    still = [s.pose.name for s in case.timed_poses if s.hit >= time]
    what = f"still to come: {_list(still)}" if still else "no pose comes after it"
    yield Finding(
        "time left",
        Severity.HINT,
        f"here {left:g} s of the {limit:g} s are left; {what}",
        "",
        case.place(time),
        time,
    )


def _list(names: list[str]) -> str:
    if len(names) > 4:
        return f"{', '.join(names[:3])} and {len(names) - 3} more"
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]


def check_bounds(case: Case) -> Iterator[Finding]:
    """Hits before the start or after the end, and holds that go on past it."""
    end = min(case.stage.end, case.beatmap.duration)
    what = "the stage part" if case.routine.stage else "the music"
    for timed_pose in case.timed_poses:
        if timed_pose.hit < case.stage.start - _END:
            early = case.stage.start - timed_pose.hit
            yield Finding.about(
                timed_pose,
                "outside",
                Severity.FAULT,
                f"it is hit {seconds(early)} s before {what} begins",
                "move it later, or let the stage part begin earlier",
                early,
            )
        elif timed_pose.hit >= end - _END:
            yield Finding.about(
                timed_pose,
                "outside",
                Severity.FAULT,
                f"it is hit when {what} is over, at {end:.1f} s",
                "move it earlier or delete it",
                timed_pose.hit - end,
            )
        elif timed_pose.end > end + _END:
            yield Finding.about(
                timed_pose,
                "outside",
                Severity.WARNING,
                f"its hold lasts {seconds(timed_pose.end - end)} s after {what} is over",
                f"hold it {case.counts_for(timed_pose.hit, timed_pose.end - end)} less",
                timed_pose.end - end,
            )


def check_overlaps(case: Case) -> Iterator[Finding]:
    """A hold that lasts into the next hit, or only into the transition to it."""
    for one, other in itertools.pairwise(case.timed_poses):
        if one.end > other.hit + _SAME or other.hit - one.hit < _SAME:
            over = max(one.end, one.hit) - other.hit
            yield Finding.about(
                other,
                "overlap",
                Severity.FAULT,
                f"{one.pose.name} is still held {seconds(over)} s after this is hit",
                f"hold {one.pose.name} shorter or move one of them",
                over,
            )
        elif one.end > other.start + _SAME:
            over = one.end - other.start
            yield Finding.about(
                other,
                "overlap",
                Severity.WARNING,
                f"its transition begins {seconds(over)} s before the hold of "
                f"{one.pose.name} is over",
                _mend_overlap(case, one, other, over),
                over,
            )


def _mend_overlap(case: Case, one: TimedPose, other: TimedPose, over: float) -> str:
    """Shorten the hold or the way, whichever stays long enough without it."""
    less = case.counts_for(other.start, over)
    wanted = wanted_between(one, other, case.thresholds)
    hold = one.end - one.hit - over >= case.thresholds.shortest_hold - SLACK
    way = other.hit - other.start - over >= wanted - SLACK
    if hold and way:
        return f"make the transition or that hold {less} shorter"
    if hold:
        return f"hold {one.pose.name} {less} shorter"
    if way:
        return f"begin the transition {less} later"
    return f"hit it later, or delete it or {one.pose.name}"


def check_holds(case: Case) -> Iterator[Finding]:
    """Fewer than two seconds do not read from the judges' table (common practice)."""
    shortest = case.thresholds.shortest_hold
    for index, timed_pose in enumerate(case.timed_poses):
        held = timed_pose.end - timed_pose.hit
        if held < shortest - SLACK:
            yield Finding.about(
                timed_pose,
                "hold",
                Severity.WARNING,
                f"held {seconds(held, shortest)} s, less than {shortest:g} s does not read",
                _mend_hold(case, index, shortest - held),
                shortest - held,
            )


def _mend_hold(case: Case, index: int, missing: float) -> str:
    """Hold it longer, where that takes nothing from the next pose that it needs."""
    timed_pose = case.timed_poses[index]
    longer = f"hold it {case.counts_for(timed_pose.end, missing)} longer"
    if index + 1 == len(case.timed_poses):
        return longer
    after = case.timed_poses[index + 1]
    room = after.start - timed_pose.end
    spare = after.hit - after.start - wanted_between(timed_pose, after, case.thresholds)
    if missing <= room + SLACK:
        return longer
    if missing <= max(0.0, room) + spare + SLACK:
        return f"{longer} and begin the transition to {after.pose.name} later"
    return f"hit {after.pose.name} later, or delete one of the two"


def check_transitions(case: Case) -> Iterator[Finding]:
    """The time from the hold before to the hit must allow the change (common practice)."""
    for one, other in itertools.pairwise(case.timed_poses):
        change, needed = change_between(one, other, case.thresholds)
        time = other.hit - other.start
        if time < needed - SLACK:
            yield Finding.about(
                other,
                "transition",
                Severity.WARNING,
                f"{seconds(time, needed)} s for {change} from {one.pose.name}, "
                f"{needed:g} s are wanted",
                _mend_transition(case, one, other, needed - time),
                needed - time,
            )


def check_filmed(case: Case) -> Iterator[Finding]:
    """A transition shorter than the body took for it on film, where that made the hit late."""
    for one, other in itertools.pairwise(case.timed_poses):
        took, time = case.filmed.get(other.placed.id, 0.0), other.hit - other.start
        if time < took - SLACK:
            yield Finding.about(
                other,
                "filmed",
                Severity.WARNING,
                f"its transition has {seconds(time, took)} s; on film your way in took "
                f"{took:.1f} s and came late",
                _mend_transition(case, one, other, took - time),
                took - time,
            )


def _mend_transition(case: Case, one: TimedPose, other: TimedPose, missing: float) -> str:
    """Begin it earlier, where that takes nothing from the hold before that it needs."""
    more = f"begin the transition {case.counts_for(other.start, missing)} earlier"
    room = other.start - one.end
    spare = one.end - one.hit - case.thresholds.shortest_hold
    if missing <= room + SLACK:
        return f"{more} or hit it later"
    if missing <= max(0.0, room) + spare + SLACK:
        return f"{more} and hold {one.pose.name} shorter, or hit it later"
    return f"hit it later, or delete it or {one.pose.name}"


def wanted_between(one: TimedPose, other: TimedPose, thresholds: Thresholds) -> float:
    """Seconds the way from one pose to the next wants."""
    return change_between(one, other, thresholds)[1]


def change_between(one: TimedPose, other: TimedPose, thresholds: Thresholds) -> tuple[str, float]:
    """What changes most from one pose to the next, in words, and the seconds it wants."""
    turns = quarter_turns(one.facing, other.facing, other.placed.turn)
    changes = [("a change of the arms", thresholds.arms_only)]
    if turns:
        turn = ("a quarter turn", thresholds.quarter_turn)
        half = ("a half turn", thresholds.half_turn)
        more = ("a full turn" if turns == 4 else "three quarters of a turn", thresholds.full_turn)
        changes.append((turn, half, more, more)[turns - 1])
    levels = {one.level, other.level}
    if len(levels) > 1:
        kneels = Level.KNEELING in levels
        down = other.level is not Level.STANDING
        where = "to the knees" if kneels else "into a lunge"
        up = "up from the knees" if kneels else "up from a lunge"
        needed = thresholds.to_kneeling if kneels else thresholds.to_lunge
        changes.append((f"going down {where}" if down else f"coming {up}", needed))
    return max(changes, key=lambda change: change[1])


def quarter_turns(one: Facing, other: Facing, way: Side | None = None) -> int:
    """Quarter turns from one facing to another, an eighth as a whole.

    Args:
        way: the way round, 0 to 4; None: the shorter one, 0 to 2.
    """
    degrees = (other.turned - one.turned) % 360
    if way is None:
        return math.ceil(min(degrees, 360 - degrees) / 90)
    return math.ceil((degrees if way is Side.RIGHT else 360 - degrees) / 90) or 4


def check_gaps(case: Case) -> Iterator[Finding]:
    """From the start of the stage part to the first hit in it, between hits, and to its end."""
    if not case.timed_poses:
        return
    first, end = case.stage.start, min(case.stage.end, case.beatmap.duration)
    times = [first, *(s.hit for s in case.timed_poses if first <= s.hit <= end), end]
    longest = case.thresholds.longest_gap
    for start, stop in itertools.pairwise(times):
        if stop - start > longest + 1e-6:
            other = "make the hold before it worth looking at"
            if start == first:
                other = "begin the stage part later"
            elif stop == end:
                other = "end the stage part earlier"
            yield Finding(
                "gap",
                Severity.WARNING,
                f"no hit for {seconds(stop - start, longest)} s, from here to {case.place(stop)}",
                f"add a pose, or {other}",
                case.place(start),
                start,
                amount=stop - start - longest,
            )
