"""Every move before and after every pose of the catalogue: feet, trunk, joints, arrival, cost.

Run: python -m tests.bench.motion [--every N]; with N only every N-th pair. Status 1 when a bound of
`tests.routine.test_motion` is broken. Each pose is once before and once after each move.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import fields

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


def main() -> int:
    """Measure and print; 1 when a bound is broken."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--every", type=int, default=1)
    every = parser.parse_args().every
    poses = load_catalogue().poses
    done = [(kind, d) for kind in load_moves().moves for d, _ in kind.keys]
    found: list[tuple[Found, str]] = []
    plans, frames = [], []
    for number, (kind, direction) in enumerate(done):
        for k in range(number % every, len(poses), every):
            after = poses[(k * 29 + 7 * number + 3) % len(poses)]
            side = (Side.LEFT, Side.RIGHT)[(k + number) % 2] if kind.sided else None
            way = way_of(poses[k].figure, kind, after.figure, side=side, direction=direction)
            begun = time.process_time()
            plan_of(way)
            plans.append(time.process_time() - begun)
            begun = time.process_time()
            body_at(way, way.end / 3)
            frames.append(time.process_time() - begun)
            words = f"{poses[k].name} | {kind.name} {direction} {side or ''} | {after.name}"
            found.append((measured(way, 60), words))
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
