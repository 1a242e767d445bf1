"""Every move before and after every pose of the catalogue: feet, trunk, joints, arrival, cost.

Run: python -m tests.bench.motion [--every N] [--from K] [--jobs J]. With N only every N-th pair,
from the K-th on: N runs see them all. J processes share the work. Status 1 when a bound of
`tests.routine.test_motion` is broken. Each pose is once before and once after each move.
"""

from __future__ import annotations

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, fields
from functools import partial

import numpy as np

from rehearse.routine.model import Side
from rehearse.routine.motion import body_at, plan_of
from rehearse.routine.moves import load_moves
from rehearse.routine.poses import load_catalogue
from tests.helpers.moving import Found, measured, way_of
from tests.routine.test_motion import LATE, LEAP, SLIDE, TRUNK

BOUNDS = {
    "slide": SLIDE, "trunk": TRUNK, "knee": 0.0, "elbow": 0.0, "past": 1e-6, "sunk": 0.0,
    "leap": LEAP, "late": LATE,
}  # fmt: skip


@dataclass(frozen=True)
class Seen:
    """One way: what was found, in words, and seconds of its plan and of one frame."""

    found: Found
    words: str
    plan: float
    frame: float


def of_move(number: int, every: int, first: int) -> list[Seen]:
    """The ways of one move of the catalogue."""
    poses = load_catalogue().poses
    kind, direction = [(kind, d) for kind in load_moves().moves for d, _ in kind.keys][number]
    seen = []
    for k in range((number + first) % every, len(poses), every):
        after = poses[(k * 29 + 7 * number + 3) % len(poses)]
        side = (Side.LEFT, Side.RIGHT)[(k + number) % 2] if kind.sided else None
        way = way_of(poses[k].figure, kind, after.figure, side=side, direction=direction)
        begun = time.process_time()
        plan_of(way)
        plan = time.process_time() - begun
        begun = time.process_time()
        body_at(way, way.end / 3)
        frame = time.process_time() - begun
        words = f"{poses[k].name} | {kind.name} {direction} {side or ''} | {after.name}"
        seen.append(Seen(measured(way, 60), words, plan, frame))
    return seen


def main() -> int:
    """Measure and print; 1 when a bound is broken."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--from", type=int, default=0, dest="first")
    parser.add_argument("--jobs", type=int, default=1)
    options = parser.parse_args()
    moves = range(sum(len(kind.keys) for kind in load_moves().moves))
    look = partial(of_move, every=options.every, first=options.first)
    if options.jobs > 1:
        with ProcessPoolExecutor(options.jobs) as pool:
            seen = [one for some in pool.map(look, moves) for one in some]
    else:
        seen = [one for number in moves for one in look(number)]
    found = [(one.found, one.words) for one in seen]
    plans, frames = [one.plan for one in seen], [one.frame for one in seen]
    broken = 0
    for field in fields(Found):
        values = np.array([getattr(f, field.name) for f, _ in found])
        over = int((values > BOUNDS[field.name]).sum())
        broken += over
        worst = found[int(values.argmax())][1]
        print(
            f"{field.name:6} median {np.median(values):8.4f} p99 {np.percentile(values, 99):8.4f} "
            f"max {values.max():8.4f} bound {BOUNDS[field.name]:g}, over {over}: {worst}"
        )
    for name, times in (("plan", plans), ("frame", frames)):
        print(f"{name} CPU median {np.median(times) * 1e3:.2f} max {max(times) * 1e3:.1f} ms")
    print(f"{len(found)} ways, {broken} bounds broken")
    return int(broken > 0)


if __name__ == "__main__":
    sys.exit(main())
