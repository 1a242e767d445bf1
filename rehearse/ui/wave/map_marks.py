"""Paints what the beat map says onto the waveform; every kind has a shape of its own.

Beats are lines, bars longer and brighter ones, accents wedges from above, builds ramps, quiet
stretches brackets, free time hatching, doubt gaps in the line of certainty.
"""

from __future__ import annotations

import math

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPen, QPolygonF

from rehearse.music.beatmap import MEDIUM, Accent, BeatMap, Stretch
from rehearse.ui import theme
from rehearse.ui.colours import tint
from rehearse.ui.fonts import face
from rehearse.ui.wave.beatlines import paint_beats
from rehearse.ui.wave.scale import Scale
from rehearse.words import _

#: Pixels within which only the strongest accent is shown.
ACCENTS_APART = 8.0
#: Certainty below which a stretch is shown as doubtful.
DOUBT = 0.5

_STEPS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600)


def paint_map(painter: QPainter, scale: Scale, beatmap: BeatMap, least: float = MEDIUM) -> None:
    """Everything the map knows of the stretch in view; of accents those of strength `least`."""
    for stretch in beatmap.free:
        _paint_free(painter, scale, stretch)
    for stretch in beatmap.quiets:
        _paint_quiet(painter, scale, stretch)
    for build in beatmap.builds:
        _paint_build(painter, scale, build.start, build.end)
    paint_beats(painter, scale, beatmap)
    _paint_accents(painter, scale, [a for a in beatmap.accents if a.strength >= least])
    _paint_certainty(painter, scale, beatmap)
    _paint_parts(painter, scale, beatmap)


def paint_seconds(painter: QPainter, scale: Scale) -> None:
    """Seconds along the bottom, as minutes:seconds."""
    step = next((s for s in _STEPS if s * scale.per_second >= theme.px(80)), _STEPS[-1])
    painter.setFont(face(theme.SMALL))
    painter.setPen(QColor(theme.DIM))
    band = scale.seconds
    for k in range(math.ceil(scale.start / step), math.floor(scale.end / step) + 1):
        time = k * step
        x = scale.x(time)
        painter.drawLine(QLineF(x, band.top(), x, band.top() + 4))
        if x < scale.width - theme.px(48):
            text = (
                f"{int(time // 60)}:{time % 60:0{2 if step >= 1 else 4}.{0 if step >= 1 else 1}f}"
            )
            painter.drawText(QPointF(x + 4, band.bottom() - 5), text)


def _paint_free(painter: QPainter, scale: Scale, stretch: Stretch) -> None:
    if not scale.shows(stretch.start, stretch.end):
        return
    band = _over(scale, stretch.start, stretch.end)
    painter.fillRect(band, QBrush(tint(theme.DIM, 0.35), Qt.BrushStyle.BDiagPattern))
    _word(painter, band, _("free time"))


def _paint_quiet(painter: QPainter, scale: Scale, stretch: Stretch) -> None:
    if not scale.shows(stretch.start, stretch.end):
        return
    band = _over(scale, stretch.start, stretch.end)
    painter.setPen(QPen(QColor(theme.DIM), 2))
    foot = band.bottom() - 3
    for x, inward in ((band.left() + 1, 10), (band.right() - 1, -10)):
        painter.drawPolyline([QPointF(x + inward, foot), QPointF(x, foot), QPointF(x, foot - 16)])
    high = theme.px(22)
    _word(painter, QRectF(band.left(), foot - high - 4, band.width(), high), _("quiet"))


def _paint_build(painter: QPainter, scale: Scale, start: float, end: float) -> None:
    if not scale.shows(start, end):
        return
    band = _over(scale, start, end)
    ramp = QPolygonF(
        [
            QPointF(band.left(), band.bottom()),
            QPointF(band.right(), band.bottom()),
            QPointF(band.right(), band.top() + band.height() * 0.25),
        ]
    )
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(tint(theme.INK, 0.10))
    painter.drawPolygon(ramp)
    painter.setPen(QPen(tint(theme.INK, 0.75), 2))
    painter.drawLine(ramp.at(0), ramp.at(2))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    high = theme.px(22)
    _word(painter, QRectF(band.left(), band.bottom() - high - 4, band.width(), high), _("build"))


