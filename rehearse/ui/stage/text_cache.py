"""Text for the stage, set once and then only copied: large letters are slow to draw."""

from __future__ import annotations

import math
from functools import cache

from PySide6.QtCore import QPointF, QSizeF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPixmap

from rehearse.ui.fonts import cap_ratio, face, face_with_cap
from rehearse.ui.stage.fit import PITCH, Fitted
from rehearse.ui.stage.layout import Box


@cache
def advance(text: str) -> float:
    """Width of `text` in cap heights, in the strong cut."""
    return QFontMetricsF(face(1000, strong=True)).horizontalAdvance(text) / (1000 * cap_ratio())


def draw_lines(painter: QPainter, box: Box, fitted: Fitted, colour: QColor) -> None:
    """Draw fitted lines from the top left of `box`."""
    painter.save()
    painter.setPen(colour)
    painter.setFont(face_with_cap(fitted.cap))
    painter.translate(box.x, box.y)
    for index, line in enumerate(fitted.lines):
        painter.drawText(QPointF(0, fitted.cap * (1 + index * PITCH)), line)
    painter.restore()


def draw_words(
    painter: QPainter,
    box: Box,
    text: str,
    cap: float,
    colour: QColor,
    *,
    strong: bool = False,
    align: float = 0.0,
) -> float:
    """One line with capitals of `cap` pixels, its base on the box's foot.

    `align` is 0 for left, 0.5 for the middle, 1 for right. Returns the width it took; whether there
    is room is for the caller to know.
    """
    font = face_with_cap(cap, strong=strong)
    width = QFontMetricsF(font).horizontalAdvance(text)
    painter.save()
    painter.setPen(colour)
    painter.setFont(font)
    painter.drawText(QPointF(box.x + align * (box.width - width), box.bottom), text)
    painter.restore()
    return width


class DigitCache:
    """The numeral's characters as pictures, drawn once each."""

    def __init__(self, cap: float, ratio: float) -> None:
        self.cap = cap
        self._ratio = ratio
        self._font = face_with_cap(cap)
        self._metrics = QFontMetricsF(self._font)
        self._over = math.ceil(0.05 * cap)  # round figures reach over the capitals' line
        self._pictures: dict[tuple[str, str], QPixmap] = {}
        self._widths: dict[str, float] = {}

    def width(self, text: str) -> float:
        """Pixels `text` takes."""
        return sum(map(self._width, text))

    def _width(self, character: str) -> float:
        if character not in self._widths:
            self._widths[character] = self._metrics.horizontalAdvance(character)
        return self._widths[character]

    def draw(self, painter: QPainter, box: Box, text: str, colour: QColor) -> None:
        """Draw `text` at the left of `box` with its base on the box's foot, smaller to fit."""
        scale = min(1.0, box.width / max(self.width(text), 1.0))
        if scale == 1.0:
            self._copy(painter, box.x, box.bottom - self.cap - self._over, text, colour)
            return
        painter.save()
        painter.translate(box.x, box.bottom - (self.cap + self._over) * scale)
        painter.scale(scale, scale)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        self._copy(painter, 0.0, 0.0, text, colour)
        painter.restore()

    def _copy(self, painter: QPainter, x: float, y: float, text: str, colour: QColor) -> None:
        for character in text:
            painter.drawPixmap(QPointF(x, y), self._picture(character, colour))
            x += self._width(character)

    def _picture(self, character: str, colour: QColor) -> QPixmap:
        key = (character, colour.name())
        if key not in self._pictures:
            width = max(1.0, self._width(character))
            size = QSizeF(width + 2, self.cap + 2 * self._over + 1)
            picture = QPixmap((size * self._ratio).toSize())
            picture.setDevicePixelRatio(self._ratio)
            picture.fill(Qt.GlobalColor.transparent)
            with QPainter(picture) as brush:
                brush.setFont(self._font)
                brush.setPen(colour)
                brush.drawText(QPointF(0, self.cap + self._over), character)
            self._pictures[key] = picture
        return self._pictures[key]
