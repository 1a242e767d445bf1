"""Paints the table of poses by itself: a style sheet takes four times as long for a screen of it.

A row is chosen as a whole; the field with the focus is underlined.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from functools import lru_cache

from PySide6.QtCore import QModelIndex, QPointF, QRect, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QImage, QPainter, QPen, QRegion, QStaticText
from PySide6.QtWidgets import (
    QHeaderView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from rehearse.ui import theme
from rehearse.ui.figure.pose_thumbs import width_of
from rehearse.ui.fonts import face
from rehearse.ui.pages.routine.pose_rows import HIT, MOVES, NOTE, PICTURE, POSE, PoseRows
from rehearse.ui.widgets import Index

#: Height of a row, and room to the left and right of a text.
ROW, PAD = PICTURE + 4, 4
_CHOSEN, _INK, _DIM, _FOCUS, _FAULT = (
    QColor(c) for c in (theme.RAISED, theme.INK, theme.DIM, theme.NEXT, theme.FAULT)
)

#: Rows as they were painted, and how many are kept: twice what a tall window shows.
_images: OrderedDict[tuple[object, ...], QImage] = OrderedDict()
_KEPT = 96


def paint_rows(
    painter: QPainter, table: QTableView, rows: PoseRows, region: QRegion, edited: QModelIndex
) -> None:
    """Paint the rows that `region` of the table's window touches; not the text being `edited`."""
    painter.setFont(face(theme.SMALL))
    top, bottom = region.boundingRect().top(), region.boundingRect().bottom()
    first, last = table.rowAt(top), table.rowAt(bottom)
    last = rows.rowCount() - 1 if last < 0 else last
    chosen = {index.row() for index in table.selectionModel().selectedRows()}
    columns = [
        (k, table.columnViewportPosition(k), table.columnWidth(k))
        for k in range(rows.columnCount())
        if is_whole(table, k)
    ]
    ground = QSize(table.viewport().width(), theme.px(ROW))
    for row in range(max(0, first), last + 1):
        y = table.rowViewportPosition(row)
        if edited.isValid() and edited.row() == row:
            painter.save()
            painter.translate(0, y)
            _paint_ground(painter, ground, chosen=row in chosen)
            _paint_fields(painter, rows, row, columns, edited.column())
            painter.restore()
            continue
        painter.drawImage(0, y, _row_image(painter, table, rows, row, columns, row in chosen))
        for column, x, width in columns:
            if column == HIT:  # all that changes where later poses are moved along
                _paint_field(painter, rows, row, HIT, QRect(x, y, width, theme.px(ROW)))
    focus = table.currentIndex()
    if focus.isValid() and table.hasFocus():
        box = table.visualRect(focus)
        painter.fillRect(box.left(), box.bottom() - 1, box.width(), 2, _FOCUS)


def _row_image(
    painter: QPainter,
    table: QTableView,
    rows: PoseRows,
    row: int,
    columns: list[tuple[int, int, int]],
    chosen: bool,
) -> QImage:
    """A row without its hit, painted once for as long as it says the same."""
    ratio = painter.device().devicePixelRatioF()
    size = QSize(table.viewport().width(), theme.px(ROW))
    letters = painter.font().pixelSize()
    key = (rows.looks(row, ratio), chosen, tuple(columns), size.toTuple(), ratio, letters)
    image = _images.get(key)
    if image is None:
        image = QImage(size * ratio, QImage.Format.Format_ARGB32_Premultiplied)
        image.setDevicePixelRatio(ratio)
        image.fill(Qt.GlobalColor.transparent)
        with QPainter(image) as within:
            within.setFont(painter.font())
            _paint_ground(within, size, chosen=chosen)
            _paint_fields(within, rows, row, columns, HIT)
    _images[key] = image
    _images.move_to_end(key)
    if len(_images) > _KEPT:
        _images.popitem(last=False)
    return image


def _paint_ground(painter: QPainter, size: QSize, *, chosen: bool) -> None:
    if chosen:
        painter.fillRect(0, 0, size.width(), size.height(), _CHOSEN)
        # As in every list: the ground alone is too faint to tell it by.
        painter.fillRect(0, 0, theme.px(3), size.height(), _FOCUS)


def _paint_fields(
    painter: QPainter,
    rows: PoseRows,
    row: int,
    columns: list[tuple[int, int, int]],
    without: int,
) -> None:
    """The fields of a row at the top of what is painted on, but not the text of one of them."""
    for column, x, width in columns:
        field = QRect(x, 0, width, theme.px(ROW))
        _paint_field(painter, rows, row, column, field, blank=column == without)


def paint_nothing(painter: QPainter, box: QRect, keys: Sequence[tuple[str, str]]) -> None:
    """While there are no rows: keys, and what each begins."""
    painter.setFont(face(theme.SMALL))
    left, top = theme.px(10 * theme.STEP), box.top() + theme.STEP
    wraps = int(Qt.AlignmentFlag.AlignLeft) | int(Qt.TextFlag.TextWordWrap)
    for key, words in keys:
        room = QRect(left, top, box.width() - left - theme.STEP, box.height())
        room.setHeight(painter.boundingRect(room, wraps, words).height())
        painter.setPen(_FOCUS)
        beside = QRect(0, top, left - 2 * theme.STEP, room.height())
        painter.drawText(beside, Qt.AlignmentFlag.AlignRight, key)
        painter.setPen(_INK)
        painter.drawText(room, wraps, words)
        top += room.height() + theme.STEP


