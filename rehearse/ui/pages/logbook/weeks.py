"""The calendar: a column a week, a row a weekday, the minutes practised in each day."""

from __future__ import annotations

from datetime import date, timedelta

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from rehearse.practice.history import Day
from rehearse.ui import theme
from rehearse.ui.fonts import face
from rehearse.ui.pages.logbook.heat_ribbon import blend
from rehearse.ui.pages.logbook.logbook_data import LogbookData, seconds_words
from rehearse.words import _, month, weekday

_DAYS = (_("Mon"), _("Tue"), _("Wed"), _("Thu"), _("Fri"), _("Sat"), _("Sun"))
#: Minutes from which a day is drawn as full as it gets.
_FULL = 75.0
_CELL_W, _CELL_H, _LEFT, _TOP = 44.0, 24.0, 40.0, 24.0
#: Weeks ahead that are shown at most, to see the show coming.
_AHEAD = 4


def paint_weeks(painter: QPainter, area: QRectF, overview: LogbookData) -> None:
    """Draw as many weeks as fit into `area`, the latest to the right."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setFont(face(theme.SMALL))
    painter.setPen(QColor(theme.DIM))
    for row, word in enumerate(_DAYS):
        if row % 2 == 0:
            place = QRectF(
                area.left(),
                area.top() + theme.px(_TOP) + row * theme.px(_CELL_H),
                theme.px(_LEFT),
                theme.px(_CELL_H),
            )
            painter.drawText(place, Qt.AlignmentFlag.AlignVCenter, word)
    done = {day.day: day for day in overview.days}
    for monday, left in _columns(area, overview):
        if monday.day <= 7:
            painter.setPen(QColor(theme.DIM))
            place = QRectF(left, area.top(), 2 * theme.px(_CELL_W), theme.px(_TOP))
            painter.drawText(place, Qt.AlignmentFlag.AlignLeft, month(monday.month)[:3])
        for row in range(7):
            day = monday + timedelta(days=row)
            place = QRectF(
                left,
                area.top() + theme.px(_TOP) + row * theme.px(_CELL_H),
                theme.px(_CELL_W) - 3,
                theme.px(_CELL_H) - 3,
            )
            _cell(painter, place, day, done.get(day), overview)
    painter.restore()


def _columns(area: QRectF, overview: LogbookData) -> list[tuple[date, float]]:
    count = max(1, int((area.width() - theme.px(_LEFT)) / theme.px(_CELL_W)))
    this = overview.today - timedelta(days=overview.today.weekday())
    ahead = 0
    if overview.show_date is not None and overview.show_date >= overview.today:
        weeks = (overview.show_date - this).days // 7
        ahead = min(weeks, _AHEAD, count - 1)
    first = this - timedelta(weeks=count - 1 - ahead)
    return [
        (first + timedelta(weeks=k), area.left() + theme.px(_LEFT) + k * theme.px(_CELL_W))
        for k in range(count)
    ]


def _cell(
    painter: QPainter, place: QRectF, day: date, done: Day | None, overview: LogbookData
) -> None:
    if done is not None:
        share = min(1.0, done.minutes / _FULL)
        painter.fillRect(place, blend(theme.RAISED, theme.LINE, 0.25 + 0.75 * share))
        painter.setPen(QColor(theme.INK))
        painter.drawText(place, Qt.AlignmentFlag.AlignCenter, f"{max(1, round(done.minutes))}")
    elif day <= overview.today:
        painter.setPen(QPen(QColor(theme.LINE), 1))
        middle, reach = place.center(), QPointF(4.0, 0.0)
        painter.drawLine(middle - reach, middle + reach)
    if day == overview.show_date:
        painter.fillRect(place, QColor(theme.INK))
        painter.setPen(QColor(theme.GROUND))
        painter.drawText(place, Qt.AlignmentFlag.AlignCenter, _("show"))
    elif day == overview.today:
        painter.setPen(QPen(QColor(theme.INK), 2))
        painter.drawRect(place.adjusted(1, 1, -1, -1))


class WeeksView(QWidget):
    """The calendar as a part of the page; a day pointed at tells its numbers."""

    def __init__(self) -> None:
        super().__init__()
        self._overview: LogbookData | None = None
        self.setMouseTracking(True)
        self.setAccessibleName(_("Calendar of practice, minutes a day"))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        """Seven rows and the months."""
        return QSize(480, round(theme.px(_TOP) + 7 * theme.px(_CELL_H)))

    def show_overview(self, overview: LogbookData) -> None:
        """Show another state of the logbook."""
        self._overview = overview
        week = [d for d in overview.days if (overview.today - d.day).days < 7]
        minutes = round(sum(d.minutes for d in week))
        self.setAccessibleDescription(
            _(
                "{number} days, {minutes} minutes in the last 7 days",
                number=len(week),
                minutes=minutes,
            )
        )
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it."""
        if self._overview is not None:
            with QPainter(self) as painter:
                paint_weeks(painter, QRectF(self.rect()), self._overview)

    def day_at(self, x: float, y: float) -> date | None:
        """The day under a point."""
        if self._overview is None or y < theme.px(_TOP):
            return None
        for monday, left in _columns(QRectF(self.rect()), self._overview):
            if left <= x < left + theme.px(_CELL_W):
                return monday + timedelta(
                    days=min(6, int((y - theme.px(_TOP)) / theme.px(_CELL_H)))
                )
        return None

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Tell the numbers of the day pointed at."""
        day = self.day_at(event.position().x(), event.position().y())
        if day is None or self._overview is None:
            return
        done = next((d for d in self._overview.days if d.day == day), None)
        words = _(
            "{weekday} {day:02d} {month}: ",
            weekday=weekday(day.weekday()),
            day=day.day,
            month=month(day.month),
        )
        if done is None:
            words += _("the show") if day == self._overview.show_date else _("no practice")
        else:
            words += _(
                "{minutes} minutes, {passes} passes, {runs} runs",
                minutes=round(done.minutes),
                passes=done.passes,
                runs=done.runs,
            )
            if tension := self._overview.stamina.tension(day):
                words += _(", {seconds_words} under tension", seconds_words=seconds_words(tension))
            words += _(", stopped because of dizziness, cramp or pain") if done.unwell else ""
        QToolTip.showText(event.globalPosition().toPoint(), words, self)
