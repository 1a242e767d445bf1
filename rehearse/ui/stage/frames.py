"""The stage display as frames of a video, painted without a window."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence

import numpy as np
from PySide6.QtCore import QRectF, QSize
from PySide6.QtGui import QGuiApplication, QImage, QPainter, QRegion

from rehearse.handout.cue_video import VideoScene
from rehearse.handout.mp4_writer import Rect
from rehearse.music.silhouette import silhouette
from rehearse.session.session_view import SessionView
from rehearse.ui.stage.changes import PaintState, changed
from rehearse.ui.stage.layout import lay_out
from rehearse.ui.stage.paint import Stage
from rehearse.ui.stage.showing import options_for
from rehearse.ui.stage.stage_options import StageOptions, ViewingDistance
from rehearse.ui.stage.upright import lay_out_upright

#: An upright phone of 65 mm width, on the floor or against a dumbbell; a screen across is seen
#: as a laptop is.
_UPRIGHT = ViewingDistance(1.2, 65.0 / 1080)


class StageFrames:
    """Paints view after view of one scene; only what changed is painted and told.

    Attributes:
        pixels: uint8, shape (height, width, 4): blue, green, red, unused.
    """

    def __init__(self, scene: VideoScene) -> None:
        self._application = offscreen_application()
        sheet, upright = scene.sheet, scene.height > scene.width
        self._base = StageOptions(
            viewing=_UPRIGHT if upright else ViewingDistance(),
            loudness=silhouette(scene.track, sheet.start, sheet.end),
            folder=scene.folder,
            reduced_flash=scene.steady,
        )
        size = QSize(scene.width, scene.height)
        divide = lay_out_upright if upright else lay_out
        self._stage = Stage(sheet, self._base, size, divide=divide)
        self._image = QImage(size, QImage.Format.Format_RGB32)
        shape = scene.height, scene.width, 4
        self.pixels = np.frombuffer(self._image.bits(), np.uint8).reshape(shape)
        self._seen: PaintState | None = None

    def paint(self, view: SessionView) -> Sequence[Rect]:
        """Bring `pixels` to `view`; returns the rectangles that were painted."""
        assert view.cue_state is not None
        stage, size = self._stage, self._image.size()
        stage.set_options(options_for(view, self._base))
        look = stage.look(view.cue_state)
        boxes = changed(self._seen, look, stage.layout, size.width(), size.height())
        self._seen = look
        if boxes is None:
            rects = [(0, 0, size.width(), size.height())]
        else:
            corners = ((b.x, b.y, b.right, b.bottom) for b in boxes)
            rects = [
                (math.floor(x), math.floor(y), math.ceil(right), math.ceil(bottom))
                for x, y, right, bottom in corners
            ]
        if rects:
            with QPainter(self._image) as painter:
                painter.setClipRegion(_region(rects))
                stage.paint(painter, view.cue_state, look)
        return rects


def _region(rects: Sequence[Rect]) -> QRegion:
    region = QRegion()
    for left, top, right, bottom in rects:
        region += QRectF(left, top, right - left, bottom - top).toAlignedRect()
    return region


def offscreen_application() -> QGuiApplication:
    """The application there is, else one without a screen: a worker process has none."""
    there = QGuiApplication.instance()
    if isinstance(there, QGuiApplication):
        return there
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    return QGuiApplication(["rehearse"])
