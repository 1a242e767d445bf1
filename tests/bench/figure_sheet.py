"""Paints every pose of the catalogue on one sheet a figure, to be looked at.

Run: python -m tests.bench.figure_sheet FOLDER [--height 300] [--only WORDS]

It writes man.png, woman.png and more, one for each body, dress and skin; `--height 110` shows them
as the picker does. `--only` takes the poses that the words find.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.app import make_application
from rehearse.routine.anatomy import WINDOW
from rehearse.routine.look import Look
from rehearse.routine.pose import Pose
from rehearse.routine.poses import load_catalogue
from rehearse.ui import theme
from rehearse.ui.figure.painter import paint_figure
from rehearse.ui.fonts import face

WIDTH = 2080
LOOKS = {
    "man": Look(),
    "man-shorts-dark": Look("man", "board shorts", "dark"),
    "woman": Look("woman", "two-piece"),
    "woman-heels-dark": Look("woman", "two-piece", "dark", heels=True),
    "woman-one-piece": Look("woman", "one-piece", heels=True),
}


def main() -> None:
    """Write the sheets."""
    parser = argparse.ArgumentParser()
    parser.add_argument("folder", type=Path)
    parser.add_argument("--height", type=int, default=276)
    parser.add_argument("--only", default="")
    asked = parser.parse_args()
    app = make_application(["figures"])
    poses = load_catalogue().search(asked.only)
    asked.folder.mkdir(parents=True, exist_ok=True)
    for name, look in LOOKS.items():
        _sheet(poses, look, asked.height).save(str(asked.folder / f"{name}.png"))
    app.quit()


def _sheet(poses: tuple[Pose, ...], look: Look, height: int) -> QImage:
    width, words = round(height * WINDOW[0] / WINDOW[1]) + theme.STEP, 3 * theme.STEP
    across = max(1, WIDTH // width)
    rows = -(-len(poses) // across)
    sheet = QImage(across * width, rows * (height + words), QImage.Format.Format_RGB32)
    ground, ink, accent = QColor(theme.GROUND), QColor(theme.INK), QColor(theme.NEXT)
    sheet.fill(ground)
    painter = QPainter(sheet)
    painter.setFont(face(theme.SMALL if height > 200 else 12))
    for number, pose in enumerate(poses):
        x, y = number % across * width, number // across * (height + words)
        place = QRectF(x, y, width, height)
        paint_figure(painter, place, pose.figure, look, ink=ink, accent=accent, ground=ground)
        painter.setPen(QColor(theme.DIM))
        under = QRectF(x, y + height, width, words)
        painter.drawText(under, Qt.AlignmentFlag.AlignCenter, pose.name)
    painter.end()
    return sheet


if __name__ == "__main__":
    main()
