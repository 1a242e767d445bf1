"""Small pictures of poses, and the table that shows fields whole or not at all."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.routine.model import Facing, Level
from rehearse.routine.poses import load_catalogue
from rehearse.ui import theme
from rehearse.ui.figure.painter import paint_figure
from rehearse.ui.figure.pose_thumbs import TALLEST, Thumbs, width_of
from rehearse.ui.pages.routine.pose_rows import LEVEL, NOTE, SPOKEN
from rehearse.ui.pages.routine.tablepaint import is_whole


def alpha(image: QImage) -> np.ndarray:
    """Coverage 0..1 of every pixel."""
    plain = image.convertToFormat(QImage.Format.Format_ARGB32)
    lines = np.frombuffer(plain.constBits(), np.uint8).reshape(plain.height(), plain.width(), 4)
    return lines[..., 3] / 255


@pytest.mark.parametrize("height", [36, 112, TALLEST, TALLEST + 60])
def test_a_small_picture_is_what_painting_it_small_would_give(qapp, height):
    pose = load_catalogue().find("twisted back left")
    size = QSize(width_of(height), height)
    straight = QImage(size, QImage.Format.Format_ARGB32_Premultiplied)
    straight.fill(Qt.GlobalColor.transparent)
    painter = QPainter(straight)
    colours = QColor(theme.INK), QColor(theme.DIM)
    rect = QRectF(0, 0, size.width(), size.height())
    paint_figure(painter, rect, pose.figure, ink=colours[0], accent=colours[1])
    painter.end()
    kept = Thumbs().picture(pose, height).toImage()
    assert kept.size() == size
    assert np.abs(alpha(kept) - alpha(straight)).mean() < 0.02


def test_facing_level_and_mirror_have_pictures_of_their_own(qapp):
    thumbs, pose = Thumbs(), load_catalogue().find("crucifix")
    seen = [
        thumbs.picture(pose, 60, **how).toImage()
        for how in ({}, {"facing": Facing.LEFT}, {"level": Level.KNEELING})
    ]
    assert all(a != b for k, a in enumerate(seen) for b in seen[:k])
    side = load_catalogue().find("side chest left")
    mirrored = thumbs.picture(side, 60, mirrored=True).toImage()
    straight = thumbs.picture(side, 60).toImage()
    assert np.abs(alpha(mirrored) - alpha(straight)[:, ::-1]).mean() < 0.02


def test_poses_are_painted_ahead_in_quiet_moments(qapp, qtbot):
    thumbs = Thumbs()
    thumbs.paint_ahead(load_catalogue().poses[:3])
    assert thumbs.ahead
    qtbot.waitUntil(lambda: not thumbs.ahead)
    qtbot.waitUntil(lambda: not thumbs._pause.isActive())


def test_no_field_is_cut_at_the_edge(page, qtbot):
    page.resize(1366, 700)
    qtbot.waitUntil(lambda: not is_whole(page.table, SPOKEN))
    assert is_whole(page.table, LEVEL)
    page.resize(1920, 1000)
    qtbot.waitUntil(lambda: is_whole(page.table, SPOKEN))
    assert is_whole(page.table, NOTE)


def test_without_a_pose_the_page_says_how_to_begin(page, workspace):
    page.editor.select("aaaaaaaa")
    page.editor.select("cccccccc", extend=True)
    page.choreography.take_out()
    assert workspace.routine.poses == ()
    assert not page.table.horizontalHeader().isVisible()
    page.grab()
    workspace.undo.undo()
    assert page.table.horizontalHeader().isVisible()
