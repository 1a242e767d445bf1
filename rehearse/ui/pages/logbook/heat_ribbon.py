"""The heat ribbon: pose by pose along the music, what is warm and what has gone cold.

Warmth is told by the height of a bar and by its lightness; passes and days stand beside it as
numbers, so that nothing depends on colour.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from rehearse.practice.history import DAYS, Heat
from rehearse.ui import theme
from rehearse.ui.fonts import face
from rehearse.ui.pages.logbook.logbook_data import LogbookData, ago_words
from rehearse.words import _, ngettext, section_text, shown

#: Days without practice from which a pose is told to be cold in words.
COLD = 4
_LINE = 22
_GAP = 3.0
#: A bar narrower than this has no room for the beginning of a name.
_LEAST_NAME = 26.0
#: Pixels that sections, numbers, bars and names need at least.
LEAST_HEIGHT = 176


def blend(cold: str, warm: str, share: float) -> QColor:
    """A colour between two of the look's, 0..1."""
    one, other = QColor(cold), QColor(warm)
    ends = (one.red(), other.red()), (one.green(), other.green()), (one.blue(), other.blue())
    return QColor(*(round(a + (b - a) * share) for a, b in ends))


def bar_of(heat: Heat, overview: LogbookData, area: QRectF, following: float) -> QRectF:
    """The place of one pose in the ribbon, up to where the next one's begins."""
    scale = area.width() / max(1e-9, overview.end - overview.start)
    left = area.left() + (heat.start - overview.start) * scale
    right = area.left() + (following - overview.start) * scale
    return QRectF(left, area.top(), max(2.0, right - left - _GAP), area.height())


def bars(overview: LogbookData, area: QRectF) -> list[tuple[Heat, QRectF]]:
    """Every pose with its place."""
    found = []
    for k, pose in enumerate(overview.heat):
        last = k + 1 == len(overview.heat)
        following = max(pose.end, overview.end) if last else overview.heat[k + 1].start
        found.append((pose, bar_of(pose, overview, area, max(following, pose.start + 0.1))))
    return found


