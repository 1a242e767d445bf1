"""Pictures of moves in the lane and in the picker, painted when there is a quiet moment."""

from __future__ import annotations

import os
import time

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import QApplication

from rehearse.ui.figure.moves import MoveThumbs

K = Qt.Key


def settled(page):
    """Let what waits be painted, two seconds at most."""
    until = time.monotonic() + 2.0
    found = page.findChildren(MoveThumbs)
    page.grab()
    while time.monotonic() < until and any(t.waiting for t in found):
        QApplication.processEvents()
        time.sleep(0.005)
    return page.grab().toImage()


def test_the_lane_shows_what_a_move_is(page, desk, press, write):
    page.resize(1366, 768)
    page.choice.select("bbbbbbbb")
    press(K.Key_Comma)
    write("gath 3")
    picker = settled(page)
    press(K.Key_Return)
    page.choice.select("")
    lane = settled(page)
    if folder := os.environ.get("PICTURES"):
        picker.save(f"{folder}/picker.png")
        lane.save(f"{folder}/lane.png")
    thumbs = page.lane._moves
    size = next(iter(thumbs._kept))
    assert size[0].name == "gather"
    found = [t for t in page.findChildren(MoveThumbs) if t is not thumbs and t._kept]
    assert found, "the picker has none"


def test_none_is_painted_before_it_is_asked_for_twice(qapp):
    from rehearse.routine.moves import load_moves

    thumbs, kind = MoveThumbs(), load_moves().find("gather")
    assert thumbs.picture(kind, None, "", QSize(28, 28)) is None
    until = time.monotonic() + 5.0
    while thumbs.waiting and time.monotonic() < until:
        qapp.processEvents()
    assert thumbs.picture(kind, None, "", QSize(28, 28)) is not None
