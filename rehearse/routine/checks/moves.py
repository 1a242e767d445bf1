"""Moves that do not fit, that the body has no time for, and long ways with nothing to do.

Times are common practice, no source. How long a move is held is no question: it is on its way.
"""

from __future__ import annotations

from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity, seconds
from rehearse.routine.checks.transitions import SLACK
from rehearse.routine.model import Place
from rehearse.routine.moving import Timed, again_times, chain, overrun
from rehearse.routine.shown import Shown

_KNEEL, _LUNGE = ("kneel down", "stand up"), ("sink to a lunge", "lunge step")
_STEPS = ("step", "cross step", "slide", "walk on", "walk off")
#: Steps between two places of the stage: from its middle to a side (common practice, no source).
_ASIDE = 2


def check(case: Case) -> Iterator[Finding]:
    """Every transition with its moves, the way off, and hits once more."""
    place = Place.CENTRE
    for index, shown in enumerate(case.shown):
        here = shown.placed.place or place
        yield from _fit(case, shown)
        for timed in shown.moves:
            yield from _body(case, timed, shown)
        if index:
            yield from _distance(case, shown, place, here)
        yield from _nothing_to_do(case, shown)
        yield from _again(case, shown)
        place = here
    yield from _off(case)


def _fit(case: Case, shown: Shown) -> Iterator[Finding]:
    over = overrun(shown.placed, case.beatmap)
    if over > SLACK:
        yield Finding.about(
            shown,
            "moves",
            Severity.WARNING,
            f"its moves take {over:.1f} s more than its transition has",
            f"begin the transition {case.counts_for(shown.start, over)} earlier, or make a move "
            "shorter",
            over,
        )


def _body(case: Case, timed: Timed, shown: Shown | None) -> Iterator[Finding]:
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
            f"{seconds(time, wanted)} s for {name}, {wanted:g} s are wanted at this tempo",
            f"make it {case.counts_for(timed.start, wanted - time)} longer",
            case.place(timed.start),
            timed.start,
            shown.placed.id if shown else "",
            shown.pose.name if shown else "",
            wanted - time,
        )


def _distance(case: Case, shown: Shown, old: Place, new: Place) -> Iterator[Finding]:
    steps = steps_between(old, new)
    time, wanted = shown.hit - shown.start, steps * case.thresholds.step
    if time < wanted - SLACK:
        yield Finding.about(
            shown,
            "distance",
            Severity.WARNING,
            f"{seconds(time, wanted)} s from {old} to {new}, its {steps} steps want {wanted:g} s",
            f"begin the transition {case.counts_for(shown.start, wanted - time)} earlier, or "
            "choose a nearer place",
            wanted - time,
        )


def steps_between(old: Place, new: Place) -> int:
    """Steps from one place of the stage to another, sideways and forward together."""
    (x, y), (u, v) = _at(old), _at(new)
    return _ASIDE * max(abs(x - u), abs(y - v))


def _at(place: Place) -> tuple[int, int]:
    words = place.split(" ")
    return ("right" in words) - ("left" in words), ("front" in words) - ("back" in words)


def _nothing_to_do(case: Case, shown: Shown) -> Iterator[Finding]:
    start = shown.moves[-1].end if shown.moves else shown.start
    still, longest = shown.hit - start, case.thresholds.longest_way
    if still > longest + SLACK:
        counts = case.beatmap.counts_between(start, shown.hit)
        length = f"{counts:g} counts" if counts is not None else f"{still:.1f} s"
        yield Finding.about(
            shown,
            "nothing to do",
            Severity.HINT,
            f"{length} with nothing to do on the way into it",
            "put moves in, or begin the transition later",
            still - longest,
        )


def _again(case: Case, shown: Shown) -> Iterator[Finding]:
    if len(again_times(shown.placed, case.beatmap)) < len(shown.placed.again):
        told = ", ".join(str(position) for position in shown.placed.again)
        yield Finding.about(
            shown,
            "again",
            Severity.WARNING,
            f"it is hit again at {told}, and not held there",
            "hold it longer, or take the hit out with the full stop",
        )


def _off(case: Case) -> Iterator[Finding]:
    moves = case.routine.exit
    if not moves or not case.shown:
        return
    timed = chain(moves, case.shown[-1].end, case.beatmap)
    for one in timed:
        yield from _body(case, one, None)
    end = min(case.stage.end, case.beatmap.duration)
    if timed[-1].end > end + SLACK:
        yield Finding(
            "way off",
            Severity.HINT,
            "the way off goes on when the stage part is over",
            "hold the last pose shorter, or walk off without music",
            case.place(case.shown[-1].end),
            case.shown[-1].end,
            amount=timed[-1].end - end,
        )
