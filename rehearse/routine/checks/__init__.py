"""What the program knows of the trade: findings about a routine, each with where, why, what to do.

One file for each kind of check; `check` runs them all. Rules come from a rule set, the rest from
thresholds that are common practice and can be changed.
"""

from __future__ import annotations

from rehearse.music.beatmap import BeatMap
from rehearse.routine.checks import (
    accents,
    aside,
    balance,
    bounds,
    forbidden,
    gaps,
    holds,
    length,
    moves,
    names,
    overlaps,
    repeats,
    required,
    transitions,
)
from rehearse.routine.checks.case import Case, make_case
from rehearse.routine.checks.finding import Finding, Severity
from rehearse.routine.checks.thresholds import Thresholds, load_thresholds
from rehearse.routine.model import Routine
from rehearse.routine.poses import Catalogue
from rehearse.routine.rules import RuleSet

__all__ = [
    "Case",
    "Finding",
    "Severity",
    "Thresholds",
    "check",
    "load_thresholds",
    "look_at",
    "make_case",
]

_CHECKS = (
    length.check,
    required.check,
    forbidden.check,
    bounds.check,
    overlaps.check,
    holds.check,
    transitions.check,
    moves.check,
    accents.check,
    gaps.check,
    repeats.check,
    balance.check,
    names.check,
    aside.check,
)


def check(
    routine: Routine,
    beatmap: BeatMap,
    catalogue: Catalogue,
    rules: RuleSet,
    thresholds: Thresholds | None = None,
) -> tuple[Finding, ...]:
    """Everything to say about a routine: faults first, then by place in the music.

    Args:
        routine, beatmap: every position of the routine is in the map.
        catalogue: the poses without the routine's own ones.
        rules: the rule set of the show.
        thresholds: None takes the packaged ones and the athlete's own.
    """
    return look_at(make_case(routine, beatmap, catalogue, rules, thresholds or load_thresholds()))


def look_at(case: Case) -> tuple[Finding, ...]:
    """The same of a routine that is laid out already."""
    found = [finding for look in _CHECKS for finding in look(case)]
    return tuple(sorted(found, key=lambda f: (f.severity.rank, f.time)))
