"""Mandatory poses and stances against published descriptions, in centimetres of a body of 175 cm.

Every check names its source (stored public copies, read in November 2026):

AF    French natural body AFBBN, rules 2016-17
BIK   bikini line-up of 2015, quoted on fitnessannelie.blogspot.com
ES    Spanish blog of 2015 with the wording of the amateur body before 2015
FF    French federation, criteria, older
GN    German natural body, rules of 3 May 2016
HK    Fitschen & Wilson, Bodybuilding, excerpt
I15   change of mandatory poses in force from 2015, Italian and French translations
IPE   classic division, ipeproelite.com, undated
KC    kckingdomnaturals.com, a promoter, undated
MP    men's physique turns, Slovak translation on biotechusa.sk, undated
NFF   figure stances, nff.mindbodyfuel.org, undated
NGA   By-Laws, pp. 38-41 and 45, undated
NPCJ  wellness, fwj.jp, undated
OCB   rules of the 2000s, copy, and of 2019 for bikini
OWU   oneworldunitednba.com, undated
VAC   vacuum of classic physique, 2018-19, moresisek.com quoting the rules
WFF   compulsory poses, wff-international.com, undated
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from rehearse.routine.bones import KNEECAP, SOLE
from rehearse.routine.figure import Figure, joints
from rehearse.routine.poses import load_catalogue
from rehearse.routine.skeleton import Frames, heel_of

CATALOGUE = load_catalogue()
HEIGHT = 175.0
SIDES = ("left", "right")
FIST, GRIPPING, OPEN = (0.9, 1.0), (0.3, 0.7), (0.0, 0.2)


def figure(name: str) -> Figure:
    return CATALOGUE.find(name).figure


class Body:
    """A pose measured: places in cm, x to the athlete's left, y up, z where the hips point."""

    def __init__(self, name: str) -> None:
        self.figure = figure(name)
        points = joints(self.figure)
        points |= {f"{side} heel": heel_of(points, side) for side in SIDES}
        turn = Frames.of(self.figure).upright
        self.at = {key: HEIGHT * (turn.T @ point) for key, point in points.items()}
        self.seen = {key: HEIGHT * point for key, point in points.items()}

    def apart(self, a: str, b: str) -> float:
        return float(np.linalg.norm(self.at[a] - self.at[b]))

    def bend(self, a: str, corner: str, b: str) -> float:
        u, v = self.at[a] - self.at[corner], self.at[b] - self.at[corner]
        return math.degrees(math.acos(float(u @ v) / float(np.linalg.norm(u) * np.linalg.norm(v))))

    def elbow(self, side: str) -> float:
        return self.bend(f"{side} shoulder", f"{side} elbow", f"{side} wrist")

    def knee(self, side: str) -> float:
        return self.bend(f"{side} hip", f"{side} knee", f"{side} ankle")

    def level(self, a: str, b: str) -> float:
        bone = self.at[b] - self.at[a]
        return math.degrees(math.asin(float(bone[1]) / float(np.linalg.norm(bone))))

    def sole(self, side: str) -> str:
        """What of a foot is on the floor: flat, ball, heel or nothing."""
        heel, ball = (
            self.at[f"{side} {part}"][1] - SOLE * HEIGHT < 2.0 for part in ("heel", "toes")
        )
        return {(1, 1): "flat", (0, 1): "ball", (1, 0): "heel", (0, 0): ""}[(heel, ball)]

    def hand(self, side: str) -> float:
        return float(getattr(self.figure, f"{side}_arm").grip)

    def chest_turned(self) -> float:
        """Degrees the chest is turned against the hips."""
        across = self.at["left shoulder"] - self.at["right shoulder"]
        return math.degrees(math.atan2(across[2], across[0]))

    def face(self) -> float:
        """Degrees of the face away from the judges, seen from above."""
        ahead = Frames.of(self.figure).head[:, 2]
        return abs(math.degrees(math.atan2(ahead[0], ahead[2])))


def within(value: float, bounds: tuple[float, float]) -> bool:
    return bounds[0] <= value <= bounds[1]


def other(side: str) -> str:
    return "right" if side == "left" else "left"


# Double biceps.


@pytest.mark.parametrize(
    "name",
    [
        "front double biceps",
        "front double biceps one leg out",
        "front double biceps open hands",
        "back double biceps",
        "back double biceps open hands",
    ],
)
@pytest.mark.parametrize("side", SIDES)
def test_double_biceps_elbows_are_at_the_height_of_the_shoulders(name, side):
    # I15, FF, ES, AF: elbows at shoulder height; NGA: upper arms parallel to the floor.
    body = Body(name)
    assert abs(body.at[f"{side} elbow"][1] - body.at[f"{side} shoulder"][1]) < 4


