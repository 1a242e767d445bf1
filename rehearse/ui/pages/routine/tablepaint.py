"""Paints the table of poses by itself: a style sheet takes four times as long for a screen of it.

A row is chosen as a whole; the field with the focus is underlined.
"""

from __future__ import annotations

from PySide6.QtCore import QRect, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QRegion
from PySide6.QtWidgets import QHeaderView, QTableView, QWidget

from rehearse.ui import theme
from rehearse.ui.figure.thumbs import width_of
from rehearse.ui.fonts import face
from rehearse.ui.pages.routine.rows import PICTURE, POSE, PoseRows

#: Height of a row, and room to the left and right of a text.
ROW, PAD = PICTURE + 8, 4
_CHOSEN, _INK, _DIM, _FOCUS = (QColor(c) for c in (theme.RAISED, theme.INK, theme.DIM, theme.NEXT))


def paint_rows(painter: QPainter, table: QTableView, rows: PoseRows, region: QRegion) -> None:
    """Paint the rows that `region` of the table's window touches."""
    painter.setFont(face(theme.SMALL))
    top, bottom = region.boundingRect().top(), region.boundingRect().bottom()
    first, last = table.rowAt(top), table.rowAt(bottom)
    last = rows.rowCount() - 1 if last < 0 else last
    chosen = {index.row() for index in table.selectionModel().selectedRows()}
    columns = [
        (k, table.columnViewportPosition(k), table.columnWidth(k))
        for k in range(rows.columnCount())
    ]
    for row in range(max(0, first), last + 1):
        y = table.rowViewportPosition(row)
        if row in chosen:
            painter.fillRect(0, y, table.viewport().width(), ROW, _CHOSEN)
        for column, x, width in columns:
            _paint_field(painter, rows, row, column, QRect(x, y, width, ROW))
    focus = table.currentIndex()
    if focus.isValid() and table.hasFocus():
        box = table.visualRect(focus)
        painter.fillRect(box.left(), box.bottom() - 1, box.width(), 2, _FOCUS)


def _paint_field(painter: QPainter, rows: PoseRows, row: int, column: int, box: QRect) -> None:
    room = box.adjusted(PAD, 0, -PAD, 0)
    if column == POSE:
        ratio = painter.device().devicePixelRatioF()
        painter.drawPixmap(room.left(), box.top() + 4, rows.picture(row, ratio))
        room.setLeft(room.left() + width_of(PICTURE) + PAD)
    words = rows.text(row, column)
    metrics = painter.fontMetrics()
    if metrics.horizontalAdvance(words) > room.width():
        words = metrics.elidedText(words, Qt.TextElideMode.ElideRight, room.width())
    painter.setPen(_INK)
    painter.drawText(room, Qt.AlignmentFlag.AlignVCenter, words)


class Numbers(QHeaderView):
    """Numbers of the rows, of a set size: measuring two hundred of them takes too long."""

    WIDTH = 56

    def __init__(self, parent: QWidget) -> None:
        super().__init__(Qt.Orientation.Vertical, parent)
        self.setDefaultSectionSize(ROW)
        self.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.setFixedWidth(self.WIDTH)

    def sizeHint(self) -> QSize:
        """Always the same."""
        return QSize(self.WIDTH, ROW)

    def paintSection(self, painter: QPainter, rect: QRect, index: int) -> None:
        """The number, and a triangle where something is amiss."""
        words = self.model().headerData(index, self.orientation(), Qt.ItemDataRole.DisplayRole)
        painter.setFont(face(theme.SMALL))
        painter.setPen(_DIM)
        painter.drawText(rect.adjusted(8, 0, 0, 0), Qt.AlignmentFlag.AlignVCenter, words)
