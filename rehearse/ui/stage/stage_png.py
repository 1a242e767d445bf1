"""The stage display as PNG files, for a rehearsal without a window."""

from __future__ import annotations

import os
from pathlib import Path

from PySide6.QtCore import QRectF, QSize
from PySide6.QtGui import QGuiApplication, QImage, QPainter

from rehearse.cueing.cues import CueSheet
from rehearse.files.user_error import UserError
from rehearse.music.silhouette import silhouette
from rehearse.session.rehearsal_context import RehearsalContext
from rehearse.session.session_view import SessionView
from rehearse.ui.stage.paint import Stage
from rehearse.ui.stage.showing import options_for
from rehearse.ui.stage.stage_options import StageOptions
from rehearse.words import _

SIZE = QSize(1920, 1080)


class StagePictures:
    """Paints views at 1920×1080; photos of own poses are found in `folder`.

    Args:
        context: what they are views of; of a round, which may be silent, its cue sheet.
    """

    def __init__(self, context: RehearsalContext | CueSheet, folder: Path | None = None) -> None:
        self._application = _application()
        if isinstance(context, CueSheet):
            sheet, loudness = context, None
        else:
            sheet = context.sheet
            loudness = silhouette(context.track, sheet.start, sheet.end)
        self._base = StageOptions(loudness=loudness, folder=folder)
        self._stage = Stage(sheet, self._base, SIZE)

    def save(self, view: SessionView, path: Path) -> None:
        """Write one PNG of the stage display as `view` has it.

        Raises:
            UserError: the file cannot be written.
        """
        assert view.cue_state is not None
        self._stage.set_options(options_for(view, self._base))
        image = QImage(SIZE, QImage.Format.Format_RGB32)
        with QPainter(image) as painter:
            painter.setClipRect(QRectF(image.rect()))
            self._stage.paint(painter, view.cue_state)
        if not image.save(str(path)):
            raise UserError(
                _("the picture could not be written"), where=path, do=_("free some space")
            )


def _application() -> QGuiApplication:
    there = QGuiApplication.instance()
    if isinstance(there, QGuiApplication):
        return there
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    return QGuiApplication(["rehearse"])