@pytest.mark.parametrize("name", ["front double biceps", "back double biceps"])
@pytest.mark.parametrize("side", SIDES)
def test_double_biceps_fists_are_closed_and_bent_down(name, side):
    # NGA: elbow about 90 degrees. I15, FF, ES: fists closed, wrists bent down.
    body = Body(name)
    assert body.elbow(side) == pytest.approx(90, abs=12)
    assert within(body.hand(side), FIST)
    arm = getattr(body.figure, f"{side}_arm")
    bent = math.degrees(math.acos(float(np.dot(arm.lower, arm.end))))
    assert bent > 45
    assert arm.end[1] < arm.lower[1] - 0.5


def test_front_double_biceps_stands_on_both_feet_a_short_distance_apart():
    # NGA: on both feet; FF, ES: a short distance apart.
    body = Body("front double biceps")
    assert [body.sole(side) for side in SIDES] == ["flat", "flat"]
    assert abs(body.at["left heel"][2] - body.at["right heel"][2]) < 3
    assert body.apart("left heel", "right heel") < 35


def test_front_double_biceps_has_a_form_with_one_leg_forward_and_aside():
    # I15: one leg forward and to the side by 40 to 50 cm.
    body = Body("front double biceps one leg out")
    out, _, ahead = body.at["left ankle"] - body.at["right ankle"]
    assert out > 25
    assert ahead > 10
    assert 40 <= body.apart("left ankle", "right ankle") <= 50
    assert CATALOGUE.find("front double biceps one leg out").form_of == "front double biceps"


@pytest.mark.parametrize(
    "name", ["front double biceps open hands", "back double biceps open hands"]
)
def test_womens_double_biceps_is_open_handed(name):
    # Natural Fit Federation women's physique: both double biceps open-handed; NPC event pages too.
    body = Body(name)
    assert all(within(body.hand(side), OPEN) for side in SIDES)


def test_womens_front_double_biceps_is_twisted_with_a_leg_extended():
    # NPC event pages: not flat-footed square to the front but twisted; OWU: one leg extended.
    body = Body("front double biceps open hands")
    assert abs(body.chest_turned()) >= 10
    assert 10 <= body.figure.turn <= 45
    assert body.knee("left") > 160
    assert body.apart("left ankle", "right ankle") > 35


@pytest.mark.parametrize(
    ("name", "side"),
    [
        # AF: right foot back in the double biceps, left foot in the lat spread; NABBA New
        # Zealand: the other leg than in back double biceps.
        ("back double biceps", "right"),
        ("back double biceps open hands", "right"),
        ("back lat spread", "left"),
    ],
)
def test_back_poses_set_one_foot_back_on_its_ball(name, side):
    # NGA, GN, OCB: one foot set back towards the judges, heel up. HK: 25 to 38 cm behind the
    # other, knees a little bent.
    body = Body(name)
    behind = body.at[f"{other(side)} ankle"][2] - body.at[f"{side} ankle"][2]
    assert 25 <= behind <= 38
    assert body.sole(side) == "ball"
    assert body.sole(other(side)) == "flat"
    assert 100 < body.knee(side) < 175
    # Not on a ballet point: the ball of a foot bears it, and no heel rises more than 14 cm.
    assert 4 < body.at[f"{side} heel"][1] - SOLE * HEIGHT < 14


@pytest.mark.parametrize("name", ["back double biceps", "back lat spread"])
def test_back_poses_lean_a_little_towards_the_judges_if_at_all(name):
    # HK: a slight lean towards the judges; NGA: no strong lean either way.
    body = Body(name)
    back = body.at["neck"] - body.at["pelvis"]
    assert -12 <= math.degrees(math.atan2(back[2], back[1])) <= 3


# Lat spreads.


def test_front_lat_spread_feet_are_in_one_line_at_most_15_cm_apart():
    # I15: feet in one line, at most 15 cm apart.
    body = Body("front lat spread")
    assert body.apart("left ankle", "right ankle") <= 15
    assert abs(body.at["left ankle"][2] - body.at["right ankle"][2]) < 1


