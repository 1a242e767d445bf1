"""The jointed figure: bones, quarter turns, mirroring, movement, and the forms of the trade."""

from __future__ import annotations

import itertools
import math
import tracemalloc
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rehearse.routine.anatomy import FOOTROOM, WINDOW, figure_shapes
from rehearse.routine.bones import FOREARM, KNEECAP, SHIN, SOLE, THIGH, UPPER_ARM, direction, reach
from rehearse.routine.clearance import depth, depths
from rehearse.routine.figure import Figure, between, distance, joints, mirrored
from rehearse.routine.poses import load_catalogue
from rehearse.routine.rotation import spun, tipped, turned
from rehearse.routine.stance import ARM, arm_of, arms_of, taken_apart

CATALOGUE = load_catalogue()
BONES = {
    ("shoulder", "elbow"): UPPER_ARM,
    ("elbow", "wrist"): FOREARM,
    ("hip", "knee"): THIGH,
    ("knee", "ankle"): SHIN,
}
figures = st.sampled_from([pose.figure for pose in CATALOGUE.poses])
parts = st.floats(0.0, 1.0)


def figure(name: str) -> Figure:
    return CATALOGUE.find(name).figure


def angle(points: dict[str, np.ndarray], a: str, corner: str, b: str) -> float:
    """Degrees between the two bones that meet in `corner`."""
    u, v = points[a] - points[corner], points[b] - points[corner]
    return math.degrees(math.acos(float(u @ v) / float(np.linalg.norm(u) * np.linalg.norm(v))))


def above_level(points: dict[str, np.ndarray], root: str, end: str) -> float:
    """Degrees by which the bone rises above the horizontal."""
    bone = points[end] - points[root]
    return math.degrees(math.asin(float(bone[1]) / float(np.linalg.norm(bone))))


@given(figures, figures, parts)
def test_bones_keep_their_length_on_the_way(a, b, t):
    points = joints(between(a, b, t))
    for side in ("left", "right"):
        for (upper, lower), length in BONES.items():
            span = np.linalg.norm(points[f"{side} {upper}"] - points[f"{side} {lower}"])
            assert span == pytest.approx(length, abs=1e-6)


@given(figures, figures)
def test_the_way_begins_and_ends_in_the_poses(a, b):
    assert between(a, b, 0.0) == a
    assert between(a, b, 1.0) == b
    for t, goal in ((1e-4, a), (1 - 1e-4, b)):
        assert distance(between(a, b, t), goal) < 1e-3


@given(figures, figures, st.floats(0.0, 0.98))
def test_the_body_never_jumps(a, b, t):
    # 2 % of the way moves no joint farther than a hand's breadth (0.12 body heights).
    p, q = joints(between(a, b, t)), joints(between(a, b, t + 0.02))
    assert max(float(np.linalg.norm(p[k] - q[k])) for k in p) < 0.12


@given(figures, figures, parts)
def test_somebody_always_stands_on_the_floor(a, b, t):
    points = joints(between(a, b, t))
    soles = [points[f"{s} {j}"][1] - SOLE for s in ("left", "right") for j in ("ankle", "toes")]
    knees = [points[f"{s} knee"][1] - KNEECAP for s in ("left", "right")]
    assert min(soles + knees) == pytest.approx(0.0, abs=0.02)


def test_timing_follows_the_minimum_jerk_law():
    # Flash & Hogan 1985 (from memory): x(t) = 10 t^3 - 15 t^4 + 6 t^5; at a quarter 0.1035.
    a, b = Figure(), replace(Figure(), nod=100.0)
    assert between(a, b, 0.25).nod == pytest.approx(10.3515625)
    assert between(a, b, 0.5).nod == pytest.approx(50.0)


def test_four_right_quarter_turns_return_to_the_front():
    # NGA By-Laws, pp. 39-41: quarter turns go to the competitor's right, four return to front.
    start = figure("front stance")
    nearest = []
    turned = start
    for _ in range(4):
        points = joints(turned)
        marks = {
            "front": points["left toes"][2] - points["left ankle"][2],
            "left": points["left shoulder"][2] - points["right shoulder"][2],
        }
        marks |= {"back": -marks["front"], "right": -marks["left"]}
        nearest.append(max(marks, key=marks.__getitem__))
        turned = replace(turned, turn=(turned.turn + 90) % 360)
    assert nearest == ["front", "left", "back", "right"]
    assert turned == start


def test_turning_right_round_passes_the_quarters_to_the_right():
    front, back = figure("front stance"), figure("back stance")
    turns = [between(front, back, t / 10).turn for t in range(11)]
    assert turns == sorted(turns)
    assert turns[5] == pytest.approx(90.0)
    assert between(figure("left side stance"), front, 0.5).turn == pytest.approx(45.0)


@given(figures)
def test_mirrored_twice_is_the_same(pose):
    assert distance(mirrored(mirrored(pose)), pose) < 1e-9


@given(figures)
def test_mirrored_is_the_mirror_image(pose):
    plain, flipped = joints(pose), joints(mirrored(pose))
    for name, point in plain.items():
        other = name.replace("left", "*").replace("right", "left").replace("*", "right")
        assert flipped[other] == pytest.approx(point * [-1, 1, 1], abs=1e-9)


@settings(max_examples=25)
@given(figures)
def test_mirrored_view_only_flips_the_picture(pose):
    for plain, seen in zip(
        figure_shapes(pose), figure_shapes(pose, view_mirrored=True), strict=True
    ):
        assert plain.tone == seen.tone
        assert seen.points == pytest.approx(plain.points * [-1, 1])


