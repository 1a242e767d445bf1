"""Any sequence of gestures, undone, gives back the same document (property test)."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from rehearse.routine.snapping import Snap
from rehearse.ui.pages.routine.choreography import Choreography
from rehearse.ui.pages.routine.editor_state import EditorState

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
def choreography(workspace):
    return Choreography(workspace, EditorState(workspace))


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@example([(("move", 0), 1, Snap.ACCENTS)])  # no step: failed where no accent lies before
@given(st.lists(st.tuples(gestures, steps, st.sampled_from(list(Snap))), max_size=12))
def test_any_gestures_undone_give_back_the_same_document(workspace, choreography, sequence):
    assert workspace.routine == make_routine()
    editor = choreography.editor
    seen = [workspace.routine]
    for (name, *given_), step, grid in sequence:
        editor.grid = grid
        editor.step(step or 1)
        getattr(choreography, name)(*given_)
        if workspace.routine != seen[-1]:
            seen.append(workspace.routine)
        hits = [workspace.beatmap.time_of(p.hit) for p in workspace.routine.poses]
        assert hits == sorted(hits)
    assert workspace.undo.count() == len(seen) - 1
    for before in reversed(seen[:-1]):
        workspace.undo.undo()
        assert workspace.routine == before
    for after in seen[1:]:
        workspace.undo.redo()
        assert workspace.routine == after
    workspace.undo.setIndex(0)
    assert workspace.routine == make_routine()
    workspace.undo.clear()
    editor.select("")
