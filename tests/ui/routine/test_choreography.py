"""Any sequence of gestures, undone, gives back the same document (property test)."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rehearse.routine.snapping import Snap
from rehearse.ui.pages.routine.choice import Choice
from rehearse.ui.pages.routine.choreography import Choreography

from .conftest import make_routine

times = st.floats(0.0, 80.0)
names = st.sampled_from(["vacuum", "victory", "crucifix", "kneeling victory", "abs"])
steps = st.integers(-6, 6)
gestures = st.one_of(
    st.tuples(st.just("put"), names, times),
    st.tuples(st.just("put_on_beat"), times),
    st.tuples(st.just("insert"), names),
    st.tuples(st.just("exchange"), names),
    st.tuples(st.just("move"), steps),
    st.tuples(st.just("lengthen"), steps),
    st.tuples(st.just("widen"), steps),
    *(
        st.tuples(st.just(name))
        for name in ("turn", "change_level", "swap_with_next", "duplicate", "take_out")
    ),
    st.tuples(st.just("put_on_accent")),
    st.tuples(st.just("make_section"), st.just("Part")),
)


@pytest.fixture
def choreography(desk):
    return Choreography(desk, Choice(desk))


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(st.tuples(gestures, steps, st.sampled_from(list(Snap))), max_size=12))
def test_any_gestures_undone_give_back_the_same_document(desk, choreography, sequence):
    assert desk.routine == make_routine()
    choice = choreography.choice
    seen = [desk.routine]
    for (name, *given_), step, grid in sequence:
        choice.grid = grid
        choice.step(step or 1)
        getattr(choreography, name)(*given_)
        if desk.routine != seen[-1]:
            seen.append(desk.routine)
        hits = [desk.beatmap.time_of(p.hit) for p in desk.routine.poses]
        assert hits == sorted(hits)
    assert desk.undo.count() == len(seen) - 1
    for before in reversed(seen[:-1]):
        desk.undo.undo()
        assert desk.routine == before
    for after in seen[1:]:
        desk.undo.redo()
        assert desk.routine == after
    desk.undo.setIndex(0)
    assert desk.routine == make_routine()
    desk.undo.clear()
    choice.select("")