def _paint_accents(painter: QPainter, scale: Scale, accents: list[Accent]) -> None:
    """The strongest of those that would hide each other."""
    strongest: dict[int, Accent] = {}
    for accent in accents:
        slot = int(scale.x(accent.time) // ACCENTS_APART)
        if accent.strength > (strongest[slot].strength if slot in strongest else 0.0):
            strongest[slot] = accent
    top = scale.wave.top()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    for accent in strongest.values():
        if not scale.shows(accent.time - 1, accent.time + 1):
            continue
        x = scale.x(accent.time)
        half, deep = 4 + 5 * accent.strength, 10 + 14 * accent.strength
        painter.setPen(QPen(tint(theme.INK, 0.35 + 0.4 * accent.strength), 1, Qt.PenStyle.DotLine))
        painter.drawLine(QLineF(x, top + deep, x, scale.wave.bottom()))
        painter.setPen(QPen(QColor(theme.GROUND), 1))
        # Strong ones are full, medium ones open, light ones a short stroke: told by shape.
        painter.setBrush(QColor(theme.INK if accent.grade == "strong" else theme.GROUND))
        if accent.grade != "strong":
            painter.setPen(QPen(QColor(theme.INK), 2))
        if accent.grade == "light":
            painter.drawLine(QLineF(x, top, x, top + deep))
            continue
        painter.drawPolygon(
            QPolygonF([QPointF(x - half, top), QPointF(x + half, top), QPointF(x, top + deep)])
        )
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)


def _paint_certainty(painter: QPainter, scale: Scale, beatmap: BeatMap) -> None:
    """A bar as high as the beats are sure; where that is doubtful a line and a question mark."""
    band = scale.certainty.adjusted(0, 7, 0, -5)
    for stretch in beatmap.confidence:
        if not scale.shows(stretch.start, stretch.end):
            continue
        left, right = scale.x(stretch.start), scale.x(stretch.end)
        height = max(2.0, band.height() * stretch.value)
        bar = QRectF(left, band.bottom() - height, max(1.0, right - left - 1), height)
        if stretch.value >= DOUBT:
            painter.fillRect(bar, tint(theme.DIM, 0.8))
            continue
        painter.fillRect(QRectF(left, band.bottom() - 1, bar.width(), 1), QColor(theme.INK))
        if right - left > 14:
            painter.setFont(face(theme.SMALL, strong=True))
            painter.setPen(QColor(theme.INK))
            painter.drawText(
                scale.certainty.adjusted(left, 0, right - scale.width, 0),
                Qt.AlignmentFlag.AlignCenter,
                "?",
            )


def _paint_parts(painter: QPainter, scale: Scale, beatmap: BeatMap) -> None:
    painter.setFont(face(theme.SMALL, strong=True))
    for part in beatmap.parts:
        if not scale.shows(part.start, part.end):
            continue
        left, right = scale.x(part.start), scale.x(part.end)
        band = QRectF(left + 2, scale.parts.top() + 1, right - left - 4, scale.parts.height() - 3)
        painter.fillRect(band, QColor(theme.RAISED))
        seen = band.intersected(QRectF(0, 0, scale.width, scale.height))
        if part.label and seen.width() > 20:
            painter.setPen(QColor(theme.INK))
            painter.drawText(seen.adjusted(8, 0, 0, 0), Qt.AlignmentFlag.AlignVCenter, part.label)


def _over(scale: Scale, start: float, end: float) -> QRectF:
    """The wave between two times, cut to a little more than the view."""
    left, right = max(-40.0, scale.x(start)), min(scale.width + 40.0, scale.x(end))
    return QRectF(left, scale.wave.top(), right - left, scale.wave.height())


def _word(painter: QPainter, band: QRectF, word: str) -> None:
    """The name of a stretch in its middle, on ground, where there is room for it."""
    painter.setFont(face(theme.SMALL))
    width = painter.fontMetrics().horizontalAdvance(word) + 12
    if band.width() < width + 8:
        return
    high = theme.px(22)
    box = QRectF(band.center().x() - width / 2, band.center().y() - high / 2, width, high)
    painter.fillRect(box, tint(theme.GROUND, 0.85))
    painter.setPen(QColor(theme.INK))
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, word)
