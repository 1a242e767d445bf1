"""Paints every pose of the catalogue on one sheet, to be looked at.

Run: python tests/bench/figure_sheet.py SHEET.png
"""

from __future__ import annotations

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import sys

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.app import make_application
from rehearse.routine.poses import load_catalogue
from rehearse.ui import theme
from rehearse.ui.figure.painter import paint_figure
from rehearse.ui.fonts import face

ACROSS, WIDTH, HEIGHT = 8, 260, 300


def main() -> None:
    """Write the sheet."""
    app = make_application(["figures"])
    poses = load_catalogue().poses
    rows = -(-len(poses) // ACROSS)
    sheet = QImage(ACROSS * WIDTH, rows * HEIGHT, QImage.Format.Format_RGB32)
    sheet.fill(QColor(theme.GROUND))
    painter = QPainter(sheet)
    painter.setFont(face(theme.SMALL))
    ground, ink, accent = QColor(theme.GROUND), QColor(theme.INK), QColor(theme.NEXT)
    for number, pose in enumerate(poses):
        x, y = number % ACROSS * WIDTH, number // ACROSS * HEIGHT
        place = QRectF(x, y, WIDTH, HEIGHT - 3 * theme.STEP)
        paint_figure(painter, place, pose.figure, ink=ink, accent=accent, ground=ground)
        painter.setPen(QColor(theme.DIM))
        words = QRectF(x, place.bottom(), WIDTH, 3 * theme.STEP)
        painter.drawText(words, Qt.AlignmentFlag.AlignCenter, pose.name)
    painter.end()
    sheet.save(sys.argv[1])
    app.quit()


if __name__ == "__main__":
    main()
