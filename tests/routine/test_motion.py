"""The figure on its way: through every key figure, the way round that was said, on its own feet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rehearse.routine.figure import distance, joints
from rehearse.routine.model import Place, Side
from rehearse.routine.motion import ASIDE, WING, body_at, plan_of
from rehearse.routine.movekeys import read_keys
from rehearse.routine.moves import load_moves
from rehearse.routine.poses import load_catalogue
from rehearse.routine.way import Done, Way
from tests.helpers.moving import measured, on_stage, way_of

MOVES, POSES = load_moves(), load_catalogue()
DONE = [(kind, direction) for kind in MOVES.moves for direction, _ in kind.keys]
SIDES = (Side.LEFT, Side.RIGHT)
#: The bounds: 1 % of body height for feet that carry weight is the job's own; a graze of the trunk
#: is what muscles yield; the others are joint ranges (see `movekeys.RANGES`).
SLIDE, TRUNK, LEAP, LATE = 0.01, 0.015, 0.02, 0.4


def figure(name):
    return POSES.find(name).figure


def within_bounds(found):
    assert found.slide <= SLIDE
    assert found.trunk <= TRUNK
    assert found.knee <= 0
    assert found.elbow <= 0
    assert found.past <= 1e-9
    assert found.sunk <= 0
    assert found.leap <= LEAP
    assert found.late <= LATE


@pytest.mark.parametrize(("kind", "direction"), DONE, ids=lambda x: getattr(x, "name", x))
def test_every_move_between_two_poses(kind, direction):
    """One pair of poses a move, another one for each; `tests.bench.motion` takes them all."""
    number = DONE.index((kind, direction))
    before, after = (POSES.poses[(number * k) % len(POSES.poses)].figure for k in (7, 11))
    side = SIDES[number % 2] if kind.sided else None
    within_bounds(measured(way_of(before, kind, after, side=side, direction=direction), 60))


def test_every_move_of_the_catalogue_has_key_figures():
    assert len(MOVES.moves) >= 30
    for kind in MOVES.moves:
        assert kind.figures()
        for direction in kind.directions:
            assert kind.figures(direction)


def test_no_two_moves_look_alike():
    stance = figure("front stance")
    shapes = {}
    for kind, direction in DONE:
        way = way_of(stance, kind, stance, side=Side.LEFT, direction=direction)
        bodies = [body_at(way, way.moves[0].end * k / 4) for k in (1, 2, 3, 4)]
        shapes[kind.name, direction] = np.concatenate(
            [np.concatenate(list(on_stage(b).values())) for b in bodies]
        )
    names = [n for n in shapes if n[0] not in ("walk on", "walk off")]
    for k, one in enumerate(names):
        for other in names[:k]:
            apart = np.abs(shapes[one] - shapes[other]).max()
            assert apart > 0.03, f"{one} looks like {other}"


@pytest.mark.parametrize("name", ["reach up", "sweep", "present the leg", "lean", "slide", "pivot"])
def test_the_right_side_is_the_mirror_image_of_the_left(name):
    stance, kind = figure("front stance"), MOVES.find(name)
    left, right = (way_of(stance, kind, stance, side=side) for side in SIDES)
    for k in range(1, 8):
        one, other = (on_stage(body_at(way, k / 4)) for way in (left, right))
        for joint, point in one.items():
            swapped = joint.replace("left", "*").replace("right", "left").replace("*", "right")
            assert other[swapped] == pytest.approx(point * [-1, 1, 1], abs=1e-6)


@given(st.floats(0.0, 1.0), st.sampled_from(POSES.poses), st.sampled_from(POSES.poses))
@settings(max_examples=30, deadline=None)
def test_it_begins_and_ends_in_the_poses(t, before, after):
    way = way_of(before.figure, MOVES.find("gather"), after.figure)
    assert body_at(way, way.start - t).figure == before.figure
    assert body_at(way, way.end + t).figure == after.figure
    assert distance(body_at(way, way.start + 1e-4).figure, before.figure) < 3e-3
    assert distance(body_at(way, way.end - 1e-4).figure, after.figure) < 3e-3


def test_a_key_figure_is_reached_at_its_time():
    stance, kind = figure("front stance"), MOVES.find("gather")
    way = Way(stance, figure("victory"), 10.0, 14.0, (Done(kind, 10.0, 12.0),))
    there, key = body_at(way, 12.0).figure, kind.figures()[-1]
    wanted = dict(key.amounts)
    assert there.lean == pytest.approx(stance.lean + wanted["lean"])
    assert there.bend == pytest.approx(stance.bend + wanted["bend"])
    assert there.left_arm.upper == pytest.approx(key.left_arm.upper, abs=1e-6)


def test_moves_are_relative_to_where_the_body_is():
    kind, after = MOVES.find("lean"), figure("front stance")
    turned = replace(figure("back double biceps"), side=4.0)
    end = body_at(way_of(turned, kind, after, side=Side.LEFT), 1.0).figure
    assert end.turn == pytest.approx(turned.turn)
    assert end.side == pytest.approx(4.0 + dict(kind.figures()[-1].amounts)["side"])


@pytest.mark.parametrize(("side", "sign"), [(Side.LEFT, -1), (Side.RIGHT, 1), (None, 1)])
def test_it_turns_the_way_it_was_said(side, sign):
    """Half a turn goes to the right when nothing is said: common practice, no source."""
    way = Way(figure("front stance"), figure("back stance"), 0.0, 2.0, (), side)
    turns = np.unwrap([body_at(way, t).figure.turn for t in np.linspace(0, 2, 41)], period=360)
    assert turns[-1] - turns[0] == pytest.approx(180 * sign)
    assert (np.diff(turns) * sign >= -1e-6).all()


@pytest.mark.parametrize("side", SIDES)
def test_a_quarter_the_long_way_round(side):
    front, left = figure("front stance"), figure("left side stance")
    way = Way(front, left, 0.0, 3.0, (), side)
    turns = np.unwrap([body_at(way, t).figure.turn for t in np.linspace(0, 3, 61)], period=360)
    assert turns[-1] - turns[0] == pytest.approx(90 if side is Side.RIGHT else -270)


def test_a_turn_with_nothing_to_turn_to_goes_right_round():
    stance, kind = figure("front stance"), MOVES.find("turn")
    for side, whole in ((Side.LEFT, -360), (Side.RIGHT, 360)):
        way = way_of(stance, kind, stance, side=side)
        turns = np.unwrap([body_at(way, t).figure.turn for t in np.linspace(0, 1, 41)], period=360)
        assert turns[-1] - turns[0] == pytest.approx(whole)


def test_it_walks_to_its_place_and_stays_there():
    stance = figure("front stance")
    way = Way(stance, stance, 0.0, 4.0, place=Place.CENTRE, goal=Place.LEFT)
    # The athlete's own left is the viewer's right.
    assert [body_at(way, t).x for t in (0.0, 4.0)] == pytest.approx([0.0, ASIDE])
    assert len(plan_of(way).steps[0].flights) >= 4
    within_bounds(measured(way))


def test_it_comes_on_from_the_wing_and_leaves_by_the_other():
    pose = figure("front double biceps")
    on, off = MOVES.find("walk on"), MOVES.find("walk off")
    way = Way(None, pose, 0.0, 6.0, (Done(on, 0.0, 4.0, None, "right"),))
    assert body_at(way, 0.0).x == pytest.approx(-WING, abs=0.01)
    assert body_at(way, 6.0).figure == pose
    leave = Way(pose, None, 0.0, 3.0, (Done(off, 0.0, 3.0, None, "left"),))
    assert body_at(leave, 3.0).x == pytest.approx(WING, abs=0.02)
    for one in (way, leave):
        found = measured(one)
        assert found.slide <= SLIDE
        assert found.leap <= LEAP


def test_with_no_move_it_follows_the_minimum_jerk_law():
    # Flash & Hogan 1985 (from memory): x(t) = 10 t^3 - 15 t^4 + 6 t^5; at a quarter 0.1035.
    a = figure("front stance")
    b = replace(a, nod=40.0)
    assert body_at(Way(a, b, 0.0, 1.0), 0.25).figure.nod == pytest.approx(0.1035156 * 40, abs=1e-4)


def test_moves_that_fill_the_transition_still_leave_a_way_in():
    a, b = figure("front stance"), figure("victory")
    way = Way(a, b, 0.0, 2.0, (Done(MOVES.find("gather"), 0.0, 2.0),))
    found = measured(way)
    assert found.leap <= LEAP


def test_many_moves_in_a_row_arrive():
    a, b = figure("crouch"), figure("back lat spread")
    names = ["stand up", "step", "turn", "sweep", "circle", "open", "bow", "flex again"]
    moves = tuple(Done(MOVES.find(n), k, k + 1, Side.LEFT) for k, n in enumerate(names))
    way = Way(a, b, 0.0, 9.0, moves)
    found = measured(way, 240)
    assert found.slide <= SLIDE
    assert found.leap <= LEAP
    assert found.past <= 1e-9
    assert body_at(way, 9.0).figure == b


@pytest.mark.parametrize(
    ("keys", "error"),
    [
        ([], "no list of keys"),
        ([{"at": 0.5}, {"at": 0.5}], "do not rise"),
        ([{"at": 1.5}], "up to 1"),
        ([{"at": 1, "wings": 2}], "unknown word 'wings'"),
        ([{"at": 1, "level": "flying"}], "unknown level"),
        ([{"at": 1, "lean": "far"}], "where a number"),
        ({"up": [{"at": 1}]}, "none of its directions"),
    ],
)
def test_keys_that_are_written_wrong_are_refused(keys, error):
    with pytest.raises(ValueError, match=error):
        read_keys(keys, ("forward",))


def test_an_own_move_leaves_the_body_as_it_is():
    from rehearse.routine.model import OwnMove

    kind = MOVES.with_own((OwnMove("lantern swing"),)).find("lantern swing")
    a, b = figure("front stance"), figure("victory")
    way = Way(a, b, 0.0, 4.0, (Done(kind, 0.0, 2.0),))
    assert distance(body_at(way, 1.0).figure, a) < 1e-6
    points = joints(body_at(way, 3.0).figure)
    assert points["left wrist"][1] > joints(a)["left wrist"][1]


def test_a_foot_that_turns_and_shifts_a_little_is_lifted():
    """Too little of each to be a step, the ball of the foot slid by 0.0117 on the hit."""
    poses = load_catalogue()
    before, after = poses.find("figure front stance"), poses.find("most muscular hands clasped")
    kind = load_moves().find("hands over head")
    assert measured(way_of(before.figure, kind, after.figure), 60).slide <= SLIDE


def test_the_body_does_not_jump_on_the_hit_where_no_foot_is_lifted():
    """Feet that stood 0.006 beside their place let the hips jump, and a knee by 0.026."""
    poses = load_catalogue()
    before, after = (poses.find(f"presentation {n}") for n in ("arms open", "wave left"))
    found = measured(way_of(before.figure, load_moves().find("arch"), after.figure), 60)
    assert found.late <= LATE
    assert found.slide <= SLIDE


def test_a_knee_does_not_snap_where_its_leg_comes_to_be_straight():
    """Hips rose out of a lunge until a leg was straight: its knee went .02–.04 in one ms."""
    for before, move, after in (
        ("wellness front stance", "stand up", "kneeling crucifix"),
        ("lunge double biceps left", "cross step", "lunge reach left"),
        ("side lunge right", "turn", "kneeling double biceps"),
    ):
        way = way_of(figure(before), MOVES.find(move), figure(after), side=Side.LEFT)
        assert measured(way, 60).leap <= LEAP


def test_an_arm_takes_the_way_round_that_keeps_clear_of_the_trunk():
    """Where both ways round are as long it went through the trunk, or whirled right round it."""
    for before, move, direction, side, after in (
        ("side triceps leg extended left", "arch", "", None, "kneeling side chest right"),
        ("side chest arms extended left", "sweep", "down", Side.RIGHT, "wellness back stance"),
    ):
        way = way_of(
            figure(before), MOVES.find(move), figure(after), side=side, direction=direction
        )
        within_bounds(measured(way, 60))


def test_hips_come_to_rest_on_the_hit_and_are_raised_no_higher_than_feet_need():
    for before, move, direction, side, after in (
        ("lunge reach left", "lunge step", "aside", Side.LEFT, "lunge double biceps left"),
        ("kneeling most muscular", "turn", "", Side.RIGHT, "lunge reach right"),
    ):
        way = way_of(
            figure(before), MOVES.find(move), figure(after), side=side, direction=direction
        )
        within_bounds(measured(way, 60))


def test_a_foot_whose_instep_lay_on_the_floor_is_turned_at_even_speed():
    """Mixed straight, its toes whirled round in the middle of the flight."""
    way = way_of(
        figure("kneeling victory"),
        MOVES.find("step"),
        figure("side chest right"),
        side=Side.LEFT,
        direction="across",
    )
    assert measured(way, 60).leap <= LEAP
    # They hung lower than the heel there, and were dragged over the floor.
    crucifix, reach = figure("kneeling crucifix"), figure("overhead reach left")
    step = MOVES.find("lunge step")
    way = way_of(crucifix, step, reach, side=Side.RIGHT, direction="forward")
    assert measured(way, 60).slide <= SLIDE
