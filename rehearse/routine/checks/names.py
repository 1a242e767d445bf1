"""Own names that are too long to be read from where the athlete stands."""

from __future__ import annotations

from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity
from rehearse.routine.timed_pose import TimedPose

#: Letters of a line, and lines, that have room at 22′ of arc on the smallest screen that is used
#: from as far away as it can be. The bundled face sets 13 letters in 7.25 heights of a capital.
LETTERS, LINES = 13, 2


def check_names(case: Case) -> Iterator[Finding]:
    """The athlete's own poses and moves without a short form, each told once."""
    told = set()
    own = {pose.name: pose.say for pose in case.routine.own_poses}
    own |= {move.name: move.say for move in case.routine.own_moves}
    for timed_pose in case.timed_poses:
        for name in (timed_pose.placed.pose, *(move.move for move in timed_pose.placed.moves)):
            say = own.get(name)
            if name == timed_pose.placed.pose:
                say = timed_pose.placed.say or say
            large = fits(name) or bool(say and fits(say))
            if name in own and name not in told and not large:
                told.add(name)
                yield _finding(timed_pose, name, say or "")


def _finding(timed_pose: TimedPose, name: str, say: str) -> Finding:
    what = f"the short form of {name}" if say else name
    why = f"{what} is too long to be read from across the room"
    do = f"write a short form of {LINES} times {LETTERS} letters, under Spoken"
    return Finding.about(timed_pose, "name", Severity.HINT, why, do)


def fits(text: str) -> bool:
    """Whether a name has room in `LINES` lines of `LETTERS` letters, broken at spaces."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if len(longer) <= LETTERS:
            lines[-1] = longer
        else:
            lines.append(word)
    return len([line for line in lines if line]) <= LINES and max(map(len, lines)) <= LETTERS
