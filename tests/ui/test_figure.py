"""The painted figure: at any size, over any ground, front and back told apart."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.routine.poses import load_catalogue
from rehearse.ui.figure.painter import paint_figure

INK, ACCENT, GROUND = QColor("#f0e8d8"), QColor("#f0a030"), QColor("#101010")


def painted(name: str, width: int, height: int, **options) -> np.ndarray:
    """The picture as (height, width, 4) bytes: blue, green, red, opacity."""
    image = QImage(width, height, QImage.Format.Format_ARGB32)
    image.fill(0)
    painter = QPainter(image)
    figure = load_catalogue().find(name).figure
    rect = QRectF(0, 0, width, height)
    paint_figure(painter, rect, figure, ink=INK, accent=ACCENT, **options)
    painter.end()
    return np.array(image.constBits()).reshape(height, width, 4).copy()


def lit(picture: np.ndarray) -> np.ndarray:
    return picture[..., 1] > 200


@pytest.mark.parametrize(("width", "height"), [(24, 28), (64, 72), (300, 340), (700, 800)])
def test_any_size_shows_the_same_body(qapp, width, height):
    covered = (painted("front double biceps", width, height)[..., 3] > 127).mean()
    assert covered == pytest.approx(0.15, abs=0.04)


def test_gaps_show_what_lies_below_without_a_ground(qapp):
    clear = painted("front double biceps", 300, 340)
    filled = painted("front double biceps", 300, 340, ground=GROUND)
    assert (filled[..., 3] > 127).sum() > (clear[..., 3] > 127).sum()
    assert np.abs(lit(clear).astype(int) - lit(filled).astype(int)).mean() < 0.01


def test_front_and_back_are_told_apart(qapp):
    front = painted("front double biceps", 300, 340)
    back = painted("back double biceps", 300, 340)
    head = (slice(60, 95), slice(140, 160))
    assert lit(front)[head].mean() > 2 * lit(back)[head].mean()


def test_the_mirrored_view_flips_the_picture(qapp):
    plain = painted("archer left", 300, 340)
    flipped = painted("archer left", 300, 340, mirrored=True)
    assert np.abs(plain[:, ::-1].astype(int) - flipped.astype(int)).mean() < 1.0
    assert np.abs(plain.astype(int) - flipped.astype(int)).mean() > 5.0


@pytest.mark.parametrize("ground", [None, GROUND])
def test_the_painter_is_left_as_it_was(qapp, ground):
    image = QImage(100, 100, QImage.Format.Format_ARGB32_Premultiplied)
    painter = QPainter(image)
    before = (painter.transform(), painter.brush(), painter.pen(), painter.compositionMode())
    figure = load_catalogue().find("victory").figure
    paint_figure(painter, QRectF(10, 10, 60, 70), figure, ink=INK, accent=ACCENT, ground=ground)
    after = (painter.transform(), painter.brush(), painter.pen(), painter.compositionMode())
    painter.end()
    assert after == before
