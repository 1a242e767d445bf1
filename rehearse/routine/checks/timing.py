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
from rehearse.words import _, listed, shown

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
            _(
                "the music is {length:.1f} s long, {name} wants at least {minimum:.1f} s",
                length=length,
                name=shown(case.rules.name),
                minimum=minimum,
            ),
            _("let it end {minimum:.1f} s later", minimum=minimum - length),
        )


def _too_long(case: Case, limit: float, over: float) -> Finding:
    by = _("{over:.1f} s", over=over) if over >= 0.1 else _("{over:.3f} s", over=over)
    cut = case.stage.start + limit
    lost = [shown(s.pose.name) for s in case.timed_poses if s.hit >= cut]
    broken = [shown(s.pose.name) for s in case.timed_poses if s.hit < cut < s.end]
    parts = []
    if broken:
        parts.append(_("the hold of {broken} would be broken off", broken=listed(broken)))
    if lost:
        parts.append(_("{list} would be cut", list=_list(lost)))
    what = f"; {', '.join(parts)}" if parts else ""
    return Finding(
        "length",
        Severity.FAULT,
        _(
            "the music is {length:.1f} s long, {by} over the {limit:.1f} s of {name}{what}",
            length=case.stage.length,
            by=by,
            limit=limit,
            name=shown(case.rules.name),
            what=what,
        ),
        _("end the stage part {by} earlier, or {note}", by=by, note=shown(case.rules.note)),
        case.place(cut),
        cut,
    )


def _last_seconds(case: Case, limit: float) -> Iterator[Finding]:
    left = case.rules.warning
    time = case.stage.start + limit - left
    end = min(case.stage.end, case.beatmap.duration)
    if not case.timed_poses or not case.stage.start < time < end:
        return
    still = [shown(s.pose.name) for s in case.timed_poses if s.hit >= time]
    what = _("still to come: {list}", list=_list(still)) if still else _("no pose comes after it")
    yield Finding(
        "time left",
        Severity.HINT,
        _("here {left:g} s of the {limit:g} s are left; {what}", left=left, limit=limit, what=what),
        "",
        case.place(time),
        time,
    )


def _list(names: list[str]) -> str:
    if len(names) > 4:
        return _("{names} and {number} more", names=", ".join(names[:3]), number=len(names) - 3)
    return listed(names)


def check_bounds(case: Case) -> Iterator[Finding]:
    """Hits before the start or after the end, and holds that go on past it."""
    end = min(case.stage.end, case.beatmap.duration)
    what = _("the stage part") if case.routine.stage else _("the music")
    for timed_pose in case.timed_poses:
        if timed_pose.hit < case.stage.start - _END:
            early = case.stage.start - timed_pose.hit
            yield Finding.about(
                timed_pose,
                "outside",
                Severity.FAULT,
                _("it is hit {seconds} s before {what} begins", seconds=seconds(early), what=what),
                _("move it later, or let the stage part begin earlier"),
                early,
            )
        elif timed_pose.hit >= end - _END:
            yield Finding.about(
                timed_pose,
                "outside",
                Severity.FAULT,
                _("it is hit when {what} is over, at {end:.1f} s", what=what, end=end),
                _("move it earlier or delete it"),
                timed_pose.hit - end,
            )
        elif timed_pose.end > end + _END:
            yield Finding.about(
                timed_pose,
                "outside",
                Severity.WARNING,
                _(
                    "its hold lasts {seconds} s after {what} is over",
                    seconds=seconds(timed_pose.end - end),
                    what=what,
                ),
                _(
                    "hold it {counts_for} less",
                    counts_for=case.counts_for(timed_pose.hit, timed_pose.end - end),
                ),
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
                _(
                    "{name} is still held {seconds} s after this is hit",
                    name=shown(one.pose.name),
                    seconds=seconds(over),
                ),
                _("hold {name} shorter or move one of them", name=shown(one.pose.name)),
                over,
            )
        elif one.end > other.start + _SAME:
            over = one.end - other.start
            yield Finding.about(
                other,
                "overlap",
                Severity.WARNING,
                _(
                    "its transition begins {seconds} s before the hold of {name} is over",
                    seconds=seconds(over),
                    name=shown(one.pose.name),
                ),
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
        return _("make the transition or that hold {less} shorter", less=less)
    if hold:
        return _("hold {name} {less} shorter", name=shown(one.pose.name), less=less)
    if way:
        return _("begin the transition {less} later", less=less)
    return _("hit it later, or delete it or {name}", name=shown(one.pose.name))


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
                _(
                    "held {seconds} s, less than {shortest:g} s does not read",
                    seconds=seconds(held, shortest),
                    shortest=shortest,
                ),
                _mend_hold(case, index, shortest - held),
                shortest - held,
            )


