"""The Routine page: music above, poses on it, the same as a table below, what to say beside.

Every gesture is an edit in `choreography`; this module only joins widgets, keys and desk.
"""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QEvent, Qt, Slot
from PySide6.QtGui import QHideEvent, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QComboBox,
    QHBoxLayout,
    QLineEdit,
    QPlainTextEdit,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from rehearse.ui import theme
from rehearse.ui.desk import Desk
from rehearse.ui.figure.thumbs import Thumbs
from rehearse.ui.pages.routine.askline import AskLine
from rehearse.ui.pages.routine.card import PoseCard
from rehearse.ui.pages.routine.choice import Choice
from rehearse.ui.pages.routine.choreography import Choreography
from rehearse.ui.pages.routine.deeds import Deeds
from rehearse.ui.pages.routine.findings import Findings
from rehearse.ui.pages.routine.keys import make_actions
from rehearse.ui.pages.routine.lane import PoseLane
from rehearse.ui.pages.routine.ownpose import OwnPosePanel
from rehearse.ui.pages.routine.picker import PosePicker
from rehearse.ui.pages.routine.playing import Playing
from rehearse.ui.pages.routine.rows import PoseRows
from rehearse.ui.pages.routine.sections import SectionStrip
from rehearse.ui.pages.routine.side import SUGGESTIONS, Side
from rehearse.ui.pages.routine.spans import Spans
from rehearse.ui.pages.routine.table import PoseTable
from rehearse.ui.pages.routine.topbar import TopBar
from rehearse.ui.wave.view import WaveView

#: Seconds of music in view when a song comes up.
FIRST_VIEW = 30.0


class _Lower(QStackedWidget):
    """What lies under the lane, one at a time; it takes what room there is."""

    def hasHeightForWidth(self) -> bool:
        """Wrapped texts inside never ask the music above to make room."""
        return False


