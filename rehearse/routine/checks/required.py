"""Poses the rules ask for, and forms they ask them in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity
from rehearse.routine.poses import plain
from rehearse.routine.timed_pose import TimedPose


def check(case: Case) -> Iterator[Finding]:
    """Required and mandatory poses that are missing, those of men only, hands that must be open."""
    names = [plain(s.pose.name) for s in case.timed_poses]
    for name in _missing(case.rules.required, names):
        yield Finding(
            "required",
            Severity.FAULT,
            f"{case.rules.name} requires {name}, the routine has none",
            f"put one in, or {case.rules.note}",
        )
    if missing := _missing(case.rules.mandatory_for(case.routine.figure), names):
        yield Finding(
            "mandatory",
            Severity.WARNING,
            f"of the mandatory poses of {case.rules.name} the routine does not show "
            f"{', '.join(missing)}",
            f"show them if they are strong, and {case.rules.note}",
        )

    for timed_pose in case.timed_poses:
        yield from _form(case, timed_pose)


def missing(case: Case) -> list[str]:
    """Names or families that the rules require and the routine lacks, then the mandatory ones."""
    names = [plain(s.pose.name) for s in case.timed_poses]
    wanted = (*case.rules.required, *case.rules.mandatory_for(case.routine.figure))
    return _missing(dict.fromkeys(wanted), names)


def _form(case: Case, timed_pose: TimedPose) -> Iterator[Finding]:
    rules, name = case.rules, plain(timed_pose.pose.name)
    if case.routine.figure != "man" and any(name.startswith(plain(p)) for p in rules.men_only):
        why = f"{rules.name} has {timed_pose.pose.name} for men only"
        do = f"swap it for another pose, or {rules.note}"
        yield Finding.about(timed_pose, "men only", Severity.FAULT, why, do)
    family = any(name.startswith(plain(pose)) for pose in rules.open_hands)
    if family and "open" not in f"{name} {plain(timed_pose.placed.note)}".split():
        why = f"{rules.name} shows it with open hands"
        do = "swap it for its form with open hands, or say so in its note"
        yield Finding.about(timed_pose, "open hands", Severity.WARNING, why, do)


def _missing(wanted: Iterable[str], names: list[str]) -> list[str]:
    # A family ("side chest") is shown by any of its sides.
    return [w for w in wanted if not any(n.startswith(plain(w)) for n in names)]