def paint_ribbon(painter: QPainter, area: QRectF, overview: LogbookData, chosen: str = "") -> None:
    """Draw the ribbon into `area`; `chosen` is the id of the pose that is selected."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    _sections(painter, area, overview)
    for heat, place in bars(overview, area):
        _pose(painter, place, heat, heat.pose == chosen)
    painter.restore()


def _sections(painter: QPainter, area: QRectF, overview: LogbookData) -> None:
    scale = area.width() / max(1e-9, overview.end - overview.start)
    painter.setFont(face(theme.SMALL))
    for section in overview.sections:
        left = area.left() + (section.start - overview.start) * scale
        width = (min(section.end, overview.end) - section.start) * scale - _GAP
        row = QRectF(left, area.top(), width, theme.px(_LINE))
        painter.setPen(QPen(QColor(theme.LINE), 2))
        painter.drawLine(QPointF(left, row.bottom() + 2), QPointF(left + width, row.bottom() + 2))
        painter.setPen(QColor(theme.DIM))
        words = painter.fontMetrics().elidedText(
            section_text(section.name), Qt.TextElideMode.ElideRight, int(width)
        )
        painter.drawText(row, Qt.AlignmentFlag.AlignLeft, words)


def _pose(painter: QPainter, place: QRectF, heat: Heat, chosen: bool) -> None:
    top, foot = place.top() + 2 * theme.px(_LINE) + 10, place.bottom() - 3 * theme.px(_LINE) - 6
    room = max(8.0, foot - top)
    height = max(4.0, heat.warmth * room)
    bar = QRectF(place.left(), foot - height, place.width(), height)
    if heat.days_ago is None:
        painter.setPen(QPen(QColor(theme.DIM), 1.5, Qt.PenStyle.DashLine))
        painter.drawRect(QRectF(place.left() + 1, foot - 10, place.width() - 2, 9))
    else:
        painter.fillRect(bar, blend(theme.LINE, theme.DIM, heat.warmth))
    painter.setFont(face(theme.SMALL, strong=True))
    painter.setPen(QColor(theme.INK))
    number = QRectF(place.left(), bar.top() - theme.px(_LINE) - 2, place.width(), theme.px(_LINE))
    passes = str(heat.passes)
    if heat.passes and painter.fontMetrics().horizontalAdvance(passes) <= place.width() + _GAP:
        painter.drawText(number, Qt.AlignmentFlag.AlignLeft, passes)
    if chosen:
        painter.fillRect(QRectF(place.left(), foot + 2, place.width(), 3), QColor(theme.INK))
    _name(painter, QRectF(place.left(), foot + 6, place.width(), 3 * theme.px(_LINE)), heat)


def _name(painter: QPainter, row: QRectF, heat: Heat) -> None:
    if row.width() < _LEAST_NAME:
        return  # pointed at, it tells its name
    painter.setFont(face(theme.SMALL))
    metrics = painter.fontMetrics()
    painter.setPen(QColor(theme.DIM))
    for k, line in enumerate(two_lines(shown(heat.name), row.width(), metrics.horizontalAdvance)):
        words = metrics.elidedText(line, Qt.TextElideMode.ElideRight, int(row.width()))
        painter.drawText(
            QPointF(row.left(), row.top() + metrics.ascent() + k * (theme.px(_LINE) - 2)), words
        )
    cold = heat.days_ago is None or heat.days_ago >= COLD
    painter.setPen(QColor(theme.INK if cold else theme.DIM))
    painter.setFont(face(theme.SMALL, strong=cold))
    foot = QPointF(row.left(), row.top() + metrics.ascent() + 2 * (theme.px(_LINE) - 1))
    ago = short_ago(heat.days_ago)
    if painter.fontMetrics().horizontalAdvance(ago) <= row.width():
        painter.drawText(foot, ago)


def short_ago(days: int | None) -> str:
    """Days since, as short as it can be said."""
    if days is None:
        return _("never")
    return _("today") if days == 0 else ngettext("{days} day", "{days} days", days, days=days)


def two_lines(name: str, width: float, measure: Callable[[str], float]) -> list[str]:
    """A name broken between words so that the first line is as full as it can be."""
    words = name.split()
    first = words[:1]
    for word in words[1:]:
        if measure(" ".join([*first, word])) > width:
            break
        first.append(word)
    rest = words[len(first) :]
    return [" ".join(first), " ".join(rest)] if rest else [" ".join(first)]


class HeatRibbon(QWidget):
    """The ribbon as a part of the page; a pose pointed at tells its numbers, clicked it is chosen.

    Signals:
        poseChosen: the id of the pose clicked.
    """

    poseChosen = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self._overview: LogbookData | None = None
        self._chosen = ""
        self.setMouseTracking(True)
        self.setAccessibleName(_("Warmth along the routine"))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        """High enough for sections, numbers, bars and names."""
        return QSize(640, theme.px(LEAST_HEIGHT))

    def show_overview(self, overview: LogbookData, chosen: str = "") -> None:
        """Show another state of the logbook."""
        self._overview, self._chosen = overview, chosen
        cold = [h for h in overview.heat if h.days_ago is None or h.days_ago >= COLD]
        words = ", ".join(f"{shown(h.name)} {ago_words(h.days_ago)}" for h in cold[:6])
        self.setAccessibleDescription(
            _("Cold: {words}", words=words) if cold else _("Nothing is cold.")
        )
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it."""
        if self._overview is not None:
            with QPainter(self) as painter:
                paint_ribbon(painter, QRectF(self.rect()), self._overview, self._chosen)

    def pose_at(self, x: float) -> Heat | None:
        """The pose under a column of pixels."""
        if self._overview is None:
            return None
        for heat, place in bars(self._overview, QRectF(self.rect())):
            if place.left() <= x <= place.right():
                return heat
        return None

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Tell the numbers of the pose pointed at."""
        if heat := self.pose_at(event.position().x()):
            words = _(
                "{name}: {passes} passes in {days} days, last {ago_words}",
                name=shown(heat.name),
                passes=heat.passes,
                days=DAYS,
                ago_words=ago_words(heat.days_ago),
            )
            QToolTip.showText(event.globalPosition().toPoint(), words, self)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Choose the pose pointed at."""
        if heat := self.pose_at(event.position().x()):
            self.poseChosen.emit(heat.pose)
