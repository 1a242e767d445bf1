"""What the head judge calls: order, direction and words against the rule texts, fair draws.

Sources: NGA By-Laws pp. 38–41 (order of poses, quarter turns to the right: front, left side, back,
right side, front; the most muscular of men), a federation's chart of 2016 (the same turns), event
pages of the NPC (bikini and men's physique from front and back only). Read in stored copies.
"""

from collections import Counter
from dataclasses import replace
from itertools import pairwise

import pytest
from scipy.stats import chisquare

from rehearse.files.user_error import UserError
from rehearse.routine.poses import load_catalogue
from rehearse.routine.rounds import FIRST_LONGER, PLACES, RoundWish, make_round
from rehearse.routine.rules import list_rules, load_rules

CATALOGUE = load_catalogue()


def made(rules="nga-amateur", kind="turns", division="", figure="man", **wishes):
    rules = load_rules(rules) if isinstance(rules, str) else rules
    wish = RoundWish(kind, **wishes)
    return make_round(rules, wish, CATALOGUE, division=division, figure=figure)


def poses(one):
    return [call.pose.name for call in one.calls]


def test_quarter_turns_go_right_front_left_side_back_right_side_front():
    one = made()
    sides = ["front", "left side", "back", "right side", "front"]
    assert poses(one) == [f"{side} stance" for side in sides]
    assert [call.pose.facing.value for call in one.calls] == sides
    words = [call.say for call in one.calls]
    assert words == ["face the front", *["quarter turn to the right"] * 4]
    assert [call.relax for call in one.calls] == [False] * 4 + [True]


def test_turns_to_the_left_and_half_turns_where_a_body_has_them():
    rules = load_rules("nga-amateur")
    left = made(replace(rules, turns="left"))
    assert poses(left)[1:4] == ["right side stance", "back stance", "left side stance"]
    assert left.calls[1].say == "quarter turn to the left"
    half = made(replace(rules, turns="half"))
    assert poses(half) == ["front stance", "back stance", "front stance"]


def test_npc_bikini_is_shown_from_front_and_back_only():
    assert poses(made("npc-bodybuilding", division="Bikini, class B", figure="woman")) == [
        "bikini front stance", "bikini back stance", "bikini front stance",
    ]  # fmt: skip


def test_the_stances_are_the_divisions():
    names = poses(made("nga-amateur", division="Figure", figure="woman"))
    assert names[1] == "figure left side stance"
    assert poses(made(division="Women's physique", figure="woman"))[0] == "front stance"
    assert poses(made(division="Men's physique"))[3] == "men's physique right side stance"
    assert poses(made(division="Classic physique"))[0] == "front stance"


def test_mandatory_poses_in_the_order_of_the_by_laws():
    by_laws = [  # NGA By-Laws pp. 38–39; the most muscular "required only for the men"
        *("front double biceps", "front lat spread", "side chest", "side triceps"),
        *("back double biceps", "back lat spread", "abdominals and thighs"),
    ]
    assert [call.say for call in made(kind="mandatories").calls] == [*by_laws, "most muscular"]
    woman = made(kind="mandatories", figure="woman")
    assert [call.say for call in woman.calls] == by_laws
    assert poses(made(kind="mandatories", side="right"))[2] == "side chest right"


def test_double_biceps_open_handed_where_the_body_says_so():
    one = made("nff-womens-physique-pro", "mandatories", figure="woman")
    assert poses(one)[0] == "front double biceps open hands"
    assert one.calls[0].say == "front double biceps"


def test_both_is_turns_then_poses():
    both = poses(made(kind="both"))
    assert both == poses(made(kind="turns")) + poses(made(kind="mandatories"))


def test_what_no_body_publishes_is_called_common_practice():
    notes = made("npc-bodybuilding", "both").notes
    assert sum("common practice" in note for note in notes) == 3  # direction, list, holds
    published = made("nga-amateur", "both").notes
    assert [note for note in published if "common practice" in note] == [
        "Holds and rests: common practice, no rule text found states seconds."
    ]
    assert all("show's own sheet" in one[-1] for one in (notes, published))


def test_a_division_without_mandatory_poses_says_so():
    with pytest.raises(UserError, match="Bikini has no mandatory poses"):
        made(kind="mandatories", division="Bikini", figure="woman")
    names = set(poses(made(kind="random", division="Bikini", figure="woman", calls=60)))
    assert names == {f"bikini {side} stance" for side in ("front", "left side", "back",
                                                          "right side")}  # fmt: skip


def test_every_rule_set_makes_every_round():
    for rules in list_rules():
        for figure in ("man", "woman"):
            for kind in ("turns", "both", "random"):
                calls = made(rules, kind, figure=figure, callouts=2).calls
                assert all(2 <= call.hold <= 60 for call in calls)


