"""What the rules forbid: by a pose's name, its note, the shape of the body, a move."""

from __future__ import annotations

from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity
from rehearse.routine.poses import plain
from rehearse.routine.rules import Forbidden
from rehearse.routine.timed_pose import TimedPose

#: Degrees the trunk is tipped forward from which it counts as bent, and the move that does it.
_BENT, _BENDING = 45.0, "bend forward"


def check(case: Case) -> Iterator[Finding]:
    """A pose that is forbidden is a fault, a note that speaks of one a warning."""
    for rule in case.rules.forbidden:
        because = f"; {rule.why}" if rule.why else ""
        for timed_pose in case.timed_poses:
            if _is_meant(rule, timed_pose):
                why = f"{case.rules.name} forbids {rule.what}{because}"
                do = f"delete it, or {case.rules.note}"
                yield Finding.about(timed_pose, "forbidden", Severity.FAULT, why, do)
            elif _holds(timed_pose.placed.note, rule.words):
                why = f"the note may mean {rule.what}, which {case.rules.name} forbids{because}"
                yield Finding.about(
                    timed_pose, "forbidden", Severity.WARNING, why, "look at the note"
                )


def _is_meant(rule: Forbidden, timed_pose: TimedPose) -> bool:
    name = plain(timed_pose.pose.name)
    family = any(name.startswith(plain(pose)) for pose in rule.poses)
    return (
        family
        or _holds(f"{name} {timed_pose.placed.say}", rule.words)
        or _has_shape(rule, timed_pose)
    )


def _has_shape(rule: Forbidden, timed_pose: TimedPose) -> bool:
    """Whether the body, or a move on the way to it, is bent forward with its back to the judges."""
    if not rule.shape or not 90 < timed_pose.facing.turned < 270:
        return False
    bends = any(move.move == _BENDING for move in timed_pose.placed.moves)
    return bends or timed_pose.figure.lean + timed_pose.figure.bend >= _BENT


def _holds(text: str, words: tuple[str, ...]) -> bool:
    padded = f" {plain(text)} "
    return any(f" {plain(word)} " in padded for word in words)
