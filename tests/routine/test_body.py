"""The drawn body: hands, feet, face, muscles at work; a man's and a woman's, and their dress."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rehearse.routine.anatomy import FOOTROOM, WINDOW, figure_shapes
from rehearse.routine.bones import Figure, Limb, direction
from rehearse.routine.figure import joints
from rehearse.routine.legs import leg_muscles
from rehearse.routine.look import DRESSES, Look, look_of
from rehearse.routine.poses import load_catalogue
from rehearse.routine.skeleton import Frames, fitted

CATALOGUE = load_catalogue()
MAN, WOMAN = Look(), Look("woman", "two-piece")
HEELS = Look("woman", "two-piece", heels=True)
ASIDE = direction(90, 0)


def outline(figure: Figure, look: Look = MAN, tone: str = "") -> np.ndarray:
    shapes = [s.points for s in figure_shapes(figure, look) if not tone or s.tone == tone]
    return np.concatenate(shapes) if shapes else np.empty((0, 2))


def width(points: np.ndarray, low: float, high: float) -> float:
    """Width of what lies between two heights."""
    part = points[(points[:, 1] > low) & (points[:, 1] < high), 0]
    return float(part.max() - part.min())


def arm_out(**hand) -> Figure:
    """A figure with its left arm held out level, to the viewer's right."""
    return Figure(left_arm=Limb(ASIDE, ASIDE, ASIDE, **hand))


def test_an_open_hand_reaches_farther_than_one_that_grips_and_that_than_a_fist():
    reach = [outline(arm_out(grip=grip, roll=90))[:, 0].max() for grip in (0.0, 0.5, 1.0)]
    assert reach[0] > reach[1] + 0.02
    assert reach[1] > reach[2]


def test_the_palm_turns_with_the_forearm():
    # Seen along the palm a hand is thin, seen into the palm it is broad.
    heights = {}
    for roll in (0.0, 90.0):
        points = outline(arm_out(grip=0.0, roll=roll))
        hand = points[points[:, 0] > points[:, 0].max() - 0.05]
        heights[roll] = float(hand[:, 1].max() - hand[:, 1].min())
    assert abs(heights[0.0] - heights[90.0]) > 0.012


def test_the_biceps_rises_as_the_elbow_bends():
    def thickness(lower: tuple[float, float]) -> float:
        figure = Figure(left_arm=Limb(ASIDE, direction(*lower), direction(*lower)))
        points = outline(figure)
        elbow, shoulder = joints(figure)["left elbow"], joints(figure)["left shoulder"]
        middle = float(elbow[0] + shoulder[0]) / 2 + 0.01
        span = points[np.abs(points[:, 0] - middle) < 0.02]
        return float(span[:, 1].max() - span[:, 1].min())

    assert thickness((175, 180)) > thickness((90, 0)) + 0.012


def test_the_calf_is_drawn_up_when_the_heel_is_raised():
    flat = Figure()
    lifted = replace(flat, left_leg=replace(flat.left_leg, end=direction(40, 90)))
    thick, up = {}, {}
    for name, figure in (("flat", flat), ("lifted", lifted)):
        frames = Frames.of(figure)
        muscles = list(leg_muscles(figure.left_leg, frames, "left", 1.0, MAN.build))
        heads = [ball for mass in muscles[-4:-2] for ball in mass.balls[:2]]
        knee = frames.points["left knee"][1]
        thick[name] = max(radius for _, radius in heads)
        up[name] = knee - float(np.mean([place[1] for place, _ in heads]))
    assert thick["lifted"] > thick["flat"]
    assert up["lifted"] < up["flat"] - 0.004


@pytest.mark.parametrize(("look", "side"), [(-70.0, 1), (70.0, -1)])
def test_the_face_tells_where_it_looks(look, side):
    # The features are all on the side the head is turned to.
    def features(figure: Figure) -> float:
        head = joints(figure)["head"]
        shapes = figure_shapes(figure)
        places = [s.points.mean(axis=0) for s in shapes if np.ptp(s.points, axis=0).max() < 0.03]
        near = [p for p in places if abs(p[1] - head[1]) < 0.03 and abs(p[0]) < 0.06]
        return float(np.mean([p[0] for p in near]))

    assert features(replace(Figure(), look=look)) * side > 0.008
    assert abs(features(Figure())) < 0.004


