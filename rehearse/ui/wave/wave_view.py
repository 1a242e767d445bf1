"""The waveform view: zoom and scroll by wheel and keys, cursor and selection by mouse and keys."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QFocusEvent, QKeyEvent, QMouseEvent, QWheelEvent
from PySide6.QtWidgets import QWidget

from rehearse.music.beatmap import Stretch
from rehearse.ui.actions import WAVE
from rehearse.ui.bindings import key_of
from rehearse.ui.wave.canvas import Layer, WaveCanvas

__all__ = ["Layer", "WaveView"]

#: Pixels within which a press lands on a beat, and from which it is a drag.
CATCH, DRAG = 8.0, 4.0
#: Zoom of one wheel notch; part of the view that a notch scrolls.
ZOOM, SCROLL = 1.25, 0.15


class WaveView(WaveCanvas):
    """Waveform, counts and marks of one track, with hands on it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._taken: Layer | None = None
        self._pressed: QPointF | None = None
        self._anchor: float | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Begin a drag: of a layer's thing, else of a selection."""
        if event.button() != Qt.MouseButton.LeftButton:
            return
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        point, scale = event.position(), self.scale
        self._taken = next((x for x in reversed(self._layers) if x.press(point, scale)), None)
        self._pressed = point
        self._anchor = None

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Go on with the drag."""
        if self._pressed is None:
            return
        point, scale = event.position(), self.scale
        if self._taken is not None:
            self._taken.drag(point, scale)
        elif abs(point.x() - self._pressed.x()) >= DRAG:
            ends = sorted(self._caught(p.x(), event) for p in (self._pressed, point))
            self.select(Stretch(*ends) if ends[1] > ends[0] else None)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """End the drag; a press that did not move sets the cursor and drops the selection."""
        if self._pressed is None or event.button() != Qt.MouseButton.LeftButton:
            return
        point, scale = event.position(), self.scale
        if self._taken is not None:
            self._taken.release(point, scale)
        elif abs(point.x() - self._pressed.x()) < DRAG:
            self.select(None)
            self.set_cursor(self._caught(point.x(), event))
        elif self._selection is not None:
            self.set_cursor(self._selection.start)
        self._taken = self._pressed = None

    def _caught(self, x: float, event: QMouseEvent) -> float:
        """Seconds at `x`; on a beat or accent when near one, unless Alt is held."""
        time = min(max(0.0, self.scale.time(x)), self._duration)
        if event.modifiers() & Qt.KeyboardModifier.AltModifier:
            return time
        return self.caught(time, CATCH / self.scale.per_second)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom about the pointer; scroll with Shift or sideways."""
        turn = event.angleDelta()
        sideways = event.modifiers() & Qt.KeyboardModifier.ShiftModifier
        if sideways or abs(turn.x()) > abs(turn.y()):
            self.scroll_by(-SCROLL * (turn.x() or turn.y()) / 120)
        else:
            self.zoom(ZOOM ** (turn.y() / 120), self.scale.time(event.position().x()))
        event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Left and right step by beats, up and down by bars (Shift selects), + and − zoom."""
        key = key_of(event)
        key = "+" if key == "Shift++" else key  # with Shift on the row, without on the number pad
        name = next((a.name for a in WAVE if key in a.keys), "")
        if not name:
            super().keyPressEvent(event)
        else:
            self._acts()[name]()

    def _acts(self) -> dict[str, Callable[[], object]]:
        """What each of `WAVE` does."""
        return {
            "beat_before": lambda: self._step(-1, False),
            "beat_after": lambda: self._step(1, False),
            "bar_before": lambda: self._step(-1, False, bars=True),
            "bar_after": lambda: self._step(1, False, bars=True),
            "select_before": lambda: self._step(-1, True),
            "select_after": lambda: self._step(1, True),
            "select_bar_before": lambda: self._step(-1, True, bars=True),
            "select_bar_after": lambda: self._step(1, True, bars=True),
            "song_start": lambda: self._go(0.0, False),
            "song_end": lambda: self._go(self._duration, False),
            "select_start": lambda: self._go(0.0, True),
            "select_end": lambda: self._go(self._duration, True),
            "zoom_in": lambda: self.zoom(ZOOM**2),
            "zoom_out": lambda: self.zoom(ZOOM**-2),
            "fit": self.fit,
            "scroll_back": lambda: self.scroll_by(-0.8),
            "scroll_on": lambda: self.scroll_by(0.8),
        }

    def _step(self, way: int, extend: bool, *, bars: bool = False) -> None:
        times = self._map.times if self._map else np.zeros(0)
        if bars and self._map:
            times = times[np.asarray(self._map.places) == 1]
        ahead = times[way * (times - self._cursor) > 1e-4]
        if len(ahead):
            self._go(float(ahead[0] if way > 0 else ahead[-1]), extend)
        else:
            self._go(self._cursor + way * (self._end - self._start) / 50, extend)

    def _go(self, time: float, extend: bool) -> None:
        """Move the cursor; `extend` selects from where it stood when the selecting began."""
        if not extend:
            self._anchor = None
            self.select(None)
        elif self._anchor is None:
            self._anchor = self._cursor
        self.set_cursor(time)
        if self._anchor is not None and self._anchor != self._cursor:
            self.select(Stretch(*sorted((self._anchor, self._cursor))))

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Show that keys go here."""
        super().focusInEvent(event)
        self.refresh()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Keys go elsewhere now."""
        super().focusOutEvent(event)
        self.refresh()