@pytest.mark.parametrize("name", ["front lat spread", "back lat spread"])
@pytest.mark.parametrize("side", SIDES)
def test_lat_spread_has_closed_hands_at_the_waist_and_elbows_spread(name, side):
    # I15: hands open or closed at the low waist. NGA, GN: closed hands at the waist, elbows spread.
    body = Body(name)
    wrist, waist = body.at[f"{side} wrist"], body.at["waist"]
    assert -12 < wrist[1] - waist[1] < 4
    assert abs(wrist[0] - waist[0]) < 20
    assert within(body.hand(side), FIST)
    out = abs(body.at[f"{side} elbow"][0]) - abs(body.at[f"{side} shoulder"][0])
    assert out > 12
    assert body.figure.lats == 1.0


# Sides.


@pytest.mark.parametrize("pose", ["side chest", "side triceps"])
@pytest.mark.parametrize("near", SIDES)
def test_side_poses_stand_on_the_far_foot_with_the_near_leg_bent_on_its_ball(pose, near):
    # NGA: stands on the far foot, near leg bent and its calf shown; side triceps: legs as side
    # chest. AF: toes of the near foot pressed down. OWU: near heel up, near toes at about the
    # middle of the planted far foot.
    body, far = Body(f"{pose} {near}"), other(near)
    assert body.sole(far) == "flat"
    assert body.sole(near) == "ball"
    assert body.knee(near) < 140 < 160 < body.knee(far)
    heel, toes = body.at[f"{far} heel"][2], body.at[f"{far} toes"][2]
    part = (body.at[f"{near} toes"][2] - heel) / (toes - heel)
    assert 0.3 < part < 0.7
    assert body.apart(f"{near} ankle", f"{far} ankle") < 25  # OWU: far leg pressed to it


@pytest.mark.parametrize("pose", ["side chest", "kneeling side chest"])
@pytest.mark.parametrize("near", SIDES)
def test_side_chest_the_far_hand_grips_the_near_wrist_and_the_chest_is_lifted(pose, near):
    # NGA: near elbow about 90 degrees, far hand grips the near wrist, chest lifted, abdomen in.
    # ES: near fist closed, its wrist held by the other hand.
    body, far = Body(f"{pose} {near}"), other(near)
    assert body.elbow(near) == pytest.approx(90, abs=12)
    assert within(body.hand(near), FIST)
    assert within(body.hand(far), GRIPPING)
    assert body.apart(f"{far} hand", f"{near} wrist") < 4
    assert body.figure.bend <= -5
    assert body.figure.shrug >= 0.4
    # Not at the waist: the forearm lies under the chest.
    assert body.at[f"{near} wrist"][1] > body.at["waist"][1] + 12


@pytest.mark.parametrize("near", SIDES)
def test_side_triceps_the_near_arm_hangs_and_the_far_hand_holds_it_behind_the_back(near):
    # NGA: the near arm hangs by the body, held by the far hand from behind the low back.
    body, far = Body(f"side triceps {near}"), other(near)
    assert body.elbow(near) > 160
    assert body.level(f"{near} shoulder", f"{near} wrist") < -65
    assert body.apart(f"{far} hand", f"{near} wrist") < 4
    assert within(body.hand(far), GRIPPING)
    for place in (f"{far} hand", f"{far} wrist", f"{near} wrist"):
        assert body.at[place][2] < body.at["waist"][2] - 6
    assert body.at[f"{far} hand"][1] < body.at["waist"][1]


@pytest.mark.parametrize("near", SIDES)
def test_womens_side_poses_have_a_leg_extended(near):
    # OWU: one leg extended in side triceps and side chest; NPC event pages: side chest arms
    # extended, side triceps leg extended.
    for name in (f"side chest arms extended {near}", f"side triceps leg extended {near}"):
        body, far = Body(name), other(near)
        assert body.knee(near) > 155
        assert body.sole(near) == "ball"
        assert body.sole(far) == "flat"
        assert body.at[f"{near} ankle"][2] - body.at[f"{far} ankle"][2] > 25
    body = Body(f"side chest arms extended {near}")
    assert body.elbow(near) > 150
    assert all(within(body.hand(side), OPEN) for side in SIDES)


# Abdominals, vacuum, most muscular.


def test_abdominals_and_thighs_has_hands_behind_the_neck_and_one_leg_forward():
    # NGA: faces front, one leg slightly forward, hands clasped behind the neck, air out; GN, OCB:
    # hands behind the head, one leg extended forward.
    body = Body("abdominals and thighs")
    for side in SIDES:
        wrist = body.at[f"{side} wrist"]
        assert wrist[2] < body.at["neck"][2]
        assert abs(wrist[1] - body.at["neck"][1]) < 18
        assert abs(wrist[0]) < 14
    assert 10 < body.at["left ankle"][2] - body.at["right ankle"][2] < 45
    assert body.knee("left") > 140
    assert body.figure.bend > 0
    assert body.figure.hollow > 0


