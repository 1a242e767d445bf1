"""Pictures of moves: told apart without their labels, mirrored with their side."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QSize
from PySide6.QtGui import QColor, QImage

from rehearse.routine.model import OwnMove, Side
from rehearse.routine.movepicture import move_shapes
from rehearse.routine.moves import load_moves
from rehearse.ui.figure.move_thumbs import move_picture

MOVES = load_moves()
SIZE = QSize(40, 44)


def pixels(kind, side=None, direction=""):
    image = move_picture(kind, side, SIZE, direction).toImage()
    image = image.convertToFormat(QImage.Format.Format_ARGB32)
    rows = np.frombuffer(image.constBits(), np.uint8)
    return rows.reshape(SIZE.height(), SIZE.width(), 4).astype(int)


def test_no_two_pictures_look_alike(qapp):
    """A tenth of the strength of all pixels apart, at the size of a row of the table."""
    shown = {
        (kind.name, direction): pixels(kind, Side.LEFT if kind.sided else None, direction)
        for kind in MOVES.moves
        for direction, _ in kind.keys
    }
    names = list(shown)
    for k, one in enumerate(names):
        for other in names[:k]:
            apart = np.abs(shown[one] - shown[other]).sum()
            both = (shown[one].sum() + shown[other].sum()) / 2
            assert apart > 0.1 * both, f"{one} looks like {other}"


@pytest.mark.parametrize("name", ["reach out", "turn", "lean", "slide"])
def test_left_and_right_are_told_apart(qapp, name):
    kind = MOVES.find(name)
    left, right = (move_shapes(kind, side) for side in (Side.LEFT, Side.RIGHT))
    assert (
        np.sign(left.arrow[-1][0] - left.arrow[0][0])
        == pytest.approx(-np.sign(right.arrow[-1][0] - right.arrow[0][0]))
        or name == "lean"
    )
    assert np.abs(pixels(kind, Side.LEFT) - pixels(kind, Side.RIGHT)).sum() > 20_000


@pytest.mark.parametrize(("width", "height"), [(16, 18), (40, 44), (240, 260)])
def test_it_fills_its_size_and_stays_inside(qapp, width, height):
    picture = move_picture(MOVES.find("gather"), None, QSize(width, height), ratio=2.0)
    assert picture.deviceIndependentSize().toSize() == QSize(width, height)
    assert picture.width() == 2 * width


def test_an_own_move_shows_its_first_photo(qapp, tmp_path):
    (tmp_path / "pictures").mkdir()
    photo = QImage(90, 120, QImage.Format.Format_RGB32)
    photo.fill(QColor("red"))
    assert photo.save(str(tmp_path / "pictures" / "1.png"))
    kind = MOVES.with_own((OwnMove("swing", ("pictures/1.png",)),)).find("swing")
    shown = move_picture(kind, None, SIZE, folder=tmp_path).toImage()
    assert shown.pixelColor(shown.width() // 2, shown.height() - 4) == QColor("red")
    missing = MOVES.with_own((OwnMove("swing"),)).find("swing")
    assert move_picture(missing, None, SIZE).toImage().pixelColor(20, 20).alpha() == 0
