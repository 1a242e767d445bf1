"""The whole routine along the foot: loudness, poses, sections with today's passes, where we are.

Nothing in it is a word: it is too thin for letters that can be read from afar.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPolygonF

from rehearse.cueing.cue_state import Cue, CueState
from rehearse.cueing.cues import CueSheet
from rehearse.ui.colours import DIM, HELD, INK, LINE, NEXT, fill
from rehearse.ui.stage.layout import Box
from rehearse.ui.stage.stage_options import StageOptions

if TYPE_CHECKING:
    import numpy as np

#: Rows of the ribbon from its top, as parts of its height: passes, silhouette, poses.
_TALLY, _SHAPE, _POSES = (0.0, 0.22), (0.28, 0.72), (0.82, 1.0)
_MOST_STROKES = 10


class Ribbon:
    """The ribbon of one cue sheet in one place."""

    def __init__(self, box: Box, sheet: CueSheet) -> None:
        self.box, self._sheet = box, sheet

    def x(self, time: float) -> float:
        """Pixel of a time of the track, kept inside the ribbon."""
        sheet = self._sheet
        part = (time - sheet.start) / max(sheet.end - sheet.start, 1e-9)
        return self.box.x + self.box.width * min(1.0, max(0.0, part))

    def time(self, x: float) -> float:
        """Seconds of the track at pixel `x`, kept inside the part used on stage."""
        part = min(1.0, max(0.0, (x - self.box.x) / self.box.width))
        return self._sheet.start + part * (self._sheet.end - self._sheet.start)

    def draw_ground(self, painter: QPainter, options: StageOptions) -> None:
        """What does not change while the music plays."""
        if options.loudness is not None and len(options.loudness) > 1:
            self._silhouette(painter, options.loudness)
        for section in self._sheet.sections:
            left, right = self.x(section.start), self.x(section.end)
            fill(painter, self._rect(left, left + 2, (_TALLY[0], _SHAPE[1])), LINE)
            self._tally(painter, left, right, options.drilled.get(section.section.id, 0))
        for cue in self._sheet.cues:
            self._pose(painter, cue, DIM)

    def draw_now(self, painter: QPainter, cue_state: CueState) -> None:
        """The next and the held pose, and where the music is."""
        if cue_state.held:
            self._pose(painter, cue_state.held, HELD)
        if cue_state.next:
            self._pose(painter, cue_state.next, NEXT)
        x, top = self.x(cue_state.time), self.box.y + self.box.height * _SHAPE[0]
        half = self.box.height * 0.09
        fill(painter, QRectF(x - 1.5, top, 3, self.box.bottom - top), INK)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(INK)
        corners = (QPointF(x - half, top), QPointF(x + half, top), QPointF(x, top + 1.4 * half))
        painter.drawPolygon(QPolygonF(list(corners)))

    def _pose(self, painter: QPainter, cue: Cue, colour: QColor) -> None:
        hit = self.x(cue.hit)
        held = self._rect(hit, max(self.x(cue.end), hit + 3), _POSES)
        fill(painter, held, colour)
        way = self._rect(self.x(cue.start), hit, _POSES)
        middle = QRectF(way.x(), way.center().y() - 1, way.width(), 2)
        fill(painter, middle, colour)

    def _silhouette(self, painter: QPainter, loudness: np.ndarray) -> None:
        import numpy as np  # not needed before the song is decoded

        foot = self.box.y + self.box.height * _SHAPE[1]
        height = self.box.height * (_SHAPE[1] - _SHAPE[0])
        xs = np.linspace(self.box.x, self.box.right, len(loudness))
        ys = foot - np.clip(loudness, 0.02, 1.0) * height
        outline = [QPointF(x, y) for x, y in zip(xs.tolist(), ys.tolist(), strict=True)]
        outline += [QPointF(self.box.right, foot), QPointF(self.box.x, foot)]
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(LINE)
        painter.drawPolygon(QPolygonF(outline))

    def _tally(self, painter: QPainter, left: float, right: float, passes: int) -> None:
        """Counted as on a slate: one stroke a pass, set in fives, as many as have room."""
        row = self._rect(left, right, _TALLY)
        step = row.height() * 0.5
        for k in range(min(passes, _MOST_STROKES)):
            x = left + step * (1.2 + k + 0.6 * (k // 5))
            if x + step > right:
                return
            fill(painter, QRectF(x, row.y(), max(2.0, step * 0.45), row.height()), INK)

    def _rect(self, left: float, right: float, rows: tuple[float, float]) -> QRectF:
        top = self.box.y + self.box.height * rows[0]
        return QRectF(left, top, max(right - left, 1.0), self.box.height * (rows[1] - rows[0]))
