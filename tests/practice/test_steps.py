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
    [{"first": 30}, {"top": 110}, {"first": 90, "top": 80}, {"up": 0}, {"after": 0}],
)
def test_impossible_steps_are_refused(wrong):
    with pytest.raises(ValueError, match=r"must|rise"):
        TempoSteps(**wrong)


@given(st.lists(st.sampled_from(["clean", "missed", None])))
def test_tempo_never_leaves_its_bounds(verdicts):
    steps = TempoSteps(first=60, top=105, floor=45)
    assert all(45 <= percent <= 105 for percent in walk(steps, verdicts))
