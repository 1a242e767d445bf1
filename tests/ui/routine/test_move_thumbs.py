"""Pictures of moves in the lane and in the picker, painted when there is a quiet moment."""

from __future__ import annotations

import time

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import QApplication, QTableView

from rehearse.ui.figure.move_thumbs import MoveThumbs
from rehearse.ui.pages.routine.pose_rows import PoseRows

K = Qt.Key


def rows_of(page):
    models = (view.model() for view in page.findChildren(QTableView))
    return next(model for model in models if isinstance(model, PoseRows))


def settled(page):
    """Let what waits be painted, two seconds at most."""
    until = time.monotonic() + 2.0
    found = [*page.findChildren(MoveThumbs), rows_of(page)._moves]
    page.grab()
    while time.monotonic() < until and any(t.waiting for t in found):
        QApplication.processEvents()
        time.sleep(0.005)
    page.grab()


def test_the_lane_shows_what_a_move_is(page, workspace, press, write):
    page.resize(1366, 768)
    page.editor.select("bbbbbbbb")
    press(K.Key_Comma)
    write("gath 3")
    settled(page)
    press(K.Key_Return)
    page.editor.select("")
    settled(page)
    thumbs = page.lane._moves
    size = next(iter(thumbs._kept))
    assert size[0].name == "gather"
    found = [t for t in page.findChildren(MoveThumbs) if t is not thumbs and t._kept]
    assert found, "the picker has none"
    assert len(rows_of(page).move_pictures(1, page.devicePixelRatio())) == 1


def test_none_is_painted_before_it_is_asked_for_twice(qapp):
    from rehearse.routine.moves import load_moves

    thumbs, kind = MoveThumbs(), load_moves().find("gather")
    assert thumbs.picture(kind, None, "", QSize(28, 28)) is None
    until = time.monotonic() + 5.0
    while thumbs.waiting and time.monotonic() < until:
        qapp.processEvents()
    assert thumbs.picture(kind, None, "", QSize(28, 28)) is not None