class RoutinePage(QWidget):
    """Poses on the music, changed again and again."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.spans, self.thumbs = Spans(desk), Thumbs()
        self.choice = Choice(desk)
        self.choreography = Choreography(desk, self.choice)
        self.playing = Playing(desk, self.choice)
        self.findings = Findings(desk, self.choreography)
        self.actions_by_name = make_actions(self)
        self.ask = AskLine()
        self.bar = TopBar(self.choice, self.playing, self.actions_by_name, self.thumbs)
        self.wave = WaveView()
        self.strip = SectionStrip(self.choreography, self.spans)
        self.lane = PoseLane(self.choreography, self.spans, self.thumbs)
        self.rows = PoseRows(desk, self.choreography, self.spans, self.thumbs)
        self.table = PoseTable(self.rows, self.choice)
        self.card = PoseCard(self.choreography, self.spans, self.thumbs)
        self.side = Side(desk, self.findings, self.ask)
        self.picker = PosePicker(desk, self.thumbs)
        self.own = OwnPosePanel(desk)
        self._lay_out()
        self.deeds = Deeds(self)
        self._connect()
        self._show_track()

    @property
    def desk(self) -> Desk:
        """The open routine."""
        return self._desk

    def leave(self) -> None:
        """The window closes."""
        self.playing.stop()
        self.side.copy.close_copy()

    def hideEvent(self, event: QHideEvent) -> None:
        """Another page comes up: its sounds are not mixed with these."""
        if not event.spontaneous():
            self.playing.stop()
        super().hideEvent(event)

    def _lay_out(self) -> None:
        overview = QWidget()
        row = QHBoxLayout(overview)
        row.setContentsMargins(0, theme.STEP, 0, 0)
        row.setSpacing(theme.STEP)
        self.side.setFixedWidth(44 * theme.STEP)
        row.addWidget(self.card)
        row.addWidget(self.table, 1)
        row.addWidget(self.side)
        self.lower = _Lower()
        for widget in (overview, self.picker, self.own):
            self.lower.addWidget(widget)
        self._overview = overview
        self.lower.setMinimumHeight(15 * theme.STEP)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        for widget in (self.bar, self.strip, self.wave, self.lane, self.ask):
            column.addWidget(widget)
        column.addWidget(self.lower, 1)

    def _connect(self) -> None:
        desk = self._desk
        desk.documentChanged.connect(self._refresh)
        desk.trackChanged.connect(self._show_track)
        self.wave.rangeChanged.connect(self._show_range)
        self.wave.cursorMoved.connect(self._cursor_by_hand)
        self.choice.cursorChanged.connect(self._show_cursor)
        self.playing.ticked.connect(self._show_music)
        self.playing.changed.connect(self._show_music)
        self.lane.sought.connect(self.playing.go)
        self.lane.zoomed.connect(self._zoom)
        self.lane.scrolled.connect(self._scroll)
        self.findings.changed.connect(self._show_findings)
        desk.undo.undoTextChanged.connect(self.bar.show_step)

    def show_overview(self) -> None:
        """Bring the table back after a pose was picked, or not."""
        self.lower.setCurrentWidget(self._overview)
        self.setFocus()

    @Slot()
    def _refresh(self) -> None:
        beatmap = self._desk.beatmap
        if beatmap is not self._shown_map:
            self._shown_map = beatmap
            self.wave.set_map(beatmap if self._desk.track else None)
        self.thumbs.folder = self._desk.folder
        self.rows.refresh()
        self.strip.refresh()
        self.lane.update()
        self.card.refresh()

    @Slot()
    def _show_track(self) -> None:
        track = self._desk.track
        self._shown_map = None
        self.wave.set_track(track)
        longest = track.duration if track else 0.0
        if track:
            self.wave.set_range(0.0, min(longest, FIRST_VIEW))
        self._refresh()
        self._show_range()
        self.findings.look()
        self.thumbs.paint_ahead(self._desk.catalogue.poses)

    @Slot()
    def _show_range(self) -> None:
        scale, beatmap = self.wave.scale, self._desk.beatmap
        if not self.wave.duration and beatmap is not None:
            # The song is still being read: the poses are there already.
            scale = replace(scale, start=0.0, end=min(FIRST_VIEW, beatmap.duration))
        for widget in (self.lane, self.strip):
            widget.show_scale(scale)

    @Slot(float)
    def _cursor_by_hand(self, time: float) -> None:
        if abs(time - self.choice.cursor) > 1e-9:
            self.choice.select("")
            self.playing.go(time)

    @Slot()
    def _show_cursor(self) -> None:
        if not self.playing.on and self.wave.duration:
            self.wave.set_cursor(self.choice.cursor)
        if self.choice.selected is None or self.playing.on:
            self.card.show_time(self.choice.cursor)

    @Slot()
    def _show_music(self) -> None:
        on = self.playing.on
        if on != self.lane.playing:
            self.lane.playing = on
            self.lane.update()
        self.wave.set_playhead(self.choice.cursor if on else None)
        if on:
            self.wave.show_time(self.choice.cursor)
        else:
            self._show_cursor()
            self.card.refresh()

    @Slot()
    def _show_findings(self) -> None:
        marked = self.findings.marked
        self.rows.mark(marked)
        self.lane.marked = marked
        self.lane.limit = self.findings.limit
        self.show_offers()

    def show_offers(self) -> None:
        """Suggestions stand in the lane while their list is up."""
        offers = self.findings.suggestions if self.side.panel == SUGGESTIONS else ()
        find = self._desk.catalogue.find
        self.lane.offered = tuple((s.time, find(s.poses[0])) for s in offers if s.poses)
        self.lane.update()

    @Slot(float, float)
    def _zoom(self, steps: float, about: float) -> None:
        self.wave.zoom(1.25**steps, about)

    @Slot(float)
    def _scroll(self, steps: float) -> None:
        self.wave.scroll(0.15 * steps)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Small windows keep room for the table; the lane and the wave give way."""
        small, narrow = self.height() < 640, self.width() < 1100
        self.card.setFixedWidth((17 if narrow else 26) * theme.STEP)
        self.lane.setFixedHeight((14 if small else 22) * theme.STEP)
        # The wave keeps its height while a question or sections come and go beneath it.
        least = (20 if small else 24) * theme.STEP
        self.wave.setFixedHeight(max(least, (self.height() - 33 * theme.STEP) * 2 // 5))
        self.bar.done.setVisible(not narrow)
        self._show_range()
        super().resizeEvent(event)

    def event(self, event: QEvent) -> bool:
        """Where text is written, letters and Return belong to the text, not to the gestures."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            focus = self.window().focusWidget()
            writing = isinstance(focus, QLineEdit | QPlainTextEdit | QComboBox)
            pressing = isinstance(focus, QAbstractButton) and event.key() == Qt.Key.Key_Space
            if writing or pressing:
                event.accept()
                return True
        return super().event(event)
