"""The catalogue: what it holds, how poses are found, own poses, and faults of its file."""

from __future__ import annotations

from itertools import combinations

import pytest

from rehearse.files.user_error import UserErrors
from rehearse.routine.bones import KNEECAP
from rehearse.routine.figure import distance, joints, mirrored
from rehearse.routine.model import Facing, Level, OwnPose
from rehearse.routine.posefile import read_poses
from rehearse.routine.poses import load_catalogue, plain

CATALOGUE = load_catalogue()
PAIRS = [p for p in CATALOGUE.poses if p.name.endswith(" left")]


def test_there_are_at_least_eighty_poses():
    assert len(CATALOGUE.poses) >= 80
    assert {pose.facing for pose in CATALOGUE.poses} >= {
        Facing.FRONT,
        Facing.LEFT,
        Facing.BACK,
        Facing.RIGHT,
    }
    assert {pose.level for pose in CATALOGUE.poses} == set(Level)


@pytest.mark.parametrize(
    "name",
    [
        # Seven mandatory men's poses: IFBB rules section 2 (2016, third-party copy).
        "front double biceps",
        "front lat spread",
        "side chest",
        "back double biceps",
        "back lat spread",
        "side triceps",
        "abdominals and thighs",
        # Most muscular, men only: NGA By-Laws II.2, pp. 39-45.
        "most muscular",
        # Classic examples of favourite poses: NGA By-Laws pp. 39-41.
        "vacuum",
        "victory",
        "twisted back",
    ],
)
def test_the_poses_federations_name_are_found(name):
    assert CATALOGUE.find(name).name.startswith(name)


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("Rear Double-Biceps", "back double biceps"),
        ("rear lat spread", "back lat spread"),
        ("  ABS  ", "abdominals and thighs"),
        ("Abs and Thighs", "abdominals and thighs"),
        ("three quarter back left", "three-quarter back left"),
        ("crab", "most muscular crab"),
    ],
)
def test_synonyms_and_spellings_are_found(written, name):
    assert CATALOGUE.find(written).name == name


def test_an_unknown_pose_is_a_key_error():
    with pytest.raises(KeyError):
        CATALOGUE.find("front triple biceps")


def test_no_name_means_two_poses():
    words: dict[str, str] = {}
    for pose in CATALOGUE.poses:
        for word in {plain(pose.name), *map(plain, pose.synonyms)}:
            assert words.setdefault(word, pose.name) == pose.name, word


def test_search_finds_by_the_beginnings_of_words():
    names = [pose.name for pose in CATALOGUE.search("dou bic")]
    assert names[0] == "front double biceps"
    assert {"back double biceps", "kneeling double biceps"} <= set(names)
    assert [p.name for p in CATALOGUE.search("rear single ri")] == ["back single biceps right"]
    assert CATALOGUE.search("") == CATALOGUE.poses
    assert CATALOGUE.search("zzz") == ()


@pytest.mark.parametrize(
    ("words", "name"),
    [
        # Names in use for one pose, in federations' texts and among athletes.
        ("rear double biceps", "back double biceps"),
        ("abs and thighs", "abdominals and thighs"),
        ("open hand front double", "front double biceps open hands"),
        ("women's side chest", "side chest arms extended left"),
        ("half crab", "most muscular half crab left"),
        ("mens physique back", "men's physique back stance"),
        ("board shorts", "men's physique front stance"),
        ("bikini half turn", "bikini left side stance"),
        ("wellness quarter turn", "wellness left side stance"),
        ("figure front", "figure front stance"),
        ("relaxed front", "front stance"),
        ("presentation walk", "presentation stride left"),
        ("over the shoulder", "presentation look back left"),
    ],
)
def test_every_name_in_use_finds_its_pose(words, name):
    assert name in [pose.name for pose in CATALOGUE.search(words)]


@pytest.mark.parametrize("left", PAIRS, ids=lambda p: p.name)
def test_sides_are_the_athletes_own_and_mirror_each_other(left):
    right = CATALOGUE.find(left.name.removesuffix("left") + "right")
    assert (left.side, right.side) == ("left", "right")
    assert distance(right.figure, mirrored(left.figure)) < 1e-9
    assert left.level is right.level
    if left.facing is Facing.LEFT:
        assert right.facing is Facing.RIGHT