def _mend_hold(case: Case, index: int, missing: float) -> str:
    """Hold it longer, where that takes nothing from the next pose that it needs."""
    timed_pose = case.timed_poses[index]
    longer = _("hold it {counts_for} longer", counts_for=case.counts_for(timed_pose.end, missing))
    if index + 1 == len(case.timed_poses):
        return longer
    after = case.timed_poses[index + 1]
    room = after.start - timed_pose.end
    spare = after.hit - after.start - wanted_between(timed_pose, after, case.thresholds)
    if missing <= room + SLACK:
        return longer
    if missing <= max(0.0, room) + spare + SLACK:
        return _(
            "{longer} and begin the transition to {name} later",
            longer=longer,
            name=shown(after.pose.name),
        )
    return _("hit {name} later, or delete one of the two", name=shown(after.pose.name))


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
                _(
                    "{seconds} s for {change} from {name}, {needed:g} s are wanted",
                    seconds=seconds(time, needed),
                    change=change,
                    name=shown(one.pose.name),
                    needed=needed,
                ),
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
                _(
                    "its transition has {seconds} s; on film your way in took {took:.1f} s "
                    "and came late",
                    seconds=seconds(time, took),
                    took=took,
                ),
                _mend_transition(case, one, other, took - time),
                took - time,
            )


def _mend_transition(case: Case, one: TimedPose, other: TimedPose, missing: float) -> str:
    """Begin it earlier, where that takes nothing from the hold before that it needs."""
    more = _(
        "begin the transition {counts_for} earlier",
        counts_for=case.counts_for(other.start, missing),
    )
    room = other.start - one.end
    spare = one.end - one.hit - case.thresholds.shortest_hold
    if missing <= room + SLACK:
        return _("{more} or hit it later", more=more)
    if missing <= max(0.0, room) + spare + SLACK:
        return _(
            "{more} and hold {name} shorter, or hit it later", more=more, name=shown(one.pose.name)
        )
    return _("hit it later, or delete it or {name}", name=shown(one.pose.name))


def wanted_between(one: TimedPose, other: TimedPose, thresholds: Thresholds) -> float:
    """Seconds the way from one pose to the next wants."""
    return change_between(one, other, thresholds)[1]


def change_between(one: TimedPose, other: TimedPose, thresholds: Thresholds) -> tuple[str, float]:
    """What changes most from one pose to the next, in words, and the seconds it wants."""
    turns = quarter_turns(one.facing, other.facing, other.placed.turn)
    changes = [(_("a change of the arms"), thresholds.arms_only)]
    if turns:
        turn = (_("a quarter turn"), thresholds.quarter_turn)
        half = (_("a half turn"), thresholds.half_turn)
        more = (
            _("a full turn") if turns == 4 else _("three quarters of a turn"),
            thresholds.full_turn,
        )
        changes.append((turn, half, more, more)[turns - 1])
    levels = {one.level, other.level}
    if len(levels) > 1:
        kneels = Level.KNEELING in levels
        down = other.level is not Level.STANDING
        where = _("to the knees") if kneels else _("into a lunge")
        up = _("up from the knees") if kneels else _("up from a lunge")
        needed = thresholds.to_kneeling if kneels else thresholds.to_lunge
        changes.append(
            (_("going down {where}", where=where) if down else _("coming {up}", up=up), needed)
        )
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
            other = _("make the hold before it worth looking at")
            if start == first:
                other = _("begin the stage part later")
            elif stop == end:
                other = _("end the stage part earlier")
            yield Finding(
                "gap",
                Severity.WARNING,
                _(
                    "no hit for {seconds} s, from here to {place}",
                    seconds=seconds(stop - start, longest),
                    place=case.place(stop),
                ),
                _("add a pose, or {other}", other=other),
                case.place(start),
                start,
                amount=stop - start - longest,
            )
