"""How a run is filmed, drawn: phone, laptop and light on one side, the athlete on the other."""

from __future__ import annotations

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from rehearse.routine.poses import load_catalogue
from rehearse.ui import theme
from rehearse.ui.figure.painter import paint_figure
from rehearse.ui.fonts import face
from rehearse.words import _

#: The picture is drawn on so many units across and down, and scaled.
_WIDE, _HIGH = 100.0, 56.0
_FLOOR, _LENS, _HEAD, _FAR = 50.0, 26.0, 6.0, 84.0
_POSE = "front double biceps"


class FilmingScene(QWidget):
    """Seen from the side; the numbers are those of the lines beside it."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName(
            _(
                "The phone stands still four metres before you and sees you from feet "
                "to raised hands; the laptop and the light are on the phone's side"
            )
        )
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(QSize(280, 150))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it as large as there is room."""
        scale = min(self.width() / _WIDE, self.height() / _HIGH)
        with QPainter(self) as painter:
            self._paint(painter, scale)

    def _paint(self, painter: QPainter, scale: float) -> None:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.translate((self.width() - scale * _WIDE) / 2, (self.height() - scale * _HIGH) / 2)
        painter.scale(scale, scale)
        _paint_view(painter)
        _paint_phone(painter)
        _paint_laptop(painter)
        _paint_light(painter)
        self._paint_athlete(painter, scale)
        painter.setPen(_pen(theme.LINE))
        painter.drawLine(QLineF(0, _FLOOR, _WIDE, _FLOOR))
        _paint_distance(painter, scale)
        for number, x, y in (("1", 58, 8), ("2", 21, 21), ("3", 12, 29), ("4", 26, 9)):
            _number(painter, QPointF(x, y), number, scale)

    def _paint_athlete(self, painter: QPainter, scale: float) -> None:
        pose = load_catalogue().find(_POSE)
        high = _FLOOR - _HEAD
        box = QRectF(_FAR - high / 2, _HEAD, high, high)
        painter.save()
        painter.resetTransform()
        painter.translate((self.width() - scale * _WIDE) / 2, (self.height() - scale * _HIGH) / 2)
        room = QRectF(scale * box.x(), scale * box.y(), scale * high, scale * high)
        ink, ground = QColor(theme.INK), QColor(theme.GROUND)
        figure = pose.seen(None, None)
        paint_figure(
            painter, room, figure, pose.look, ink=ink, accent=QColor(theme.DIM), ground=ground
        )
        painter.restore()


def _pen(colour: str, width: float = 0.5, *, dashed: bool = False) -> QPen:
    pen = QPen(QColor(colour), width)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    if dashed:
        pen.setDashPattern([2, 3])
    return pen


def _paint_view(painter: QPainter) -> None:
    """What the phone sees: from under the feet to above the hands."""
    painter.setPen(_pen(theme.NEXT, dashed=True))
    painter.drawLine(QLineF(29, _LENS, _FAR + 14, _HEAD - 4))
    painter.drawLine(QLineF(29, _LENS, _FAR - 9, _FLOOR - 0.5))


def _paint_phone(painter: QPainter) -> None:
    painter.setPen(_pen(theme.INK, 0.7))
    painter.drawRect(QRectF(26.5, _LENS - 4, 2, 8))  # from its edge
    painter.drawLine(QLineF(27.5, _LENS + 4, 27.5, _FLOOR - 9))
    for x in (23, 27.5, 32):
        painter.drawLine(QLineF(27.5, _FLOOR - 9, x, _FLOOR))


def _paint_laptop(painter: QPainter) -> None:
    painter.setPen(_pen(theme.DIM))
    painter.drawLine(QLineF(2, 40, 16, 40))  # the bench
    for x in (3, 15):
        painter.drawLine(QLineF(x, 40, x, _FLOOR))
    painter.setPen(_pen(theme.INK, 0.7))
    painter.drawLine(QLineF(5, 39.5, 13, 39.5))
    painter.drawLine(QLineF(5, 39.5, 3.5, 32))
    painter.setPen(_pen(theme.HELD))
    for reach in (4, 7, 10):  # what is heard
        arc = QRectF(13 - reach, 36 - reach, 2 * reach, 2 * reach)
        painter.drawArc(arc, -35 * 16, 70 * 16)


def _paint_light(painter: QPainter) -> None:
    painter.setPen(_pen(theme.INK, 0.7))
    painter.drawEllipse(QPointF(8, 8), 3, 3)
    painter.setPen(_pen(theme.NEXT))
    for down in (-1.5, 1.5, 4.5):  # towards the athlete
        painter.drawLine(QLineF(13, 8 + down * 0.5, 21, 8 + down * 1.4))


def _paint_distance(painter: QPainter, scale: float) -> None:
    y = _FLOOR + 2.6
    painter.setPen(_pen(theme.DIM))
    for start, end in ((28.0, 50.0), (62.0, _FAR)):
        painter.drawLine(QLineF(start, y, end, y))
    for x in (28.0, _FAR):
        painter.drawLine(QLineF(x, y - 1, x, y + 1))
    _written(painter, QRectF(48, y - 3, 16, 6), "4 m", theme.DIM, scale)


def _number(painter: QPainter, middle: QPointF, number: str, scale: float) -> None:
    painter.setPen(_pen(theme.NEXT))
    room = QRectF(0, 0, 6, 6)
    room.moveCenter(middle)
    painter.drawEllipse(room)
    _written(painter, room, number, theme.NEXT, scale)


def _written(painter: QPainter, room: QRectF, words: str, colour: str, scale: float) -> None:
    """Words at their own size, whatever the picture's."""
    painter.save()
    place = painter.transform().mapRect(room)
    painter.resetTransform()
    painter.setFont(face(min(round(theme.SMALL), round(0.9 * place.height()))))
    painter.setPen(QColor(colour))
    painter.drawText(place, Qt.AlignmentFlag.AlignCenter, words)
    painter.restore()