@pytest.mark.parametrize("pose", CATALOGUE.poses, ids=lambda p: p.name)
def test_figures_face_where_their_pose_says(pose):
    turn = pose.facing.turned
    off = (pose.figure.turn - turn + 180) % 360 - 180
    assert abs(off) <= 45


@pytest.mark.parametrize("pose", CATALOGUE.poses, ids=lambda p: p.name)
def test_figures_are_as_high_as_their_level_says(pose):
    points = joints(pose.figure)
    hips, knees = points["pelvis"][1], [points["left knee"][1], points["right knee"][1]]
    if pose.level is Level.STANDING:
        assert hips > 0.48
    if pose.level is Level.LUNGE:
        assert 0.3 < hips < 0.45
    if pose.level is Level.KNEELING:
        assert min(knees) == pytest.approx(KNEECAP, abs=0.03)


@pytest.mark.parametrize("pose", CATALOGUE.poses, ids=lambda p: p.name)
def test_spoken_forms_are_short(pose):
    assert 0 < len(pose.say) <= 26
    assert len(pose.say.split()) <= 4


def test_a_pose_can_be_done_with_another_facing_and_at_another_level():
    pose = CATALOGUE.find("front double biceps")
    assert pose.seen() == pose.figure
    back = joints(pose.seen(facing=Facing.BACK))
    assert back["left shoulder"][0] < back["right shoulder"][0]
    kneeling = joints(pose.seen(level=Level.KNEELING))
    assert kneeling["pelvis"][1] < joints(pose.figure)["pelvis"][1] - 0.15


def test_own_poses_are_added_and_take_the_place_of_their_name():
    own = (
        OwnPose("my opening", Facing.BACK, Level.KNEELING, "opening.jpg", "opening"),
        OwnPose("Vacuum", Facing.FRONT),
    )
    catalogue = CATALOGUE.with_own(own)
    opening = catalogue.find("My Opening")
    assert (opening.own, opening.picture, opening.say) == (True, "opening.jpg", "opening")
    assert (opening.facing, opening.level) == (Facing.BACK, Level.KNEELING)
    assert opening.figure.turn == 180
    assert joints(opening.figure)["pelvis"][1] < 0.35
    assert catalogue.find("vacuum").own
    assert len(catalogue.poses) == len(CATALOGUE.poses) + 1
    for a, b in combinations(catalogue.poses, 2):
        assert plain(a.name) != plain(b.name)


BROKEN = """\
format: 1
legs:
  stand:
    hips: 0.5
    left: {foot: [0, 0, 0], knee: [0, 0, 1]}
    right: {foot: [0, 0, 0], knee: [0, 0, 1]}
poses:
- {name: one, facing: upside down, legs: stand, arms: {upper: [0, 0], lower: [0, 0]}}
- {name: two, facing: front, legs: stilts, arms: {upper: [0, 0], lower: [0, 0]}}
- {name: three, facing: front, legs: stand, arms: {hand: [1, 2], elbow: [1, 0, 0]}}
- {name: four, facing: front, legs: stand, wings: 2, arms: {upper: [0, 0], lower: [0, 0]}}
- {name: five, mirror: nobody}
- {name: six, facing: front, legs: stand}
- {name: seven, facing: front, legs: stand, arms: {upper: [0, 0], lower: [0, 0]}}
- {name: seven, facing: front, legs: stand, arms: {upper: [0, 0], lower: [0, 0]}}
- just a word
- {facing: front, legs: stand, arms: {upper: [0, 0], lower: [0, 0]}}
"""


def test_all_faults_of_a_pose_file_come_at_once_with_their_lines(tmp_path):
    path = tmp_path / "poses.yaml"
    path.write_text(BROKEN, encoding="utf-8")
    with pytest.raises(UserErrors) as caught:
        read_poses(path)
    lines = [error.where for error in caught.value.errors]
    assert lines == [f"poses.yaml, line {n}" for n in (8, 9, 10, 11, 12, 13, 15, 16, 17)]
    sentence = caught.value.sentence
    for word in ("upside down", "stilts", "[1, 2]", "wings", "nobody", "seven", "'name'"):
        assert word in sentence
