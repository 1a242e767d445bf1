"""The late mirror: what was done some counts ago, so that a back pose is seen by turning round."""

from __future__ import annotations

import time
from collections.abc import Callable

from PySide6.QtCore import QRectF, Qt, QTimer, Slot
from PySide6.QtGui import QColor, QHideEvent, QImage, QPainter, QPaintEvent, QShowEvent
from PySide6.QtWidgets import QWidget

from rehearse.film.late_ring import LateRing
from rehearse.ui import theme
from rehearse.ui.film.fitted import paint_fitted
from rehearse.ui.stage.fit import fit_whole
from rehearse.ui.stage.layout import Box
from rehearse.ui.stage.stage_options import GLANCE, ViewingDistance
from rehearse.ui.stage.text_cache import advance, draw_lines
from rehearse.words import _

#: How late it can be, in the order that its key goes through: a number, and whether of counts.
LATE = {
    "4 counts": (4, True),
    "8 counts": (8, True),
    "16 counts": (16, True),
    "3 s": (3, False),
    "5 s": (5, False),
    "10 s": (10, False),
}
#: Milliseconds between two pictures; metres from which the words are read at most, and the part of
#: the height that their capitals take at most.
_PACE, _FARTHEST, _MOST = 16, 3.0, 0.1


def words_of(late: str) -> str:
    """A key of `LATE` as it stands under the picture."""
    number, counts = LATE[late]
    if counts:
        return _("{number} counts ago", number=number)
    return _("{number} s ago", number=number)


class LateMirror(QWidget):
    """Paints the picture of `ago()` seconds ago, and how long that is.

    Args:
        ago: says how late it is now, in seconds. clock: the camera's.

    Attributes:
        on: it is wished. late: a key of `LATE`. mirrored: as in a mirror. viewing: from where it
            is read. taken: second of the clock of the picture that is shown; None: none is.
    """

    def __init__(
        self, ago: Callable[[], float], *, clock: Callable[[], float] = time.perf_counter
    ) -> None:
        super().__init__()
        self._ago, self._clock = ago, clock
        self.ring = LateRing()
        self.on, self.mirrored, self.late = False, True, "8 counts"
        self.viewing = ViewingDistance()
        self.taken: float | None = None
        self.image = QImage()
        self.setAccessibleName(_("Late mirror"))
        self._timer = QTimer(self, interval=_PACE)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self.look)

    def set_on(self, on: bool) -> None:
        """Show it, or no more; what was seen is forgotten."""
        self.on = on
        self.ring.clear()
        self.taken, self.image = None, QImage()
        self.update()

    @Slot()
    def look(self) -> None:
        """Show the picture that is due."""
        found = self.ring.at(self._clock() - self._ago())
        if found is None:
            self.update()  # what is said of the wait moves on
        elif found[0] != self.taken:
            self.taken, self.image = found[0], QImage.fromData(found[1])
            self.update()

    def words(self) -> str:
        """What stands under the picture."""
        if self.taken is not None:
            return words_of(self.late)
        first = self.ring.at(self._clock())
        if first is None:
            return _("The camera opens …")
        left = self._ago() - (self._clock() - self.ring.oldest)
        return _("in {seconds:.0f} s: {late}", seconds=max(0.0, left), late=words_of(self.late))

    def paintEvent(self, event: QPaintEvent) -> None:
        """The picture over the whole width there is, the words beneath."""
        with QPainter(self) as painter:
            painter.fillRect(self.rect(), QColor(theme.GROUND))
            near = ViewingDistance(min(self.viewing.distance, _FARTHEST), self.viewing.pixel_mm)
            cap = min(near.pixels(GLANCE), _MOST * self.height())
            room = QRectF(self.rect())
            room.setBottom(room.bottom() - 1.7 * cap)
            paint_fitted(painter, self.image, room, mirrored=self.mirrored)
            width = self.width() - cap
            place = Box(cap / 2, room.bottom() + 0.3 * cap, width, cap)
            sizes = {"least": cap, "most": cap}
            fitted = fit_whole((self.words(),), width, 1.4 * cap, **sizes, advance=advance, lines=1)
            draw_lines(painter, place, fitted, QColor(theme.INK))

    def showEvent(self, event: QShowEvent) -> None:
        """It is seen: pictures are looked for."""
        super().showEvent(event)
        self._timer.start()

    def hideEvent(self, event: QHideEvent) -> None:
        """It is not seen."""
        super().hideEvent(event)
        self._timer.stop()
