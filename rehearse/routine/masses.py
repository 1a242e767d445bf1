"""What a muscle is to the painter: a hull of balls, where it sits, and how it is drawn."""

from __future__ import annotations

from dataclasses import dataclass

from rehearse.routine.rotation import Array, own

#: Centre in the world, shape (3,), and radius, in body heights.
Ball = tuple[Array, float]

#: Width of the line that parts two muscles of one limb, in body heights.
THIN = 0.0024


@dataclass(frozen=True)
class Mass:
    """One muscle: the hull of one to four balls.

    Args:
        balls: they are fastened to one bone, or lead from one to the next.
        tone: "ink", "shade", "accent" or "gap".
        gap: width of the ground left free around it; 0 melts it into what lies behind.
        bias: how much nearer to the viewer it counts when the order is made.
        proud: the way it stands out of the body; seen from there it counts as nearer.
    """

    balls: tuple[Ball, ...]
    tone: str = "ink"
    gap: float = 0.006
    bias: float = 0.0
    proud: Array | None = None


@dataclass(frozen=True)
class Place:
    """Makes balls from places (out, up, forward) in a frame at an origin."""

    origin: Array
    frame: Array
    sign: float = 1.0

    def __call__(self, out: float, up: float, forward: float, radius: float) -> Ball:
        """A ball in the world; `sign` −1 puts `out` to the athlete's right."""
        return self.origin + self.frame @ own((out, up, forward), self.sign), radius
