"""What the program knows of the trade: findings about a routine, each with where, why, what to do.

`check` runs them all, the weightiest first. Rules come from a rule set, the rest from
thresholds that are common practice and can be changed.
"""

from __future__ import annotations

from collections.abc import Mapping

from rehearse.music.beatmap import BeatMap
from rehearse.routine.checks.case import Case, Thresholds, load_thresholds, make_case
from rehearse.routine.checks.finding import Finding, Severity
from rehearse.routine.checks.move_checks import check_accents, check_moves
from rehearse.routine.checks.pose_checks import (
    check_aside,
    check_balance,
    check_forbidden,
    check_names,
    check_repeats,
    check_required,
)
from rehearse.routine.checks.timing import (
    check_bounds,
    check_filmed,
    check_gaps,
    check_holds,
    check_length,
    check_overlaps,
    check_transitions,
)
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
    check_length,
    check_required,
    check_forbidden,
    check_bounds,
    check_overlaps,
    check_holds,
    check_transitions,
    check_filmed,
    check_moves,
    check_accents,
    check_gaps,
    check_repeats,
    check_balance,
    check_names,
    check_aside,
)


def check(
    routine: Routine,
    beatmap: BeatMap,
    catalogue: Catalogue,
    rules: RuleSet,
    thresholds: Thresholds | None = None,
    filmed: Mapping[str, float] | None = None,
) -> tuple[Finding, ...]:
    """Everything to say about a routine: faults first, then by place in the music.

    Args:
        routine, beatmap: every position of the routine is in the map.
        catalogue: the poses without the routine's own ones.
        rules: the rule set of the show.
        thresholds: None takes the packaged ones and the athlete's own.
        filmed: as of `Case`.
    """
    limits = thresholds or load_thresholds()
    return look_at(make_case(routine, beatmap, catalogue, rules, limits, filmed))


def look_at(case: Case) -> tuple[Finding, ...]:
    """The same of a routine that is laid out already."""
    found = [finding for look in _CHECKS for finding in look(case)]
    return tuple(sorted(found, key=lambda f: (f.severity.rank, f.time)))
