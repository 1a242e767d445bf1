"""How like two painted figures are at the size of the picker, as an eye three metres away has it.

The pictures are blurred a little, for the eye does not see single pixels there, and laid on each
other where they fit best. What is left of the difference is compared with what both cover: 0 is
the same picture, 1 two that have nothing in common.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.routine.anatomy import WINDOW
from rehearse.routine.bones import Figure
from rehearse.ui import theme
from rehearse.ui.figure.painter import paint_figure

Pictures = npt.NDArray[np.float32]

#: Height of a picture in pixels, and how far two may be shifted against each other.
HEIGHT, SHIFT = 110, 2


def pictures(figures: Iterable[Figure], height: int = HEIGHT, **how: object) -> Pictures:
    """Grey pictures, shape (figures, height, width), 0..1, blurred over three pixels."""
    width = round(height * WINDOW[0] / WINDOW[1])
    ground, ink, accent = QColor(theme.GROUND), QColor(theme.INK), QColor(theme.DIM)
    grey = []
    for figure in figures:
        image = QImage(width, height, QImage.Format.Format_RGB32)
        image.fill(ground)
        painter = QPainter(image)
        place = QRectF(0, 0, width, height)
        paint_figure(painter, place, figure, ink=ink, accent=accent, ground=ground, **how)
        painter.end()
        flat = image.convertToFormat(QImage.Format.Format_Grayscale8)
        rows = np.frombuffer(flat.constBits(), np.uint8).reshape(height, flat.bytesPerLine())
        grey.append(rows[:, :width].astype(np.float32) / 255)
    stack = np.array(grey) - grey[0][0, 0]
    for axis in (1, 2):
        stack = (np.roll(stack, 1, axis) + 2 * stack + np.roll(stack, -1, axis)) / 4
    return np.clip(stack, 0.0, 1.0)


def unlikeness(stack: Pictures) -> npt.NDArray[np.float32]:
    """What parts every two pictures, shape (pictures, pictures), 0..1."""
    count = len(stack)
    plain = stack.reshape(count, -1)
    best = np.full((count, count), np.inf, np.float32)
    steps = range(-SHIFT, SHIFT + 1)
    for shift in ((down, across) for down in (-1, 0, 1) for across in steps):
        moved = np.roll(stack, shift, (1, 2)).reshape(count, -1)
        for k in range(count):
            differ = np.abs(moved[k + 1 :] - plain[k]).sum(axis=1)
            most = np.maximum(moved[k + 1 :], plain[k]).sum(axis=1)
            best[k, k + 1 :] = np.minimum(best[k, k + 1 :], differ / most)
    return np.minimum(best, best.T)
