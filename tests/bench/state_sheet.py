"""Every state of the stage display on one picture a figure, to be looked at.

Run: python -m tests.bench.state_sheet FOLDER [--size 1366x768] [--across 4]. Writes
`states man.png` and `states woman.png`: what `angles` measures, as it is painted at that size.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.cueing.cue_state import CueState
from rehearse.cueing.cues import CueSheet
from rehearse.ui import theme
from rehearse.ui.fonts import face
from rehearse.ui.stage.paint import Stage
from rehearse.ui.stage.stage_options import StageOptions, ViewingDistance
from tests.bench.angles import routine_sheet, states

FIGURES = ("man", "woman")
#: Width of one picture, height of the words under it, and the room around, in pixels.
WIDE, WORDS, GAP = 560, 34, 14
#: Millimetres of the width of a usual 14-inch screen, seen from 4 m.
MILLIMETRES, DISTANCE = 309.4, 4.0


def painted(sheet: CueSheet, cue_state: CueState, size: QSize, **options: object) -> QImage:
    """One state as it is on the screen."""
    viewing = ViewingDistance(DISTANCE, MILLIMETRES / size.width())
    loudness = np.abs(np.sin(np.linspace(0, 40, 480))).astype(np.float32)
    shown = StageOptions(viewing=viewing, loudness=loudness, tempo=1.0, passes="3/5", **options)  # type: ignore[arg-type]
    picture = QImage(size, QImage.Format.Format_RGB32)
    painter = QPainter(picture)
    Stage(sheet, shown, size).paint(painter, cue_state)
    painter.end()
    return picture


def contact_sheet(figure: str, size: QSize, across: int) -> QImage:
    """All states side by side, each over its name."""
    sheet = routine_sheet(figure)
    shown = states(sheet)
    high = round(WIDE * size.height() / size.width())
    down = -(-len(shown) // across)
    whole = QImage(
        across * (WIDE + GAP) + GAP, down * (high + WORDS + GAP) + GAP, QImage.Format.Format_RGB32
    )
    whole.fill(QColor("#444444"))
    painter = QPainter(whole)
    painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
    painter.setFont(face(24))
    painter.setPen(QColor(theme.INK))
    for number, (name, (cue_state, options)) in enumerate(shown.items()):
        row, column = divmod(number, across)
        x, y = GAP + column * (WIDE + GAP), GAP + row * (high + WORDS + GAP)
        small = painted(sheet, cue_state, size, **options).scaledToWidth(
            WIDE, Qt.TransformationMode.SmoothTransformation
        )
        painter.drawImage(QPointF(x, y), small)
        painter.drawText(QRectF(x, y + high, WIDE, WORDS), Qt.AlignmentFlag.AlignVCenter, name)
    painter.end()
    return whole


def main() -> int:
    """Write a picture a figure; 1 when one of them cannot be written."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--size", default="1366x768")
    parser.add_argument("--across", type=int, default=4)
    options = parser.parse_args()
    from rehearse.app import make_application

    application = make_application(["bench"])
    options.folder.mkdir(parents=True, exist_ok=True)
    width, height = (int(part) for part in options.size.split("x"))
    written = True
    for figure in FIGURES:
        path = options.folder / f"states {figure}.png"
        written &= contact_sheet(figure, QSize(width, height), options.across).save(str(path))
        print(path)
    del application
    return int(not written)


if __name__ == "__main__":
    sys.exit(main())
