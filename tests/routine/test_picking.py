"""The order in which poses are offered: what the rules ask for first, in the form they ask for."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rehearse.routine.model import Facing, OwnPose
from rehearse.routine.poses import GROUPS, grouped, load_catalogue, plain
from rehearse.routine.rules import list_rules, load_rules

CATALOGUE = load_catalogue()


def names(groups, name: str) -> list[str]:
    return [pose.name for pose in dict(groups)[name]]


@pytest.mark.parametrize("rules", list_rules(), ids=lambda rules: rules.key)
@pytest.mark.parametrize("figure", ["man", "woman"])
def test_every_pose_is_in_one_group_and_the_rules_own_come_first(rules, figure):
    groups = grouped(CATALOGUE.poses, rules, figure)
    listed = [pose.name for _, poses in groups for pose in poses]
    assert sorted(listed) == sorted(pose.name for pose in CATALOGUE.poses)
    assert [name for name, _ in groups] == [n for n in GROUPS if n in dict(groups)]
    for asked in rules.mandatory_for(figure):
        assert any(plain(n).startswith(plain(asked)) for n in names(groups, "Mandatory"))


def test_open_hands_lead_where_the_rules_ask_for_them():
    # Natural Fit Federation women's physique: both double biceps are shown with open hands.
    rules = load_rules("nff-womens-physique-amateur")
    first = names(grouped(CATALOGUE.poses, rules, "woman"), "Mandatory")
    assert first[0] == "front double biceps open hands"
    assert first.index("back double biceps open hands") < first.index("back double biceps")
    closed = replace(rules, open_hands=())
    assert names(grouped(CATALOGUE.poses, closed, "woman"), "Mandatory")[0] == "front double biceps"


def test_groups_say_what_is_shown():
    own = CATALOGUE.with_own([OwnPose("moonrise", Facing.FRONT)])
    groups = grouped(own.poses, load_rules(""), "man")
    assert "crucifix" in names(groups, "Free")
    assert "archer left" in names(groups, "Side")
    assert "back crucifix" in names(groups, "Back")
    assert "crouch" in names(groups, "Low")
    assert "bikini front stance" in names(groups, "Presentation")
    assert names(groups, "Own") == ["moonrise"]
    assert "side chest left" in names(groups, "Mandatory")
