"""Pictures of the stage display without a window, as a dry run leaves them."""

from __future__ import annotations

import os
from functools import cached_property
from pathlib import Path

from PySide6.QtCore import QSize
from PySide6.QtGui import QGuiApplication, QImage, QPainter

from rehearse.files.fault import Fault
from rehearse.session.score import Score
from rehearse.session.view import View
from rehearse.ui.stage.loudness import silhouette
from rehearse.ui.stage.options import StageOptions
from rehearse.ui.stage.paint import Stage
from rehearse.ui.stage.showing import options_for

_WIDTH, _HEIGHT = 1920, 1080


class StagePictures:
    """Paints views of one score into PNG files of 1920 × 1080.

    Without a display Qt's own off-screen platform serves; nothing is shown either way.
    """

    def __init__(self, score: Score) -> None:
        self._score = score
        if QGuiApplication.instance() is None:
            os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
            self._application = QGuiApplication(["rehearse"])

    @cached_property
    def _base(self) -> StageOptions:
        sheet = self._score.sheet
        return StageOptions(loudness=silhouette(self._score.track, sheet.start, sheet.end))

    @cached_property
    def _stage(self) -> Stage:
        return Stage(self._score.sheet, self._base, QSize(_WIDTH, _HEIGHT))

    def save(self, view: View, path: Path) -> None:
        """Write the stage display as `view` has it.

        Raises:
            Fault: the file cannot be written.
        """
        picture = QImage(_WIDTH, _HEIGHT, QImage.Format.Format_RGB32)
        picture.fill(0)
        if view.moment is not None:
            self._stage.set_options(options_for(view, self._base))
            painter = QPainter(picture)
            self._stage.paint(painter, view.moment)
            painter.end()
        if not picture.save(str(path)):
            raise Fault("the picture could not be written", where=path, do="free some space")
