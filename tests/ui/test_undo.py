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
def open_desk(desk, tmp_path, monkeypatch):
    shutil.copytree(DEMO, tmp_path / "mine")
    monkeypatch.setattr(type(desk), "decode", lambda self: None)
    assert desk.open(tmp_path / "mine")
    return desk


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
def test_undoing_everything_returns_to_the_same_document(open_desk, steps):
    desk = open_desk
    first = (desk.routine, desk.beatmap)
    desk.undo.clear()
    for number, (kind, which, by) in enumerate(steps):
        _do(desk, kind, which, by, number)
    last = (desk.routine, desk.beatmap)
    while desk.undo.canUndo():
        desk.undo.undo()
    assert (desk.routine, desk.beatmap) == first
    while desk.undo.canRedo():
        desk.undo.redo()
    if not any(kind in ("undo", "redo") for kind, _, _ in steps):
        assert (desk.routine, desk.beatmap) == last
    while desk.undo.canUndo():
        desk.undo.undo()
    assert (desk.routine, desk.beatmap) == first


def _do(desk, kind, which, by, number):
    routine, beatmap = desk.routine, desk.beatmap
    ids = [p.id for p in routine.poses]
    name, other = ids[which % len(ids)], ids[(which + 1) % len(ids)]
    if kind in ("undo", "redo"):
        getattr(desk.undo, kind)()
    elif kind == "drag":  # many small moves under the hand are one step
        for k in range(1, 4):
            moved = edits.move_by(routine, beatmap, name, Length(by * k / 4))
            desk.edit("drag", routine=moved, merge=f"drag {number}")
    elif kind == "out" and len(ids) > 2:
        desk.edit("out", routine=edits.take_out(routine, beatmap, name, close_up=by > 0))
    elif kind == "swap":
        desk.edit("swap", routine=edits.swap(routine, beatmap, name, other))
    elif kind == "hold":
        desk.edit("hold", routine=edits.lengthen(routine, beatmap, name, by / 4))
    else:
        desk.edit("move", routine=edits.move_by(routine, beatmap, name, Length(by / 4)))


def test_a_drag_is_one_step(open_desk):
    desk = open_desk
    before = desk.routine
    _do(desk, "drag", 3, 2, 0)
    assert desk.undo.count() == 1
    desk.undo.undo()
    assert desk.routine == before


def test_an_edit_is_on_disk_within_two_seconds(qtbot, open_desk):
    desk = open_desk
    _do(desk, "move", 3, 4, 0)
    after = desk.routine
    qtbot.waitUntil(lambda: open_folder(desk.folder).routine == after, timeout=2000)
    assert open_folder(desk.folder).beatmap == desk.beatmap
    assert "beats:" in (desk.folder / "routine.yaml").read_text()