def test_vacuum_has_both_arms_behind_the_head_and_the_feet_together():
    # VAC: faces front, both arms behind the head, feet together, belly drawn in.
    body = Body("vacuum")
    assert body.apart("left heel", "right heel") < 8
    assert body.figure.hollow == 1.0
    for side in SIDES:
        assert body.at[f"{side} wrist"][2] < body.at["head"][2]
        assert body.at[f"{side} elbow"][1] > body.at[f"{side} shoulder"][1] + 5


@pytest.mark.parametrize("pose", ["most muscular crab", "kneeling most muscular"])
def test_crab_bends_over_fists_that_meet_before_the_body(pose):
    # NGA: one leg slightly towards the judges. Rounded arms and the bend: common practice.
    body = Body(pose)
    assert body.at["left ankle"][2] - body.at["right ankle"][2] > 10
    assert body.apart("left hand", "right hand") < 10
    back = body.at["neck"] - body.at["pelvis"]
    assert math.degrees(math.atan2(back[2], back[1])) > 20
    for side in SIDES:
        assert within(body.hand(side), FIST)
        assert 80 < body.elbow(side) < 150
        assert body.at[f"{side} wrist"][1] > body.at["waist"][1]


@pytest.mark.parametrize("side", SIDES)
def test_half_crab_has_one_hand_behind_the_back(side):
    # NGA: half crab with one hand behind the back.
    body, behind = Body(f"most muscular half crab {side}"), other(side)
    assert body.at[f"{behind} wrist"][2] < body.at["waist"][2] - 5
    assert abs(body.at[f"{behind} wrist"][0]) < 16
    assert body.at[f"{side} wrist"][2] > body.at["waist"][2] + 20


def test_hands_clasped_has_bent_arms_and_one_hand_holding_the_other():
    # The name says it; bent arms at the height of the belly: common practice.
    body = Body("most muscular hands clasped")
    assert body.apart("right hand", "left hand") < 8
    assert within(body.hand("right"), GRIPPING)
    for side in SIDES:
        assert 60 < body.elbow(side) < 150
        assert body.at[f"{side} wrist"][1] > body.at["waist"][1] - 8
        assert body.at[f"{side} wrist"][2] > body.at["waist"][2] + 8


def test_hands_on_hips_has_one_leg_forward():
    # WFF, NGA: hands on hips, one leg forward.
    body = Body("most muscular hands on hips")
    assert body.at["left ankle"][2] - body.at["right ankle"][2] > 10
    for side in SIDES:
        assert body.apart(f"{side} wrist", f"{side} hip") < 22


# Stances.


@pytest.mark.parametrize(
    "name", ["front stance", "back stance", "figure front stance", "figure back stance"]
)
def test_stances_have_heels_together_and_feet_turned_out(name):
    # fwj.jp, OCB: heels together and down; GN: heels at most 20 cm apart. Figure, NGA: feet out
    # 30 degrees, knees together and straight; NFF: heels within 5 to 8 cm, neither foot ahead.
    body = Body(name)
    assert body.apart("left heel", "right heel") <= 8
    assert [body.sole(side) for side in SIDES] == ["flat", "flat"]
    for side, sign in (("left", 1), ("right", -1)):
        foot = body.at[f"{side} toes"] - body.at[f"{side} heel"]
        assert math.degrees(math.atan2(sign * foot[0], foot[2])) == pytest.approx(30, abs=3)
        assert body.knee(side) > 168
    assert abs(body.at["left heel"][2] - body.at["right heel"][2]) < 1


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("stance", ["{} side stance", "figure {} side stance"])
def test_side_stances_look_where_the_feet_point_with_little_twist(stance, side):
    # GN, OCB: twist at most 15 degrees, feet flat; GN: gaze follows the feet; NFF: feet offset at
    # most half a foot (26 cm long), the far shoulder seen.
    body = Body(stance.format(side))
    assert 5 <= abs(body.chest_turned()) <= 15
    assert body.face() == pytest.approx(90, abs=16)
    assert [body.sole(s) for s in SIDES] == ["flat", "flat"]
    assert abs(body.at["left heel"][2] - body.at["right heel"][2]) <= 13


@pytest.mark.parametrize("name", ["figure front stance", "figure left side stance"])
def test_figure_stances_have_open_hands_and_arms_a_little_back_and_bent(name):
    # NGA: arms slightly behind the midline, elbows slightly bent; NFF: arms not on the body.
    body = Body(name)
    for side in SIDES:
        assert within(body.hand(side), OPEN)
        assert 140 < body.elbow(side) < 172
        assert body.at[f"{side} elbow"][2] < body.at[f"{side} shoulder"][2]