def test_two_bones_reach_their_target_by_the_law_of_cosines():
    # Worked by hand: 3-4-5; the joint lies on the circle of Thales over the hypotenuse.
    upper, lower = reach((0, 0, 0), (5, 0, 0), (0, 1, 0), 3, 4)
    joint = 3 * np.array(upper)
    assert joint == pytest.approx([9 / 5, 12 / 5, 0])
    assert joint + 4 * np.array(lower) == pytest.approx([5, 0, 0])


@pytest.mark.parametrize(
    ("lift", "swing", "expected"),
    [(0, 0, (0, -1, 0)), (90, 0, (1, 0, 0)), (90, 90, (0, 0, 1)), (180, 0, (0, 1, 0))],
)
def test_directions(lift, swing, expected):
    assert direction(lift, swing) == pytest.approx(expected, abs=1e-12)


def test_every_figure_differs_from_every_other():
    for a, b in itertools.combinations(CATALOGUE.poses, 2):
        assert distance(a.figure, b.figure) > 0.04, f"{a.name} looks like {b.name}"


@pytest.mark.parametrize("pose", CATALOGUE.poses, ids=lambda p: p.name)
def test_every_figure_fits_the_window(pose):
    points = np.concatenate([shape.points for shape in figure_shapes(pose.figure)])
    assert np.isfinite(points).all()
    assert np.abs(points[:, 0]).max() <= WINDOW[0] / 2
    assert points[:, 1].min() >= -0.07  # the toes of a foot set forward reach a little lower
    assert points[:, 1].max() <= WINDOW[1] - FOOTROOM


def test_the_lit_side_stays_inside_the_body():
    shapes = figure_shapes(figure("front double biceps"))
    for shade, lit in itertools.pairwise(shapes):
        if (shade.tone, lit.tone) == ("shade", "ink"):
            assert inside(lit.points, shade.points)


def inside(points: np.ndarray, hull: np.ndarray) -> bool:
    """Whether all points lie in the convex outline that runs counter-clockwise."""
    edges = np.roll(hull, -1, axis=0) - hull
    away = points[:, None, :] - hull[None, :, :]
    cross = edges[None, :, 0] * away[..., 1] - edges[None, :, 1] * away[..., 0]
    return bool((cross > -1e-6).all())


# Free poses: common practice, no source. The mandatory ones and the stances: `test_forms`.


@pytest.mark.parametrize("name", ["crucifix", "back crucifix", "kneeling crucifix"])
@pytest.mark.parametrize("side", ["left", "right"])
def test_crucifix_arms_are_straight_and_level(name, side):
    points = joints(figure(name))
    assert above_level(points, f"{side} shoulder", f"{side} wrist") == pytest.approx(0, abs=10)
    assert angle(points, f"{side} shoulder", f"{side} elbow", f"{side} wrist") > 165


@pytest.mark.parametrize("name", ["victory", "kneeling victory", "back arms overhead"])
def test_victory_arms_are_raised_above_the_head(name):
    points = joints(figure(name))
    for side in ("left", "right"):
        assert points[f"{side} wrist"][1] > points["head"][1] + 0.08
        assert above_level(points, f"{side} shoulder", f"{side} elbow") > 40


def test_figures_on_their_way_do_not_pile_up():
    # A session of two hours draws hundreds of them, 180 KB each.
    one, other = figure("front double biceps"), figure("side chest left")
    tracemalloc.start()
    try:
        for step in range(120):
            figure_shapes(between(one, other, step / 120))
        held, _ = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert held < 16e6


def test_many_limbs_at_once_are_the_same_as_one_by_one():
    """One limb is laid out in plain numbers, for speed; many in arrays, for the same."""
    figures = [pose.figure for pose in load_catalogue().poses]
    bodies = [taken_apart(figure, figure.turn, (0.0, 0.0))[0] for figure in figures]
    for side, sign in (("left", 1.0), ("right", -1.0)):
        # Half way from pose to pose, where no arm is as the catalogue has it.
        mixed = [(a + b) / 2 for a, b in itertools.pairwise(bodies)]
        limbs = [arm_of(v, side) for v in mixed]
        bones = np.array([(limb.upper, limb.lower, limb.end) for limb in limbs])
        assert arms_of(np.array([v[ARM[side] :][:11] for v in mixed])) == pytest.approx(bones)
        tips = np.array([(f.nod, sign * f.tilt) for f in figures[1:]])
        shrugs = np.array([f.shrug for f in figures[1:]])
        one_by_one = [
            depth(limb, shrug, (*tip, 0.0))
            for limb, shrug, tip in zip(limbs, shrugs, tips, strict=True)
        ]
        assert depths(bones, shrugs, tips) == pytest.approx(one_by_one, abs=1e-12)


def test_tipping_is_one_axis_after_the_other():
    def about(axis, degrees):
        c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
        pitch, roll = [[1, 0, 0], [0, c, -s], [0, s, c]], [[c, s, 0], [-s, c, 0], [0, 0, 1]]
        return np.array(pitch if axis == "x" else roll)

    for forward, left, turn in ((0, 0, 0), (20, -12, 35), (-40, 30, -170), (5, 88, 260)):
        expected = about("x", forward) @ about("z", left) @ turned(turn)
        assert tipped(forward, left, turn) == pytest.approx(expected)
        assert spun((0.3, -0.2, 0.9), turn) == pytest.approx(turned(turn) @ [0.3, -0.2, 0.9])
