"""How soon a leg gives way on its way, so that no knee snaps where its leg comes to be straight.

The bend of a knee goes with the root of what its leg lacks to be straight: hips that rise steadily
would throw the knee back faster and faster. So while hips or feet move, a leg gives way when it
is within `SLACK` of straight (see `stance.put_together`). In the poses legs may be locked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rehearse.routine.keyfigures import Body
from rehearse.routine.stance import FIRST, SIDES, TURN, slack_of

#: On the way legs give way when they are so much shorter than straight, in body heights …
SLACK = 0.010
#: … and come to do so, and to be as in the key figure again, within so many seconds.
_UNLOCK, _LOCK = 0.25, 0.4


@dataclass(frozen=True)
class LegSlack:
    """The legs between two keys, in seconds, in which they move or stand.

    Args:
        here, there: what the left and the right leg lack to be straight in the first key and in
            the last, at most `SLACK`, in body heights.
    """

    start: float
    end: float
    moving: bool
    here: tuple[float, float]
    there: tuple[float, float]

    def at(self, time: float) -> tuple[float, float]:
        """The slack of the left and of the right leg at a time."""
        if not self.moving:
            return self.here
        left, right = (
            min(
                _from(here, (time - self.start) / _UNLOCK),
                _from(there, (self.end - time) / _LOCK),
            )
            for here, there in zip(self.here, self.there, strict=True)
        )
        return left, right


def _from(slack: float, part: float) -> float:
    """The slack at part 0..1 of the time from a key in which it is `slack` to the full one."""
    u = min(1.0, max(0.0, part))
    # The fourth power: the bend of the knee, its root, still sets in and stops without a jerk.
    return slack + (SLACK - slack) * (u * u * (3 - 2 * u)) ** 2


def leg_slacks(times: Sequence[float], bodies: Sequence[Body]) -> tuple[LegSlack, ...]:
    """The stretches in which the legs move or stand, in order, from the keys of a way."""
    slacks = []
    for v, feet in bodies:
        left, right = (min(SLACK, slack_of(v, feet, side)) for side, _ in SIDES)
        slacks.append((left, right))
    runs: list[LegSlack] = []
    for k in range(len(times) - 1):
        moving, start, here = _moves(bodies[k], bodies[k + 1]), times[k], slacks[k]
        if runs and moving and runs[-1].moving:
            start, here = runs[-1].start, runs.pop().here
        runs.append(LegSlack(start, times[k + 1], moving, here, slacks[k + 1]))
    return tuple(runs)


def _moves(a: Body, b: Body) -> bool:
    """Whether hips or feet are elsewhere."""
    (v, feet), (w, goals) = a, b
    hips = slice(TURN, FIRST + 2)  # turn, place and height, lean and hips
    return not np.allclose(v[hips], w[hips], atol=1e-6) or any(
        not np.allclose(feet[side].ankle, goals[side].ankle, atol=1e-6)
        or not np.allclose(feet[side].toes, goals[side].toes, atol=1e-6)
        for side, _ in SIDES
    )
