"""What the waveform view shows: track, marks, layers, selection, cursor, playhead; no hands yet."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from PySide6.QtCore import QElapsedTimer, QPointF, QRect, QRectF, Qt, QTimer, Signal, Slot
from PySide6.QtGui import (
    QColor,
    QImage,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
    QResizeEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from rehearse.music.beatmap import MEDIUM, BeatMap, Stretch
from rehearse.music.track import Track
from rehearse.music.trim import nearest, snap_to_beat
from rehearse.ui import theme
from rehearse.ui.colours import tint
from rehearse.ui.fonts import face
from rehearse.ui.wave.map_marks import paint_map, paint_seconds
from rehearse.ui.wave.pyramid import Pyramid
from rehearse.ui.wave.scale import Scale
from rehearse.ui.wave.waveform import silhouette
from rehearse.words import _, place_text

#: Shortest stretch that can be in view, seconds.
CLOSEST = 0.05


class Layer(Protocol):
    """Something another page paints onto the wave; it may take mouse drags."""

    def paint(self, painter: QPainter, scale: Scale) -> None:
        """Paint; the playhead comes on top."""

    def press(self, point: QPointF, scale: Scale) -> bool:
        """A press at `point`; True takes the drag that follows."""

    def drag(self, point: QPointF, scale: Scale) -> None:
        """The taken drag moved."""

    def release(self, point: QPointF, scale: Scale) -> None:
        """The taken drag ended."""


class WaveCanvas(QWidget):
    """Waveform, counts and marks of one track.

    Signals:
        rangeChanged: another stretch is in view. cursorMoved: seconds of the cursor, moved by
        hand. selectionChanged: `selection` is another one. painted: the picture is a new one.
    """

    painted = Signal()
    rangeChanged = Signal()
    cursorMoved = Signal(float)
    selectionChanged = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._pyramid: Pyramid | None = None
        self._rate, self._duration = 1, 0.0
        self._map: BeatMap | None = None
        self._least = MEDIUM
        self._start, self._end = 0.0, 1.0
        self._cursor = 0.0
        self._playhead: float | None = None
        self._selection: Stretch | None = None
        self._layers: list[Layer] = []
        self._picture: QPixmap | None = None
        self.below = 0.0
        self._note = ""
        self._growing = QTimer(self, interval=0)
        self._growing.timeout.connect(self._grow)
        self._since = QElapsedTimer()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumHeight(24 * theme.STEP)
        self.setAccessibleName(_("Waveform"))

    # -- what is shown --------------------------------------------------------------------
    def set_track(self, track: Track | None) -> None:
        """Show `track` whole; its peaks fill in while the window goes on."""
        self._pyramid = Pyramid(track.samples) if track else None
        self._rate = track.sample_rate if track else 1
        self._duration = track.duration if track else 0.0
        self._selection, self._cursor = None, 0.0
        if track:
            self._since.start()
            self._growing.start()
        self.fit()

    def set_note(self, words: str) -> None:
        """Say something in the place of a song that is not there yet."""
        if words != self._note:
            self._note = words
            self.setAccessibleDescription(words)
            self.update()

    def set_map(self, beatmap: BeatMap | None) -> None:
        """Show the marks of `beatmap`."""
        self._map = beatmap
        self.refresh()

    def set_least(self, strength: float) -> None:
        """Show accents of this strength and more."""
        self._least = strength
        self.refresh()

    def add_layer(self, layer: Layer) -> None:
        """Paint `layer` over the marks and offer it mouse drags, the last one added first."""
        self._layers.append(layer)
        self.refresh()

    @Slot()
    def refresh(self) -> None:
        """Paint everything anew, such as when a layer shows something else."""
        self._picture = None
        self.update()

    @property
    def scale(self) -> Scale:
        """Where things are now."""
        return Scale(self._start, self._end, self.width(), self.height(), theme.px(self.below))

    def outline(self, width: int, height: int) -> QImage:
        """A picture of the whole track's waveform."""
        if self._pyramid is None:
            nothing = np.zeros(width, np.float32)
            return silhouette(nothing, nothing, height)
        frames = self._duration * self._rate
        return silhouette(*self._pyramid.columns(0, frames, width), height)

    @property
    def duration(self) -> float:
        """Seconds of the track shown."""
        return self._duration

    # -- what is in view ------------------------------------------------------------------
    def set_range(self, start: float, end: float) -> None:
        """Bring [start, end] into view, kept inside the track."""
        length = min(max(CLOSEST, end - start), max(CLOSEST, self._duration))
        start = min(max(0.0, start), max(0.0, self._duration - length))
        if (start, start + length) != (self._start, self._end):
            self._start, self._end = start, start + length
            self.rangeChanged.emit()
        self.refresh()

    def fit(self) -> None:
        """Bring the whole track into view."""
        self.set_range(0.0, self._duration)

    def zoom(self, factor: float, about: float | None = None) -> None:
        """Show `factor` times less, keeping the second `about` (the cursor) where it is."""
        about = self._cursor if about is None else about
        if not self._start <= about <= self._end:
            about = (self._start + self._end) / 2
        length = (self._end - self._start) / factor
        share = (about - self._start) / max(1e-9, self._end - self._start)
        self.set_range(about - share * length, about + (1 - share) * length)

    def scroll_by(self, part: float) -> None:
        """Move the view on by `part` of its length."""
        by = part * (self._end - self._start)
        self.set_range(self._start + by, self._end + by)

    def show_time(self, time: float) -> None:
        """Turn the page when `time` is out of view."""
        length = self._end - self._start
        if not self._start <= time <= self._end:
            self.set_range(time - 0.1 * length, time + 0.9 * length)

    # -- cursor, selection, playhead ------------------------------------------------------
    @property
    def cursor_time(self) -> float:
        """Seconds of the cursor."""
        return self._cursor

    def set_cursor(self, time: float) -> None:
        """Move the cursor and keep it in view."""
        self._cursor = min(max(0.0, time), max(0.0, self._duration))
        self.show_time(self._cursor)
        self._tell()
        self.cursorMoved.emit(self._cursor)
        self.update()

    def _tell(self) -> None:
        """Say the same to a screen reader, and to a magnifier where to look."""
        words = self.place_in_words(self._cursor)
        if self._selection is not None:
            ends = (self._selection.start, self._selection.end)
            words += _(", selected {map}", map=" to ".join(map(self.place_in_words, ends)))
        self.setAccessibleDescription(words)
        self.updateMicroFocus()

    def inputMethodQuery(self, query: Qt.InputMethodQuery) -> object:
        """Where the cursor is, which magnifiers follow."""
        if query == Qt.InputMethodQuery.ImCursorRectangle:
            return QRect(round(self.scale.x(self._cursor)), 0, 1, self.height())
        return super().inputMethodQuery(query)

    @property
    def selection(self) -> Stretch | None:
        """The selected stretch."""
        return self._selection

    def select(self, stretch: Stretch | None) -> None:
        """Select a stretch, or none."""
        if stretch != self._selection:
            self._selection = stretch
            self._tell()
            self.selectionChanged.emit()
            self.update()

    def set_playhead(self, time: float | None) -> None:
        """Show what is heard now; None hides it."""
        if time is None and self._playhead is None:
            return
        scale = self.scale
        for old in (self._playhead, time):
            if old is not None:
                self.update(int(scale.x(old)) - 3, 0, 7, self.height())
        self._playhead = time

    def place_in_words(self, time: float) -> str:
        """The count at `time` and its seconds, for screen and screen reader."""
        place = place_text(self._map.position_at(time, 0.012)) if self._map else ""
        seconds = _("{time}:{time2:06.3f}", time=int(time // 60), time2=time % 60)
        return f"{place}   {seconds}" if place and not place.endswith("s") else seconds

    def caught(self, time: float, reach: float) -> float:
        """The accent or else the beat within `reach` seconds of `time`, else `time`."""
        if self._map is None:
            return time
        shown = (a.time for a in self._map.accents if a.strength >= self._least)
        accent = nearest(shown, time, reach / 2)
        if accent is None:
            return snap_to_beat(self._map, time, reach)
        # An accent on a beat is meant as the beat, so that the count stays whole.
        return snap_to_beat(self._map, accent, 0.02)

    # -- painting -------------------------------------------------------------------------
    @Slot()
    def _grow(self) -> None:
        if self._pyramid is None or self._pyramid.complete:
            self._growing.stop()
            return
        self._pyramid.grow()
        # The picture follows a few times a second; painting it for every slice would stall.
        if self._pyramid.complete or self._since.elapsed() > 150:
            self._since.restart()
            self.refresh()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Paint anew at the new size."""
        self.refresh()

    def paintEvent(self, event: QPaintEvent) -> None:
        """The picture, kept while nothing in it changes, under selection, cursor and playhead."""
        if self._picture is None:
            self._picture = self._paint_picture()
            self.painted.emit()
        with QPainter(self) as painter:
            painter.drawPixmap(0, 0, self._picture)
            if self._pyramid is None:
                painter.setFont(face(theme.BODY))
                painter.setPen(QColor(theme.INK))
                painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, self._note)
                return
            scale = self.scale
            if self._selection is not None:
                left, right = scale.x(self._selection.start), scale.x(self._selection.end)
                band = QRectF(left, scale.eights.top(), right - left, scale.wave.bottom())
                painter.fillRect(band, tint(theme.INK, 0.14))
                painter.setPen(QPen(QColor(theme.INK), 2))
                painter.drawLine(QPointF(left, band.top()), QPointF(left, band.bottom()))
                painter.drawLine(QPointF(right, band.top()), QPointF(right, band.bottom()))
            self._paint_upright(painter, scale, self._cursor, theme.INK, handle=True)
            if self._playhead is not None:
                self._paint_upright(painter, scale, self._playhead, theme.NEXT, handle=False)

    def _paint_upright(
        self, painter: QPainter, scale: Scale, time: float, colour: str, *, handle: bool
    ) -> None:
        x = round(scale.x(time))
        painter.setPen(QPen(QColor(colour), 2))
        painter.drawLine(x, 0, x, round(scale.wave.bottom()))
        if handle:
            painter.fillRect(x - 5, 0, 11, 6, QColor(colour))

    def _paint_picture(self) -> QPixmap:
        ratio = self.devicePixelRatioF()
        picture = QPixmap(self.size() * ratio)
        picture.setDevicePixelRatio(ratio)
        picture.fill(QColor(theme.GROUND))
        with QPainter(picture) as painter:
            scale = self.scale
            if self._pyramid is not None:
                self._paint_wave(painter, scale)
                paint_seconds(painter, scale)
            if self._map is not None:
                paint_map(painter, scale, self._map, self._least)
            for layer in self._layers:
                layer.paint(painter, scale)
            if self.hasFocus():
                painter.fillRect(
                    QRectF(0, scale.eights.bottom() - 1, scale.width, 1), QColor(theme.DIM)
                )
        return picture

    def _paint_wave(self, painter: QPainter, scale: Scale) -> None:
        band, ratio = scale.wave, self.devicePixelRatioF()
        if self._pyramid is None:
            return
        peak, root = self._pyramid.columns(
            scale.start * self._rate, scale.end * self._rate, max(1, round(band.width() * ratio))
        )
        picture = silhouette(peak, root, round(band.height() * ratio))
        painter.drawImage(band, picture)