def is_whole(table: QTableView, column: int) -> bool:
    """Whether a column shows as a whole, or may be cut; words are never cut at the edge."""
    right = table.columnViewportPosition(column) + table.columnWidth(column)
    return column == NOTE or right <= table.viewport().width()


def _paint_field(
    painter: QPainter, rows: PoseRows, row: int, column: int, box: QRect, *, blank: bool = False
) -> None:
    room = box.adjusted(PAD, 0, -PAD, 0)
    if column == POSE:
        ratio = painter.device().devicePixelRatioF()
        painter.drawPixmap(room.left(), box.top() + 4, rows.picture(row, ratio))
        room.setLeft(room.left() + width_of(theme.px(PICTURE)) + PAD)
    if blank:
        return
    if column == POSE and rows.remarked(row):  # beside the name, or where that has no room
        named = painter.fontMetrics().horizontalAdvance(rows.short(row, column))
        x = min(room.left() + named + 4 * PAD, box.right() - 3 * PAD)
        paint_diamond(painter, QPointF(x, box.center().y() + 1))
        room.setRight(x - 2 * PAD)
    if column == HIT and rows.pinned(row):
        paint_pin(painter, QPointF(box.right() - 2 * PAD, box.center().y()))
        room.setRight(room.right() - 3 * PAD)
    words = rows.short(row, column)
    if column == MOVES and words:
        metrics = painter.fontMetrics()
        pictures = rows.move_pictures(row, painter.device().devicePixelRatioF())
        wide = sum(picture.deviceIndependentSize().width() for picture in pictures)
        if metrics.horizontalAdvance(words) + wide + PAD <= room.width():
            for picture in pictures:
                painter.drawPixmap(room.left(), box.top() + 6, picture)
                room.setLeft(room.left() + round(picture.deviceIndependentSize().width()))
            room.setLeft(room.left() + PAD if pictures else room.left())
    if not words:
        return
    text = _set(words, room.width(), round(theme.SMALL))
    high = text.size().height()
    painter.setPen(_INK)
    painter.drawStaticText(QPointF(room.left(), room.center().y() + 1 - high / 2), text)


@lru_cache(maxsize=4000)
def _set(words: str, width: int, pixels: int) -> QStaticText:
    """Words in what room they have, set once: a screen of the table holds two hundred of them."""
    font = face(pixels)
    text = QStaticText(QFontMetricsF(font).elidedText(words, Qt.TextElideMode.ElideRight, width))
    text.setTextFormat(Qt.TextFormat.PlainText)
    text.prepare(font=font)
    return text


def paint_pin(painter: QPainter, head: QPointF) -> None:
    """A pin: its head here, its point beneath."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(_DIM, 2))
    painter.drawLine(head, head + QPointF(0, 8))
    painter.setBrush(_DIM)
    painter.drawEllipse(head, 3, 3)
    painter.restore()


def paint_diamond(painter: QPainter, middle: QPointF) -> None:
    """An open remark, by the sign that it has in the list of remarks."""
    half = theme.px(5)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(_FOCUS)
    across, down = QPointF(half, 0), QPointF(0, half)
    painter.drawPolygon([middle - down, middle + across, middle + down, middle - across])
    painter.restore()


class Written(QStyledItemDelegate):
    """Fields as they are written: the editor takes the field's whole room, beside the figure."""

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        """An editor as low as a row."""
        editor = super().createEditor(parent, option, index)
        editor.setStyleSheet("padding: 0px 4px; min-height: 0px;")
        return editor

    def updateEditorGeometry(
        self, editor: QWidget, option: QStyleOptionViewItem, index: Index
    ) -> None:
        """Lay the editor over the text."""
        picture = width_of(PICTURE) + 2 * PAD if index.column() == POSE else 0
        editor.setGeometry(option.rect.adjusted(picture, 0, 0, 0))


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
        return QSize(theme.px(self.WIDTH), theme.px(ROW))

    def paintSection(self, painter: QPainter, rect: QRect, index: int) -> None:
        """The number, and a triangle where something is amiss."""
        words = self.model().headerData(index, self.orientation(), Qt.ItemDataRole.DisplayRole)
        number, _, sign = words.partition(" ")
        painter.setFont(face(theme.SMALL))
        room = rect.adjusted(8, 0, -8, 0)
        painter.setPen(_DIM)
        painter.drawText(room, Qt.AlignmentFlag.AlignVCenter, number)
        painter.setPen(_FAULT)
        painter.drawText(room, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight, sign)


class Fields(QHeaderView):
    """Names of the fields; like the fields they are shown whole or not at all."""

    def __init__(self, table: QTableView) -> None:
        super().__init__(Qt.Orientation.Horizontal, table)
        self._table = table

    def paintSection(self, painter: QPainter, rect: QRect, index: int) -> None:
        """The name over the texts of its column."""
        if is_whole(self._table, index):
            words = self.model().headerData(index, self.orientation(), Qt.ItemDataRole.DisplayRole)
            painter.setFont(face(theme.SMALL))
            painter.setPen(_DIM)
            painter.drawText(rect.adjusted(PAD, 0, 0, 0), Qt.AlignmentFlag.AlignVCenter, words)
