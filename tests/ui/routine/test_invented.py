"""A whole routine with moves, made by real keys and clicks, undone step by step, opened again.

Nothing is set in code but the empty routine it begins with; `tests.bench.invented` makes a longer
one on a real song.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from rehearse.routine.checks import Severity
from rehearse.routine.folder import open_folder
from rehearse.routine.model import Level, Side
from rehearse.ui.window import ROUTINE, Window
from tests.helpers.hands import Hands, K, M

from .conftest import hits, names


@pytest.fixture
def page(qtbot, workspace):
    """The Routine page of the whole window."""
    window = Window(workspace)
    qtbot.addWidget(window)
    window.resize(1280, 720)
    window.show()
    window.show_page(ROUTINE)
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    yield window.page
    window.page.leave()


@pytest.fixture
def hands(page, workspace):
    nothing = replace(workspace.routine, poses=(), sections=())
    workspace.edit("begin", routine=nothing)
    workspace.undo.clear()
    page.wave.set_range(0.0, 80.0)
    return Hands(page, workspace)


def choreograph(hands):
    """A walk on from the right, thirteen moves, three places, two levels, a mirrored phrase."""
    hands.pose("3:1", "kneeling double")
    hands.moves("walk on r 6", "kneel down 4")
    hands.at("centre")
    hands.pose("5:1", "front double biceps")
    hands.moves("stand up 3", "reach up r 2")
    hands.pose("7:1", "side chest right")
    hands.turned("right")
    hands.moves("gath 2", "sweep r 3")
    hands.at("right")
    hands.pose("9:1", "back double")
    hands.turned("left")
    hands.moves("circle l 4")
    hands.at("left")
    hands.again("9:3")
    hands.pose("11:1", "lunge reach left")
    hands.moves("turn l 2", "sink 2")
    # From the side chest on.
    hands.paste_mirrored(3, "13:1")
    return hands


def finish(hands):
    """The last pose, hit again, and the way off."""
    hands.pose("18:1", "victory")
    hands.moves("drop 1", "rise 2")
    hands.again("18:3")
    hands.press(K.Key_Escape)
    hands.click("18:6")
    hands.moves("bow 2", "walk off left 4")


def kinds(routine):
    inside = [m.move for p in routine.poses for m in p.moves]
    return {*inside, *(m.move for m in routine.exit)}


def test_a_routine_of_ones_own_is_made_undone_and_opened_again(hands, page, workspace, folder):
    empty = workspace.routine
    choreograph(hands)
    finish(hands)
    made = workspace.routine
    assert hits(workspace) == [f"{k}:1" for k in (3, 5, 7, 9, 11, 13, 15, 17, 18)]
    assert names(workspace)[5:8] == ["side chest left", "back double biceps", "lunge reach right"]
    assert len(kinds(made)) >= 12, sorted(kinds(made))
    assert made.poses[0].moves[0].direction == "right"
    assert {p.turn for p in made.poses} >= {Side.LEFT, Side.RIGHT}
    assert {p.place for p in made.poses if p.place} >= {"centre", "left", "right"}
    levels = {page.timings.find(p.id).level for p in made.poses}
    assert levels >= {Level.STANDING, Level.KNEELING, Level.LUNGE}
    assert sum(bool(p.again) for p in made.poses) >= 2
    assert [m.move for m in made.exit] == ["bow", "walk off"]
    assert hands.gestures <= 90, hands.gestures
    page.findings.look()
    assert not [f for f in page.findings.findings if f.severity is Severity.FAULT]

    gestures, steps = hands.gestures, workspace.undo.count()
    hands.times(steps, K.Key_Z, M.ControlModifier)
    assert workspace.routine == empty
    hands.times(steps, K.Key_Z, M.ControlModifier | M.ShiftModifier)
    assert workspace.routine == made
    assert steps < gestures
    assert workspace.save()
    assert open_folder(folder).routine == made
