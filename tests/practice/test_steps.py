"""Tempo steps: up after clean passes, down after a miss, within their bounds."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rehearse.practice.drill import TempoSteps, fixed


def walk(steps, verdicts):
    step = steps.begin()
    percents = [step.percent]
    for verdict in verdicts:
        step = steps.follow(step, verdict)
        percents.append(step.percent)
    return percents


def test_two_clean_passes_go_up_five_percent_and_a_miss_down():
    assert walk(TempoSteps(), ["clean"] * 4) == [60, 60, 65, 65, 70]
    assert walk(TempoSteps(), ["clean", "missed", "clean", "clean"]) == [60, 60, 55, 55, 60]


def test_from_sixty_to_full_takes_sixteen_clean_passes():
    # Worked by hand: eight steps of 5 % from 60 to 100, two passes each.
    assert walk(TempoSteps(), ["clean"] * 16)[-1] == 100
    assert walk(TempoSteps(), ["clean"] * 15)[-1] == 95


def test_unjudged_is_done_not_clean_unless_wished():
    assert walk(TempoSteps(), [None] * 9) == [60] * 10
    assert walk(TempoSteps(unjudged=True), [None] * 2)[-1] == 65
    assert walk(TempoSteps(), ["clean", None, "clean"])[-1] == 65


def test_a_fixed_tempo_stays():
    assert set(walk(fixed(85), ["clean", "missed", None, "clean"])) == {85}


@pytest.mark.parametrize(
    "wrong",
    [
        {"first": 39, "floor": 39}, {"top": 106}, {"first": 90, "top": 80}, {"up": 0},
        {"after": 0}, {"down": -1}, {"floor": 61},
    ],
)  # fmt: skip
def test_impossible_steps_are_refused(wrong):
    with pytest.raises(ValueError, match=r"must|rise"):
        TempoSteps(**wrong)


def test_the_bounds_themselves_may_be_set_and_a_miss_may_cost_nothing():
    """40 to 105 %: slower music loses its beat, faster is no longer the piece."""
    steps = TempoSteps(first=40, top=105, floor=40, up=65, after=1, down=0)
    assert walk(steps, ["clean", "missed"]) == [40, 105, 105]
    assert walk(TempoSteps(first=65, floor=62), ["missed"]) == [65, 62]


def test_the_last_step_ends_at_the_goal_and_clean_passes_there_are_counted():
    steps = TempoSteps(first=90, up=15, after=1)
    assert walk(steps, ["clean"] * 2) == [90, 100, 100]
    assert steps.follow(steps.follow(steps.begin(), "clean"), "clean").row == 1


@given(st.lists(st.sampled_from(["clean", "missed", None])))
def test_tempo_never_leaves_its_bounds(verdicts):
    steps = TempoSteps(first=60, top=105, floor=45)
    assert all(45 <= percent <= 105 for percent in walk(steps, verdicts))
