"""The logbook as a picture to keep or to send to the coach."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QBuffer, QIODevice, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.files.atomic import save_atomic
from rehearse.files.user_error import UserError
from rehearse.practice.summary import Standing
from rehearse.ui import theme
from rehearse.ui.fonts import face
from rehearse.ui.pages.logbook.heat_ribbon import paint_ribbon
from rehearse.ui.pages.logbook.logbook_data import LogbookData, show_words
from rehearse.ui.pages.logbook.standings import HEADINGS, cells
from rehearse.ui.pages.logbook.weeks import paint_weeks
from rehearse.words import _, day_text

WIDTH, HEIGHT = 1920, 1080
_EDGE = 6 * theme.STEP
_ROW = 28
_TABLES = 484
_COLUMNS = (0.0, 0.44, 0.53, 0.66, 0.77, 0.91)


@theme.at(1.0)
def picture_of(overview: LogbookData) -> QImage:
    """Title, ribbon, tables and calendar on one picture of 1920 × 1080 pixels."""
    image = QImage(WIDTH, HEIGHT, QImage.Format.Format_RGB32)
    image.fill(QColor(theme.GROUND))
    with QPainter(image) as painter:
        painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
        wide, half = WIDTH - 2 * _EDGE, WIDTH / 2 - _EDGE - 3 * theme.STEP
        painter.setFont(face(theme.TITLE, strong=True))
        painter.setPen(QColor(theme.INK))
        painter.drawText(QRectF(_EDGE, _EDGE - 16, wide, 56), 0, overview.title)
        painter.setFont(face(theme.SMALL))
        painter.setPen(QColor(theme.DIM))
        words = f"{day_text(overview.today)}  ·  {show_words(overview.show)}"
        painter.drawText(QRectF(_EDGE, _EDGE + 40, wide, 28), 0, words)
        paint_ribbon(painter, QRectF(_EDGE, 144, wide, 300), overview)
        sections = (overview.summary.whole, *overview.summary.sections)
        left = QRectF(_EDGE, _TABLES, half, HEIGHT - _TABLES - _EDGE)
        right = QRectF(WIDTH - _EDGE - half, _TABLES, half, left.height())
        _table(painter, left, _("Weakest transitions"), weakest(overview), overview)
        below = _table(painter, right, _("Sections"), sections, overview)
        _head(painter, QRectF(right.left(), below + _ROW, half, _ROW), _("Minutes a day"))
        paint_weeks(painter, QRectF(right.left(), below + 2.3 * _ROW, half, 200), overview)
    return image


def weakest(overview: LogbookData) -> tuple[Standing, ...]:
    """The transitions of the routine, least clean at full tempo first, then never judged ones."""
    here = [s for s in overview.summary.transitions if not s.gone]
    return tuple(
        sorted(here, key=lambda s: (s.clean_share is None, s.clean_share or 0.0, -s.passes))
    )


def _head(painter: QPainter, place: QRectF, words: str) -> None:
    painter.setFont(face(theme.SMALL, strong=True))
    painter.setPen(QColor(theme.INK))
    painter.drawText(place, Qt.AlignmentFlag.AlignVCenter, words)
    painter.setFont(face(theme.SMALL))


def _table(
    painter: QPainter, area: QRectF, title: str, rows: tuple[Standing, ...], overview: LogbookData
) -> float:
    """Draw as many rows as fit; returns the pixel row at which the table ends."""
    room = int(area.height() / _ROW) - 1
    lines = [("", *HEADINGS[1:]), *(cells(s, overview.today) for s in rows[:room])]
    _head(painter, QRectF(area.left(), area.top(), area.width(), _ROW), title)
    for k, line in enumerate(lines):
        painter.setPen(QColor(theme.DIM if k == 0 else theme.INK))
        for share, words in zip(_COLUMNS, line, strict=True):
            at = QRectF(area.left() + share * area.width(), area.top() + k * _ROW, 400, _ROW)
            painter.drawText(at, Qt.AlignmentFlag.AlignVCenter, words)
    return area.top() + len(lines) * _ROW


def save_picture(overview: LogbookData, path: Path) -> None:
    """Write the picture as PNG.

    Raises:
        UserError: it cannot be written there.
    """
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    # The stubs want bytes here, which the call itself refuses.
    if not picture_of(overview).save(buffer, "PNG"):  # type: ignore[call-overload]
        raise UserError(_("the picture cannot be made"), where=path, do=_("choose another name"))
    save_atomic(path, bytes(buffer.data().data()))
