"""Checks of moves and accents: moves that do not fit, long ways left empty, hits off the beat."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from rehearse.music.position import Seconds
from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity, seconds
from rehearse.routine.checks.timing import SLACK
from rehearse.routine.model import Place
from rehearse.routine.moving import Timed, again_times, chain, overrun
from rehearse.routine.snapping import place_of_accent
from rehearse.routine.timed_pose import TimedPose
from rehearse.words import _, place_text

_KNEEL, _LUNGE = ("kneel down", "stand up"), ("sink to a lunge", "lunge step")
_STEPS = ("step", "cross step", "slide", "walk on", "walk off")
#: Steps between two places of the stage: from its middle to a side (common practice, no source).
_ASIDE = 2


def check_moves(case: Case) -> Iterator[Finding]:
    """Every transition with its moves, the way off, and hits once more."""
    place = Place.CENTRE
    for index, timed_pose in enumerate(case.timed_poses):
        here = timed_pose.placed.place or place
        yield from _fit(case, timed_pose)
        for timed in timed_pose.moves:
            yield from _body(case, timed, timed_pose)
        if index:
            yield from _distance(case, timed_pose, place, here)
        yield from _nothing_to_do(case, timed_pose)
        yield from _again(case, timed_pose)
        place = here
    yield from _off(case)


def _fit(case: Case, timed_pose: TimedPose) -> Iterator[Finding]:
    over = overrun(timed_pose.placed, case.beatmap)
    if over > SLACK:
        yield Finding.about(
            timed_pose,
            "moves",
            Severity.WARNING,
            _("its moves take {over:.1f} s more than its transition has", over=over),
            _(
                "begin the transition {counts_for} earlier, or make a move shorter",
                counts_for=case.counts_for(timed_pose.start, over),
            ),
            over,
        )


def _body(case: Case, timed: Timed, timed_pose: TimedPose | None) -> Iterator[Finding]:
    name, time = timed.move.move, timed.end - timed.start
    limits = case.thresholds
    wanted = 0.0
    if name in _KNEEL:
        wanted = limits.to_kneeling
    elif name in _LUNGE:
        wanted = limits.to_lunge
    elif name == "turn":
        wanted = limits.quarter_turn
    elif name in _STEPS:
        wanted = limits.step
    if time < wanted - SLACK:
        yield Finding(
            "move",
            Severity.WARNING,
            _(
                "{seconds} s for {name}, {wanted:g} s are wanted at this tempo",
                seconds=seconds(time, wanted),
                name=name,
                wanted=wanted,
            ),
            _(
                "make it {counts_for} longer",
                counts_for=case.counts_for(timed.start, wanted - time),
            ),
            case.place(timed.start),
            timed.start,
            timed_pose.placed.id if timed_pose else "",
            timed_pose.pose.name if timed_pose else "",
            wanted - time,
        )


def _distance(case: Case, timed_pose: TimedPose, old: Place, new: Place) -> Iterator[Finding]:
    steps = steps_between(old, new)
    time, wanted = timed_pose.hit - timed_pose.start, steps * case.thresholds.step
    if time < wanted - SLACK:
        yield Finding.about(
            timed_pose,
            "distance",
            Severity.WARNING,
            _(
                "{seconds} s from {old} to {new}, its {steps} steps want {wanted:g} s",
                seconds=seconds(time, wanted),
                old=old,
                new=new,
                steps=steps,
                wanted=wanted,
            ),
            _(
                "begin the transition {counts_for} earlier, or choose a nearer place",
                counts_for=case.counts_for(timed_pose.start, wanted - time),
            ),
            wanted - time,
        )


def steps_between(old: Place, new: Place) -> int:
    """Steps from one place of the stage to another, sideways and forward together."""
    (x, y), (u, v) = _at(old), _at(new)
    return _ASIDE * max(abs(x - u), abs(y - v))


def _at(place: Place) -> tuple[int, int]:
    words = place.split(" ")
    return ("right" in words) - ("left" in words), ("front" in words) - ("back" in words)


def _nothing_to_do(case: Case, timed_pose: TimedPose) -> Iterator[Finding]:
    start = timed_pose.moves[-1].end if timed_pose.moves else timed_pose.start
    still, longest = timed_pose.hit - start, case.thresholds.longest_way
    if still > longest + SLACK:
        counts = case.beatmap.counts_between(start, timed_pose.hit)
        length = (
            _("{counts:g} counts", counts=counts)
            if counts is not None
            else _("{still:.1f} s", still=still)
        )
        yield Finding.about(
            timed_pose,
            "nothing to do",
            Severity.HINT,
            _("{length} with nothing to do on the way into it", length=length),
            _("put moves in, or begin the transition later"),
            still - longest,
        )


def _again(case: Case, timed_pose: TimedPose) -> Iterator[Finding]:
    if len(again_times(timed_pose.placed, case.beatmap)) < len(timed_pose.placed.again):
        told = ", ".join(place_text(position) for position in timed_pose.placed.again)
        yield Finding.about(
            timed_pose,
            "again",
            Severity.WARNING,
            _("it is hit again at {told}, and not held there", told=told),
            _("hold it longer, or take the hit out with the full stop"),
        )


def _off(case: Case) -> Iterator[Finding]:
    moves = case.routine.exit
    if not moves or not case.timed_poses:
        return
    timed = chain(moves, case.timed_poses[-1].end, case.beatmap)
    for one in timed:
        yield from _body(case, one, None)
    end = min(case.stage.end, case.beatmap.duration)
    if timed[-1].end > end + SLACK:
        yield Finding(
            "way off",
            Severity.HINT,
            _("the way off continues after the stage music ends"),
            _("hold the last pose shorter, or walk off without music"),
            case.place(case.timed_poses[-1].end),
            case.timed_poses[-1].end,
            amount=timed[-1].end - end,
        )


def check_accents(case: Case) -> Iterator[Finding]:
    """Where a hit misses the music, by how many milliseconds."""
    times = np.array([accent.time for accent in case.beatmap.marked])
    for timed_pose in case.timed_poses:
        beside = _beside(case, timed_pose, times)
        if beside is not None:
            yield beside
        elif not (
            times.size and np.min(np.abs(times - timed_pose.hit)) < case.thresholds.beside_accent
        ):
            yield from _off_the_beat(case, timed_pose)


def _beside(case: Case, timed_pose: TimedPose, times: np.ndarray) -> Finding | None:
    if not times.size:
        return None
    accent = float(times[int(np.argmin(np.abs(times - timed_pose.hit)))])
    off = timed_pose.hit - accent
    if not case.thresholds.beside_accent <= abs(off) <= case.thresholds.near_accent:
        return None
    taken = any(abs(s.hit - accent) < case.thresholds.beside_accent for s in case.timed_poses)
    if taken:
        return None
    return Finding.about(
        timed_pose,
        "accent",
        Severity.HINT,
        _(
            "it is hit {off:.0f} ms {value} the accent",
            off=abs(off) * 1000,
            value=_("after") if off > 0 else _("before"),
        ),
        _("hit it at {place_of_accent}", place_of_accent=place_of_accent(case.beatmap, accent)),
        abs(off),
    )


def _off_the_beat(case: Case, timed_pose: TimedPose) -> Iterator[Finding]:
    index = case.beatmap.beat_at(timed_pose.hit)
    if index is None or not isinstance(timed_pose.placed.hit, Seconds):
        return
    half = case.beatmap.interval(index) / 2
    steps = (timed_pose.hit - case.beatmap.beats[index]) / half
    off = (steps - round(steps)) * half
    if abs(off) >= case.thresholds.off_beat:
        yield Finding.about(
            timed_pose,
            "off the beat",
            Severity.WARNING,
            _(
                "it is hit {off:.0f} ms {value} {place}",
                off=abs(off) * 1000,
                value=_("after") if off > 0 else _("before"),
                place=case.place(timed_pose.hit),
            ),
            _("hit it at {place}", place=case.place(timed_pose.hit)),
            abs(off),
        )
