"""Paints beats, bars and eights as lines, and the counts above them, as dense as there is room."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt
from PySide6.QtCore import QPointF, QRect, Qt
from PySide6.QtGui import QColor, QPainter

from rehearse.music.beatmap import BeatMap
from rehearse.ui import theme
from rehearse.ui.colours import tint
from rehearse.ui.fonts import face
from rehearse.ui.wave.scale import Scale

#: Least pixels between two lines of a kind, and between two numbers.
LINES_APART, COUNTS_APART, NUMBERS_APART = 7.0, 22.0, 44.0
#: Pixels between the numbers of two counts, so that they are read as two.
_GAP = 5.0

Indices = npt.NDArray[np.int64]


def paint_beats(painter: QPainter, scale: Scale, beatmap: BeatMap) -> None:
    """Lines for the beats in view, longer and brighter ones for bars and eights, and counts."""
    first, last = (int(k) for k in np.searchsorted(beatmap.times, (scale.start, scale.end)))
    if last <= first:
        return
    apart = scale.width / max(1, last - first)
    eights, bars = _starts(beatmap)
    wave, top = scale.wave.toRect(), round(scale.eights.bottom()) - 8
    edge = min(32, round(wave.height() * 0.12))
    thin, bold = [], []
    for k in range(first, last) if apart >= LINES_APART else _within(bars, first, last):
        x = round(scale.x(beatmap.beats[k]))
        if beatmap.places[k] == 1:
            if apart * 4 >= LINES_APART:
                thin.append(QRect(x, wave.top(), 1, wave.height()))
        else:
            thin.append(QRect(x, wave.bottom() - edge + 1, 1, edge))
            thin.append(QRect(x, wave.top(), 1, edge))
    for k in _within(eights, first, last) if apart * 8 >= LINES_APART else ():
        bold.append(QRect(round(scale.x(beatmap.beats[k])), top, 1, wave.bottom() - top + 1))
    # Narrow rectangles are filled several times faster than lines are drawn.
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(tint(theme.DIM, 0.55))
    painter.drawRects(thin)
    painter.setBrush(tint(theme.INK, 0.8))
    painter.drawRects(bold)
    _paint_counts(painter, scale, beatmap, (first, last), apart)


@lru_cache(maxsize=4)
def _starts(beatmap: BeatMap) -> tuple[Indices, Indices]:
    """Indices of the beats that begin an eight, and of those that begin a bar."""
    eights = np.flatnonzero([c.count == 1 for c in beatmap.counts])
    return eights, np.flatnonzero(np.asarray(beatmap.places) == 1)


def _within(indices: Indices, first: int, last: int) -> list[int]:
    low, high = np.searchsorted(indices, (first, last))
    result: list[int] = indices[low:high].tolist()
    return result


def _paint_counts(
    painter: QPainter, scale: Scale, beatmap: BeatMap, span: tuple[int, int], apart: float
) -> None:
    """Eights by their number; within them the counts 2 to 8 where there is room."""
    every = 1
    while apart * 8 * every < theme.px(NUMBERS_APART):
        every *= 2
    base = scale.eights.bottom() - 10
    roomy = apart >= theme.px(COUNTS_APART)
    taken: list[tuple[float, float]] = []
    painter.setFont(face(theme.SMALL, strong=True))
    painter.setPen(QColor(theme.INK))
    for k in _within(_starts(beatmap)[0], *span):
        eight = beatmap.counts[k].eight
        if eight % every == 0 or every == 1:
            text = f"{eight}:1" if roomy else str(eight)
            at = QPointF(scale.x(beatmap.beats[k]) + 4, base)
            taken.append(_number(painter, scale, at, text))
    painter.setFont(face(theme.SMALL))
    painter.setPen(QColor(theme.DIM))
    gap = theme.px(_GAP)
    for k in range(*span) if roomy else ():
        text = str(beatmap.counts[k].count)
        at = QPointF(scale.x(beatmap.beats[k]) + 4, base)
        right = at.x() + painter.fontMetrics().horizontalAdvance(text)
        # Next to the number of an eight there may be no room for its 2, nor for its 3.
        if text != "1" and all(at.x() >= b + gap or right + gap <= a for a, b in taken):
            _number(painter, scale, at, text)


def _number(painter: QPainter, scale: Scale, at: QPointF, text: str) -> tuple[float, float]:
    """A number, unless the edge of the view would cut it; answers where it begins and ends."""
    right = at.x() + painter.fontMetrics().horizontalAdvance(text)
    if right <= scale.width:
        painter.drawText(at, text)
    return at.x(), right
