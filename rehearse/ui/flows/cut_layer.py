"""Paints the parts of a cut under the wave of the song; their ends can be dragged."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from rehearse.music.cut import CutPart, SourceSong
from rehearse.ui import theme
from rehearse.ui.colours import tint
from rehearse.ui.fonts import face
from rehearse.ui.wave.scale import Scale
from rehearse.words import _

#: Height of the band; pixels within which an end is caught.
BAND, CATCH = 5 * theme.STEP, 12.0


class CutLayer:
    """The parts as numbered bars; what is left out is shaded.

    Args:
        moved: called with the part's index, "start" or "end", and the second it was dragged to.
        refresh: called while an end is dragged.
    """

    def __init__(
        self, moved: Callable[[int, str, float], None], refresh: Callable[[], None]
    ) -> None:
        self.parts: tuple[CutPart, ...] = ()
        self.songs: tuple[SourceSong, ...] = ()
        self.chosen = -1
        self._moved, self._refresh = moved, refresh
        self._held: tuple[int, str] | None = None
        self._at = 0.0

    def paint(self, painter: QPainter, scale: Scale) -> None:
        """Shade what is left out, and draw the bars and where songs begin."""
        if not self.parts:
            return
        spans = sorted(self._ends(k) for k in range(len(self.parts)))
        edge = 0.0
        for start, end in (*spans, (scale.end, scale.end)):
            left, right = max(0.0, scale.x(edge)), min(scale.width, scale.x(start))
            if right > left:
                wave = QRectF(left, scale.wave.top(), right - left, scale.wave.height())
                painter.fillRect(wave, tint(theme.GROUND, 0.65))
            edge = max(edge, end)
        for song in self.songs:
            self._song(painter, scale, song)
        for index in range(len(self.parts)):
            self._bar(painter, scale, index)

    def _ends(self, index: int) -> tuple[float, float]:
        part = self.parts[index]
        ends = {"start": part.start, "end": part.end}
        if self._held is not None and self._held[0] == index:
            ends[self._held[1]] = self._at
        return ends["start"], ends["end"]

    def _bar(self, painter: QPainter, scale: Scale, index: int) -> None:
        start, end = self._ends(index)
        left, right = scale.x(start), scale.x(end)
        band = scale.layers.adjusted(0, 6, 0, -6)
        bar = QRectF(left, band.top(), max(2.0, right - left), band.height())
        chosen = index == self.chosen
        painter.fillRect(bar, QColor(theme.INK if chosen else theme.LINE))
        for x in (left, right):
            painter.fillRect(QRectF(x - 3, band.top() - 3, 6, band.height() + 6), QColor(theme.INK))
        painter.setFont(face(theme.SMALL, strong=True))
        painter.setPen(QPen(QColor(theme.GROUND if chosen else theme.INK)))
        seen = bar.intersected(QRectF(0, 0, scale.width, scale.height))
        text = _("part {index}", index=index + 1)
        if seen.width() < painter.fontMetrics().horizontalAdvance(text) + 16:
            text = str(index + 1)
        if seen.width() > painter.fontMetrics().horizontalAdvance(text) + 10:
            painter.drawText(seen, Qt.AlignmentFlag.AlignCenter, text)

    def _song(self, painter: QPainter, scale: Scale, song: SourceSong) -> None:
        left, right = scale.x(song.start), scale.x(song.end)
        seen = QRectF(max(0.0, left), scale.wave.bottom() - 24, 0.0, 22)
        seen.setRight(min(scale.width, right))
        if song.start:
            painter.fillRect(
                QRectF(left - 1, scale.wave.top(), 2, scale.wave.height()), QColor(theme.INK)
            )
        if seen.width() < 40:
            return
        painter.setFont(face(theme.SMALL, strong=True))
        text = painter.fontMetrics().elidedText(
            song.song, Qt.TextElideMode.ElideMiddle, int(seen.width()) - 16
        )
        seen.setWidth(painter.fontMetrics().horizontalAdvance(text) + 16)
        painter.fillRect(seen, QColor(theme.GROUND))
        painter.setPen(QPen(QColor(theme.INK)))
        painter.drawText(seen, Qt.AlignmentFlag.AlignCenter, text)

    def press(self, point: QPointF, scale: Scale) -> bool:
        """Take the nearest end when the press is on it."""
        if not self.parts or not scale.layers.contains(point):
            return False
        ends = [
            (abs(scale.x(time) - point.x()), k, end)
            for k, part in enumerate(self.parts)
            for end, time in (("start", part.start), ("end", part.end))
        ]
        away, index, end = min(ends)
        if away > CATCH:
            return False
        self._held, self._at = (index, end), getattr(self.parts[index], end)
        return True

    def drag(self, point: QPointF, scale: Scale) -> None:
        """The end follows the pointer; the join is found when it is let go."""
        self._at = max(0.0, scale.time(point.x()))
        self._refresh()

    def release(self, point: QPointF, scale: Scale) -> None:
        """Put the end there."""
        held, self._held = self._held, None
        if held is not None and abs(self._at - getattr(self.parts[held[0]], held[1])) > 1e-6:
            self._moved(*held, self._at)
