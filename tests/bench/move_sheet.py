"""Paints every move of the catalogue in six phases on one sheet, to be looked at.

Run: python tests/bench/move_sheet.py SHEET.png [POSE]
"""

from __future__ import annotations

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import sys

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.app import make_application
from rehearse.routine.anatomy import WINDOW
from rehearse.routine.model import Place, Side
from rehearse.routine.motion import body_at
from rehearse.routine.moves import load_moves
from rehearse.routine.poses import load_catalogue
from rehearse.routine.way import Done, Way
from rehearse.ui import theme
from rehearse.ui.figure.painter import paint_figure
from rehearse.ui.fonts import face

PHASES, WIDTH, HEIGHT, LABEL, COLUMNS = 6, 116, 128, 110, 2


def main() -> None:
    """Write the sheet."""
    app = make_application(["moves"])
    catalogue = load_catalogue()
    pose = catalogue.find(sys.argv[2] if len(sys.argv) > 2 else "front stance").figure
    jobs = [(kind, d) for kind in load_moves().moves for d in [n for n, _ in kind.keys]]
    rows = -(-len(jobs) // COLUMNS)
    wide = LABEL + PHASES * WIDTH
    sheet = QImage(COLUMNS * wide, rows * HEIGHT, QImage.Format.Format_RGB32)
    sheet.fill(QColor(theme.GROUND))
    painter = QPainter(sheet)
    painter.setFont(face(theme.SMALL))
    ink, accent = QColor(theme.INK), QColor(theme.NEXT)
    for number, (kind, direction) in enumerate(jobs):
        left, top = number // rows * wide, number % rows * HEIGHT
        painter.setPen(QColor(theme.DIM))
        words = QRectF(left, top, LABEL, HEIGHT)
        wrap = int(Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextWordWrap)
        painter.drawText(words, wrap, f"{kind.name} {direction}")
        walks = any(key.go for key in kind.figures(direction))
        side = Side.LEFT if kind.sided else None
        off = kind.name == "walk off"
        way = Way(
            None if walks and not off else pose,
            None if off else pose,
            0.0,
            kind.counts / 2 + 4.0,
            (Done(kind, 0.0, kind.counts / 2, side, direction),),
            goal=Place.CENTRE,
        )
        for phase in range(PHASES):
            moved = body_at(way, kind.counts / 2 * (phase + 1) / PHASES)
            scale = min(WIDTH / WINDOW[0], HEIGHT / WINDOW[1])
            aside = max(-0.25, min(0.25, moved.x)) * scale
            place = QRectF(left + LABEL + phase * WIDTH + aside, top, WIDTH, HEIGHT)
            paint_figure(painter, place, moved.figure, ink=ink, accent=accent)
    painter.end()
    sheet.save(sys.argv[1])
    app.quit()


if __name__ == "__main__":
    main()
