"""No two poses look alike at the size of the picker, whoever's body shows them."""

from __future__ import annotations

import numpy as np
import pytest

from rehearse.routine.look import Look
from rehearse.routine.poses import load_catalogue
from tests.helpers.likeness import pictures, unlikeness

#: Figures once taken for each other measured, as they were drawn then, 0.155 (crab and hands on
#: hips), 0.191 (abdominals and thighs and vacuum) and 0.216 (front lat spread and hands on hips).
LEAST = 0.22
LOOKS = [Look(), Look("man", "board shorts"), Look("woman", "two-piece", heels=True)]


@pytest.mark.parametrize("look", LOOKS, ids=lambda look: f"{look.figure} {look.dress}")
def test_every_pose_is_told_from_every_other(qapp, look):
    poses = load_catalogue().poses
    parted = unlikeness(pictures((pose.figure for pose in poses), look=look))
    alike = [
        f"{poses[a].name} and {poses[b].name}: {parted[a, b]:.3f}"
        for a, b in np.argwhere(parted < LEAST)
        if a < b
    ]
    assert not alike


def test_the_measure_knows_the_same_pose_and_a_shifted_one(qapp):
    stack = pictures([load_catalogue().find("victory").figure] * 2)
    assert unlikeness(stack)[0, 1] == 0.0
    stack[1] = np.roll(stack[1], 2, 1)
    assert unlikeness(stack)[0, 1] < 0.01


def test_the_measure_tells_the_two_sides_of_a_pose_apart(qapp):
    names = ("side chest left", "side chest right")
    stack = pictures(load_catalogue().find(name).figure for name in names)
    assert unlikeness(stack)[0, 1] > 2 * LEAST