def test_mens_physique_front_has_a_hand_on_the_hip_and_a_leg_aside():
    # MP: one hand on the hip, the other arm slightly away with an open palm, one leg slightly
    # aside, knees straight.
    body = Body("men's physique front stance")
    assert body.apart("left wrist", "left hip") < 22
    assert within(body.hand("right"), OPEN)
    assert body.at["right wrist"][0] < body.at["right hip"][0] - 12
    assert abs(body.at["left ankle"][0]) > abs(body.at["right ankle"][0]) + 6
    assert all(body.knee(side) > 165 for side in SIDES)


@pytest.mark.parametrize("near", SIDES)
def test_mens_physique_side_turns_chest_and_face_to_the_judges(near):
    # MP, first turn: upper body and face turned to the judges, near hand on the near hip, the far
    # hand low and slightly ahead; near leg slightly bent, foot flat; far leg bent, set back on its
    # toes. The second turn is its mirror image.
    body, far = Body(f"men's physique {near} side stance"), other(near)
    assert abs(body.chest_turned()) > 30
    assert body.face() < 30
    assert body.apart(f"{near} wrist", f"{near} hip") < 22
    assert body.at[f"{far} wrist"][1] < body.at["waist"][1]
    assert body.sole(near) == "flat"
    assert body.sole(far) == "ball"
    assert body.at[f"{far} ankle"][2] < body.at[f"{near} ankle"][2] - 15
    assert body.knee(far) < 170


def test_mens_physique_back_has_one_leg_aside_on_its_toes():
    # MP: one hand on the hip, one leg aside on its toes.
    body = Body("men's physique back stance")
    assert body.apart("left wrist", "left hip") < 22
    assert body.sole("left") == "ball"
    assert body.sole("right") == "flat"
    assert abs(body.at["left ankle"][0]) > abs(body.at["right ankle"][0]) + 10


def test_bikini_front_has_one_hand_on_the_hip_and_the_weight_on_the_other_leg():
    # OCB 2019: left hand on the left hip, right arm fairly straight, feet slightly apart. BIK:
    # one leg slightly forward and aside. KC: weight on one hip, the other leg extended.
    body = Body("bikini front stance")
    assert body.apart("left wrist", "left hip") < 24
    assert body.elbow("right") > 155
    out, _, ahead = body.at["left ankle"] - body.at["right ankle"]
    assert out > 8
    assert ahead > 8
    assert body.knee("left") > 160


@pytest.mark.parametrize("near", SIDES)
def test_bikini_side_has_the_far_hand_on_the_far_hip_and_looks_at_the_judges(near):
    # KC: hips to the side, head to the judges, far hand on far hip, the near heel may lift.
    body, far = Body(f"bikini {near} side stance"), other(near)
    assert body.face() < 30
    assert body.apart(f"{far} wrist", f"{far} hip") < 24
    assert body.sole(near) == "ball"


@pytest.mark.parametrize("near", SIDES)
def test_wellness_side_has_the_far_hand_on_the_hip_and_the_far_knee_bent(near):
    # NPCJ, first turn (left side): right hand on the hip, left arm straight, right knee bent; the
    # second turn mirrored; no bent elbow or wrist in the hanging arm.
    body, far = Body(f"wellness {near} side stance"), other(near)
    assert body.apart(f"{far} wrist", f"{far} hip") < 24
    assert body.elbow(near) > 165
    assert body.knee(far) < body.knee(near) - 8


def test_wellness_front_and_back():
    # NPCJ: front one hand on the hip, the other arm straight, one leg slightly out; back: low back
    # arched, glutes back.
    front, back = Body("wellness front stance"), Body("wellness back stance")
    assert front.apart("right wrist", "right hip") < 22
    assert front.elbow("left") > 165
    assert abs(front.at["left ankle"][0]) > abs(front.at["right ankle"][0]) + 6
    assert back.figure.lean > 5
    assert back.figure.bend < -10


# Free poses.


@pytest.mark.parametrize("name", ["lunge double biceps left", "lunge reach left"])
def test_the_rear_shin_of_a_lunge_slopes_to_the_ball_of_its_foot(name):
    # Common practice, no source: the rear leg is long, its knee clear of the floor.
    body = Body(name)
    assert body.sole("right") == "ball"
    assert body.level("right ankle", "right knee") > 15
    assert body.at["right knee"][1] > KNEECAP * HEIGHT + 10
    assert 80 < body.knee("left") < 120
