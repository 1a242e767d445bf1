"""Head and neck of a figure: a face that tells where it looks, and hair.

Conventions: places are (out, up, forward) in the frame of the head or the chest, in body heights.
"""

from __future__ import annotations

from collections.abc import Iterator

from rehearse.routine.look import Look
from rehearse.routine.muscles import THIN, BallPlacer, Muscle
from rehearse.routine.skeleton import Frames

#: Of a feature's own direction, what must point to the viewer before it is drawn.
_SEEN = 0.12


def head(frames: Frames, look: Look) -> Iterator[Muscle]:
    """Neck, face, hair and ears."""
    p, points = BallPlacer(frames.points["head"], frames.head), frames.points
    neck = look.build.neck
    chest = BallPlacer(points["neck"], frames.chest, 1.0, neck, neck)
    throat = BallPlacer(points["head"], frames.head, 1.0, neck, neck)
    yield Muscle(
        (
            chest(0.012, -0.030, -0.010, 0.030),
            chest(-0.012, -0.030, -0.010, 0.030),
            throat(0, -0.034, -0.010, 0.031),
        )
    )
    woman = look.figure == "woman"
    chin = (0.028, 0.016) if woman else (0.032, 0.021)
    yield Muscle(
        (p(0, 0.014, 0.0, 0.043), p(0, -0.016, 0.014, chin[0]), p(0, -0.037, 0.023, chin[1]))
    )
    yield from _face(frames)
    # Hair: a cap that tells the back of the head from the face at any size.
    yield Muscle(
        (p(0, 0.026, -0.012, 0.043), p(0, 0.036, 0.008, 0.035), p(0, -0.012, -0.022, 0.031)),
        tone="hair",
        gap=0.003,
    )
    # The line of the hair over the forehead, seen where the face is.
    fringe = (
        p(0.020, 0.043, 0.026, 0.013),
        p(-0.020, 0.043, 0.026, 0.013),
        p(0, 0.050, 0.022, 0.014),
    )
    yield Muscle(fringe, "hair", 0, proud=0.03 * frames.head[:, 2])
    if woman:
        for out in (0.036, -0.036):
            side = (p(out, 0.030, 0.010, 0.012), p(out * 1.06, 0.004, -0.006, 0.009))
            yield Muscle(side, "hair", 0, proud=0.03 * frames.head[:, 2])
        # Worn up: it must not hide the back, and tells a profile at any size.
        yield Muscle(
            (p(0, 0.030, -0.058, 0.021), p(0, 0.034, -0.040, 0.016)),
            tone="hair",
            gap=0.003,
            bias=-0.004,
        )
    for sign in (1.0, -1.0):
        q = BallPlacer(points["head"], frames.head, sign)
        yield Muscle((q(0.042, 0.002, -0.004, 0.008), q(0.040, -0.010, -0.002, 0.005)), gap=THIN)


def _face(frames: Frames) -> Iterator[Muscle]:
    """Brows, eyes, nose and mouth, each as long as its side of the face is seen."""
    p, ahead = BallPlacer(frames.points["head"], frames.head), frames.head[:, 2]
    if float(ahead[2]) < -0.25:
        return
    proud = 0.02 * ahead
    yield Muscle((p(0, -0.011, 0.052, 0.0065), p(0, 0.008, 0.046, 0.0032)), "shade", 0, proud=proud)
    for sign in (1.0, -1.0):
        aside = sign * frames.head[:, 0]
        if float(0.8 * ahead[2] + 0.6 * aside[2]) < _SEEN:
            continue
        q = BallPlacer(frames.points["head"], frames.head, sign)
        brow = (q(0.008, 0.016, 0.0425, 0.0034), q(0.025, 0.014, 0.0340, 0.0026))
        yield Muscle(brow, "shade", 0, proud=proud)
        eye = (q(0.011, 0.007, 0.0430, 0.0030), q(0.021, 0.0065, 0.0385, 0.0024))
        yield Muscle(eye, "gap", 0, proud=proud)
        mouth = (q(0.0, -0.0295, 0.0440, 0.0019), q(0.010, -0.0285, 0.0400, 0.0014))
        yield Muscle(mouth, "gap", 0, proud=proud)
