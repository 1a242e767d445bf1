"""A painter ends where its painting does, whatever happens meanwhile.

One left open by a mistake shares the window's paint engine with the next widget's painter; when it
is let go of at last, it takes that one's state along, and the program with it.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from rehearse.ui.widgets import LastStep

ROOT = Path(__file__).parents[2] / "rehearse"


def test_every_painter_ends_with_its_block():
    """As a context manager it ends even where its frame is kept, by a traceback for instance."""
    open_ended = []
    for path in sorted(ROOT.rglob("*.py")):
        tree = ast.parse(path.read_text())
        managed = {
            id(item.context_expr)
            for node in ast.walk(tree)
            if isinstance(node, ast.With)
            for item in node.items
        }
        for node in ast.walk(tree):
            named = isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
            if named and node.func.id == "QPainter" and id(node) not in managed:
                open_ended.append(f"{path.relative_to(ROOT)}:{node.lineno}")
    assert open_ended == []


def test_a_mistake_while_painting_leaves_no_painter_open(qtbot, monkeypatch):
    line = LastStep()
    qtbot.addWidget(line)
    line.show_step("a pose added")
    monkeypatch.setattr("rehearse.ui.widgets.QColor", None)
    with pytest.raises(TypeError) as caught:
        line.grab()
    monkeypatch.undo()
    assert caught.traceback[-1].path.name == "widgets.py"  # the frame of the mistake is kept
    assert not line.grab().isNull()  # without the end of its painter this takes the program along
