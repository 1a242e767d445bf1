"""What a muscle is to the painter: a hull of balls, where it sits, and how it is drawn."""

from __future__ import annotations

from dataclasses import dataclass

from rehearse.routine.bones import Vector
from rehearse.routine.rotation import Array

#: Centre in the world and radius, in body heights.
Ball = tuple[Vector, float]

#: Width of the line that parts two muscles of one limb, in body heights.
THIN = 0.0024


@dataclass(frozen=True)
class Muscle:
    """One muscle: the hull of one to four balls.

    Args:
        balls: they are fastened to one bone, or lead from one to the next.
        tone: "ink", "shade", "hair", "accent" or "gap".
        gap: width of the ground left free around it; 0 melts it into what lies behind.
        bias: how much nearer to the viewer it counts when the order is made.
        proud: the way it stands out of the body; seen from there it counts as nearer.
    """

    balls: tuple[Ball, ...]
    tone: str = "ink"
    gap: float = 0.006
    bias: float = 0.0
    proud: Array | None = None


class BallPlacer:
    """Makes balls from places (out, up, forward) in a frame at an origin.

    Args:
        origin: shape (3,). frame: 3 × 3.
        sign: −1 puts `out` to the athlete's right.
        wide: stretches `out`. deep: stretches `forward` and the radius.
    """

    # A figure has three hundred balls: plain floats place them in a fraction of NumPy's time.
    __slots__ = ("_deep", "_frame", "_origin", "_wide")

    def __init__(
        self, origin: Array, frame: Array, sign: float = 1.0, wide: float = 1.0, deep: float = 1.0
    ) -> None:
        self._origin: list[float] = origin.tolist()
        self._frame: list[list[float]] = frame.tolist()
        self._wide, self._deep = sign * wide, deep

    def __call__(self, out: float, up: float, forward: float, radius: float) -> Ball:
        """A ball in the world."""
        a, c = self._wide * out, self._deep * forward
        (ox, oy, oz), (x, y, z) = self._origin, self._frame
        return (
            (
                ox + x[0] * a + x[1] * up + x[2] * c,
                oy + y[0] * a + y[1] * up + y[2] * c,
                oz + z[0] * a + z[1] * up + z[2] * c,
            ),
            radius * self._deep,
        )
