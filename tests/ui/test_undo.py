"""Edits through the window's own undo stack: whatever is done and undone, nothing is lost."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rehearse.music.position import Length
from rehearse.routine import edits
from rehearse.routine.folder import open_folder

DEMO = Path(__file__).resolve().parents[2] / "demo" / "copper-lights"


@pytest.fixture
def open_workspace(workspace, tmp_path, monkeypatch):
    shutil.copytree(DEMO, tmp_path / "mine")
    monkeypatch.setattr(type(workspace), "decode", lambda self: None)
    assert workspace.open(tmp_path / "mine")
    return workspace


steps = st.lists(
    st.tuples(
        st.sampled_from(["move", "drag", "swap", "out", "hold", "undo", "redo"]),
        st.integers(0, 15),
        st.integers(-8, 8),
    ),
    max_size=25,
)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(steps)
def test_undoing_everything_returns_to_the_same_document(open_workspace, steps):
    workspace = open_workspace
    first = (workspace.routine, workspace.beatmap)
    workspace.undo.clear()
    for number, (kind, which, by) in enumerate(steps):
        _do(workspace, kind, which, by, number)
    last = (workspace.routine, workspace.beatmap)
    while workspace.undo.canUndo():
        workspace.undo.undo()
    assert (workspace.routine, workspace.beatmap) == first
    while workspace.undo.canRedo():
        workspace.undo.redo()
    if not any(kind in ("undo", "redo") for kind, _, _ in steps):
        assert (workspace.routine, workspace.beatmap) == last
    while workspace.undo.canUndo():
        workspace.undo.undo()
    assert (workspace.routine, workspace.beatmap) == first


def _do(workspace, kind, which, by, number):
    routine, beatmap = workspace.routine, workspace.beatmap
    ids = [p.id for p in routine.poses]
    name, other = ids[which % len(ids)], ids[(which + 1) % len(ids)]
    if kind in ("undo", "redo"):
        getattr(workspace.undo, kind)()
    elif kind == "drag":  # many small moves under the hand are one step
        for k in range(1, 4):
            moved = edits.move_by(routine, beatmap, name, Length(by * k / 4))
            workspace.edit("drag", routine=moved, merge=f"drag {number}")
    elif kind == "out" and len(ids) > 2:
        workspace.edit("out", routine=edits.take_out(routine, beatmap, name, close_up=by > 0))
    elif kind == "swap":
        workspace.edit("swap", routine=edits.swap(routine, beatmap, name, other))
    elif kind == "hold":
        workspace.edit("hold", routine=edits.lengthen(routine, beatmap, name, by / 4))
    else:
        workspace.edit("move", routine=edits.move_by(routine, beatmap, name, Length(by / 4)))


def test_a_drag_is_one_step(open_workspace):
    workspace = open_workspace
    before = workspace.routine
    _do(workspace, "drag", 3, 2, 0)
    assert workspace.undo.count() == 1
    workspace.undo.undo()
    assert workspace.routine == before


def test_an_edit_is_on_disk_within_two_seconds(qtbot, open_workspace):
    workspace = open_workspace
    _do(workspace, "move", 3, 4, 0)
    after = workspace.routine
    qtbot.waitUntil(lambda: open_folder(workspace.folder).routine == after, timeout=2000)
    assert open_folder(workspace.folder).beatmap == workspace.beatmap
    assert "beats:" in (workspace.folder / "routine.yaml").read_text()