def test_from_behind_there_is_no_face():
    front, back = figure_shapes(Figure()), figure_shapes(Figure(turn=180))
    small = [sum(np.ptp(s.points, axis=0).max() < 0.02 for s in shapes) for shapes in (front, back)]
    assert small[0] >= small[1] + 4


def test_a_womans_shoulders_are_narrower_against_her_hips():
    ratio = {}
    for look in (MAN, WOMAN):
        points = outline(CATALOGUE.find("back arms overhead").figure, look)
        top = look.build.height
        ratio[look.figure] = width(points, 0.70 * top, 0.76 * top) / width(
            points, 0.49 * top, 0.53 * top
        )
    assert ratio["woman"] < 0.88 * ratio["man"]


@pytest.mark.parametrize("pose", CATALOGUE.poses, ids=lambda p: p.name)
def test_a_womans_hands_come_together_where_a_mans_do(pose):
    def apart(look: Look) -> float:
        points = Frames.of(fitted(pose.figure, look), look.build.shoulders).points
        return float(np.linalg.norm(points["left hand"] - points["right hand"]))

    if apart(MAN) < 0.05:
        assert apart(WOMAN) == pytest.approx(apart(MAN), abs=0.03)


@pytest.mark.parametrize("look", [WOMAN, HEELS, Look("man", "board shorts")], ids=str)
def test_every_body_fits_the_window_in_every_pose(look):
    for pose in CATALOGUE.poses:
        points = outline(pose.figure, look)
        assert np.isfinite(points).all()
        assert np.abs(points[:, 0]).max() <= WINDOW[0] / 2, pose.name
        assert points[:, 1].min() >= -0.075, pose.name
        assert points[:, 1].max() <= WINDOW[1] - FOOTROOM, pose.name


def test_heels_raise_the_body_and_stand_on_the_floor():
    stance = CATALOGUE.find("figure front stance").figure
    flat, high = (
        Frames.of(fitted(stance, look), look.build.shoulders).points for look in (WOMAN, HEELS)
    )
    # About 10 cm of 175 (common practice, no source).
    assert 0.04 < high["pelvis"][1] - flat["pelvis"][1] < 0.07
    assert high["left toes"][1] == pytest.approx(flat["left toes"][1], abs=1e-6)


def dressed(look: Look, name: str = "front stance") -> np.ndarray:
    return outline(CATALOGUE.find(name).figure, look, "accent")


def test_dresses_cover_what_they_are_named_for():
    top = {dress: dressed(Look("woman", dress)) for dress in ("two-piece", "one-piece")}
    briefs, shorts = dressed(MAN), dressed(Look("man", "board shorts"))
    assert briefs[:, 1].max() < 0.62  # nothing above the hips
    assert shorts[:, 1].min() < briefs[:, 1].min() - 0.08  # down the thighs
    for points in top.values():
        assert points[:, 1].max() > 0.70
    stance, belly = CATALOGUE.find("front stance").figure, {}
    for dress in top:
        shapes = figure_shapes(stance, Look("woman", dress))
        worn = [s.points[:, 1] for s in shapes if s.tone == "accent"]
        belly[dress] = any(y.min() < 0.56 and 0.64 < y.max() < 0.8 for y in worn)
    assert belly == {"one-piece": True, "two-piece": False}


@pytest.mark.parametrize(
    ("figure", "division", "dress", "heels"),
    [
        # Common practice, no source.
        ("man", "", "briefs", False),
        ("man", "Men's bodybuilding, middleweight", "briefs", False),
        ("man", "Classic Physique", "briefs", False),
        ("man", "Men's Physique true novice", "board shorts", False),
        ("woman", "", "two-piece", False),
        ("woman", "Women's Physique", "two-piece", False),
        ("woman", "Women's bodybuilding", "two-piece", False),
        ("woman", "Bikini masters", "two-piece", True),
        ("woman", "Wellness", "two-piece", True),
        ("woman", "FIGURE open", "two-piece", True),
        ("woman", "Fitness", "one-piece", True),
    ],
)
def test_the_division_says_what_is_worn(figure, division, dress, heels):
    assert look_of(figure, division) == Look(figure, dress, heels=heels)


def test_a_chosen_dress_is_worn_instead():
    assert look_of("woman", "Bikini", "one-piece", "dark") == Look(
        "woman", "one-piece", "dark", heels=True
    )
    assert {look_of("man", "", dress).dress for dress in DRESSES} == set(DRESSES)
