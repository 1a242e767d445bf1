"""The logbook as a picture to keep or to send to the coach."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.files.atomic import save_atomic
from rehearse.files.fault import Fault
from rehearse.ui import theme
from rehearse.ui.fonts import face
from rehearse.ui.pages.logbook.data import Overview, show_words
from rehearse.ui.pages.logbook.ribbon import paint_ribbon
from rehearse.ui.pages.logbook.standings import HEADINGS, cells
from rehearse.ui.pages.logbook.weeks import paint_weeks

WIDTH, HEIGHT = 1920, 1080
_EDGE = 6 * theme.STEP
_ROW = 28
_COLUMNS = (0.0, 0.40, 0.50, 0.64, 0.78, 0.90)


def picture_of(overview: Overview) -> QImage:
    """Title, ribbon, sections and calendar on one picture of 1920 × 1080 pixels."""
    image = QImage(WIDTH, HEIGHT, QImage.Format.Format_RGB32)
    image.fill(QColor(theme.GROUND))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
    wide = WIDTH - 2 * _EDGE
    painter.setFont(face(theme.TITLE, strong=True))
    painter.setPen(QColor(theme.INK))
    painter.drawText(QRectF(_EDGE, _EDGE, wide, 56), Qt.AlignmentFlag.AlignLeft, overview.title)
    painter.setFont(face(theme.SMALL))
    painter.setPen(QColor(theme.DIM))
    words = f"{overview.today:%d %B %Y}  ·  {show_words(overview.show)}"
    painter.drawText(QRectF(_EDGE, _EDGE + 56, wide, 28), Qt.AlignmentFlag.AlignLeft, words)
    paint_ribbon(painter, QRectF(_EDGE, 160, wide, 330), overview)
    half = wide / 2 - 3 * theme.STEP
    _table(painter, QRectF(_EDGE, 540, half, HEIGHT - 540 - _EDGE), overview)
    paint_weeks(painter, QRectF(WIDTH - _EDGE - half, 540, half, 240), overview)
    painter.end()
    return image


def _table(painter: QPainter, area: QRectF, overview: Overview) -> None:
    rows = [cells(s, overview.today) for s in (overview.summary.whole, *overview.summary.sections)]
    room = int(area.height() / _ROW) - 1
    for k, row in enumerate([HEADINGS, *rows[:room]]):
        painter.setPen(QColor(theme.DIM if k == 0 else theme.INK))
        for share, words in zip(_COLUMNS, row, strict=True):
            at = QRectF(area.left() + share * area.width(), area.top() + k * _ROW, 400, _ROW)
            painter.drawText(at, Qt.AlignmentFlag.AlignVCenter, words)


def save_picture(overview: Overview, path: Path) -> None:
    """Write the picture as PNG.

    Raises:
        Fault: it cannot be written there.
    """
    data = QByteArray()
    buffer = QBuffer(data)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    if not picture_of(overview).save(buffer, "PNG"):
        raise Fault("the picture cannot be made", where=path, do="choose another name")
    save_atomic(path, bytes(data.data()))