def test_random_calls_are_fair_and_never_the_same_twice_in_a_row():
    """Each of the others follows a pose equally often (chi-square, as SciPy has it)."""
    one = made("wnbf", "random", calls=2000, seed=261130)
    names = poses(one)
    assert len(names) == 2000
    assert all(a != b for a, b in pairwise(names))
    pairs = Counter(pairwise(names))
    pool = sorted(set(names))
    assert len(pool) == 9
    cells = [pairs[a, b] for a in pool for b in pool if a != b]
    assert chisquare(cells).pvalue > 0.01
    assert chisquare([names.count(name) for name in pool]).pvalue > 0.01
    # A rota in a fixed order is no draw: the test would notice it.
    rota = [pool[k % 9] for k in range(2000)]
    followed = Counter(pairwise(rota))
    assert chisquare([followed[a, b] for a in pool for b in pool if a != b]).pvalue < 1e-6


def test_over_many_seeds_the_first_call_is_fair_too():
    firsts = Counter(poses(made("wnbf", "random", calls=1, seed=k))[0] for k in range(900))
    assert chisquare(list(firsts.values())).pvalue > 0.01
    assert len(firsts) == 9


def test_random_calls_differ_every_time_and_a_seed_repeats_them():
    several = [made(kind="random", callouts=3) for _ in range(4)]
    assert len({tuple(poses(one)) for one in several}) > 1
    first = several[0]
    again = made(kind="random", callouts=3, seed=first.seed)
    assert again.calls == first.calls
    # Other holds do not make other calls.
    longer = made(kind="random", callouts=3, seed=first.seed, hold=5, longest=30)
    assert poses(longer) == poses(first)


def test_call_outs_do_not_begin_with_the_pose_before():
    for seed in range(40):
        names = poses(made(kind="random", callouts=6, calls=1, seed=seed))
        assert all(a != b for a, b in pairwise(names))


def test_one_pose_alone_is_called_again_and_again():
    rules = replace(load_rules("nga-amateur"), mandatory=("crucifix",), mandatory_men=(), called=())
    assert poses(made(rules, "random", callouts=2, calls=2)) == 4 * ["crucifix"]


def test_a_list_of_mens_poses_alone_leaves_a_woman_those_of_most_bodies():
    rules = replace(
        load_rules("nga-amateur"), mandatory=("most muscular",), called=(),
        men_only=("most muscular",),
    )  # fmt: skip
    assert len(made(rules, "mandatories", figure="woman").calls) == 5


def test_holds_set_or_random_the_first_call_out_longer_and_a_ladder_by_wish():
    assert {call.hold for call in made(kind="mandatories", hold=12, longest=12).calls} == {12.0}
    drawn = [c.hold for c in made(kind="random", hold=5, longest=30, calls=400, seed=1).calls]
    assert 5 <= min(drawn) < 6
    assert 29 < max(drawn) <= 30
    first = made(kind="mandatories", callouts=2, first_longer=True).calls
    assert {c.hold for c in first if c.callout == 1} == {10 * FIRST_LONGER}
    assert {c.hold for c in first if c.callout == 2} == {10.0}
    ladder = made(kind="mandatories", callouts=3, grows=5.0).calls
    assert [{c.hold for c in ladder if c.callout == k} for k in (1, 2, 3)] == [{10}, {15}, {20}]


def test_places_change_between_call_outs_when_wished():
    one = made(kind="mandatories", callouts=4, neighbours=True, seed=3)
    moves = [call for call in one.calls if not call.held]
    assert [call.callout for call in moves] == [2, 3, 4]
    assert all(call.say in PLACES for call in moves)
    assert all(a.say != b.say for a, b in pairwise(moves))
    assert all(call.held for call in made(kind="mandatories", callouts=4).calls)


@pytest.mark.parametrize(
    "wrong",
    [{"kind": "x"}, {"hold": 1.0}, {"hold": 20.0, "longest": 10.0}, {"callouts": 0},
     {"side": "up"}, {"rest": -1.0}, {"seed": 10**9}],
)  # fmt: skip
def test_impossible_wishes_are_refused(wrong):
    with pytest.raises(ValueError, match=r"cannot|there is no"):
        RoundWish(**wrong)


def test_the_pose_of_ones_own_choice_is_called_where_the_event_has_one():
    """Classic physique: four poses and a favourite one (event page, undated, a stored copy)."""
    one = made("npc-classic", "mandatories", division="Classic physique")
    assert [call.say for call in one.calls][-2:] == [
        "abdominals and thighs", "favourite classic pose",
    ]  # fmt: skip
    assert one.calls[-1].shown == "favourite classic pose"


def test_long_words_are_short_on_the_stage():
    shown = [call.shown for call in made(callouts=12, neighbours=True, seed=2).calls]
    assert "quarter turn right" in shown
    assert max(len(words) for words in shown) <= 20
