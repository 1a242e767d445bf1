"""The Routine page: music above, poses on it, the same as a table below, what to say beside.

Every gesture is an edit in `choreography`; this module only joins widgets, keys and workspace.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import Slot
from PySide6.QtGui import QHideEvent, QResizeEvent, QShowEvent

from rehearse.music.beatmap import BeatMap
from rehearse.ui.pages.routine.controller import RoutineController
from rehearse.ui.pages.routine.page_layout import RoutineLayout
from rehearse.ui.pages.routine.panel_stack import REMARKS
from rehearse.ui.workspace import Workspace

#: Seconds of music in view when a song comes up.
FIRST_VIEW = 30.0


class RoutinePage(RoutineLayout):
    """Poses on the music, changed again and again."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._shown_map: BeatMap | None = None
        self._followed = ("", -1.0)
        self.controller = RoutineController(self)
        self._connect()
        self.panels.remarks.refresh()
        self._show_track()

    @Slot()
    def main_action(self) -> None:
        """Space: play from the cursor, stop."""
        self.playing.toggle()

    def leave(self) -> None:
        """The window closes."""
        self.playing.stop()
        self.panels.copy.close_copy()

    def showEvent(self, event: QShowEvent) -> None:
        """It comes up, perhaps after a film was read."""
        super().showEvent(event)
        self.findings.ask_films()

    def hideEvent(self, event: QHideEvent) -> None:
        """Another page comes up: its sounds are not mixed with these."""
        if not event.spontaneous():
            self.playing.stop()
        super().hideEvent(event)

    def _connect(self) -> None:
        workspace = self._workspace
        workspace.documentChanged.connect(self._refresh)
        workspace.trackChanged.connect(self._show_track)
        workspace.wish.changed.connect(self._note)
        self.wave.rangeChanged.connect(self._show_range)
        self.wave.cursorMoved.connect(self._cursor_by_hand)
        self.editor.cursorChanged.connect(self._show_cursor)
        self.playing.ticked.connect(self._show_music)
        self.playing.changed.connect(self._show_music)
        self.lane.sought.connect(self.playing.go)
        self.lane.zoomed.connect(self._zoom)
        self.lane.scrolled.connect(self._scroll)
        self.findings.changed.connect(self._show_findings)
        self.panels.remarks.pointed.connect(self._go_to_remark)
        self.panels.remarks.openChanged.connect(self._show_open_remarks)
        workspace.undo.undoTextChanged.connect(self.bar.done.show_step)

    @Slot()
    def _refresh(self) -> None:
        beatmap = self._workspace.beatmap
        if beatmap is not self._shown_map:
            self._shown_map = beatmap
            self.show_map(beatmap)
        self.thumbs.folder = self.move_picker.folder = self._workspace.folder
        self.rows.refresh()
        self.strip.refresh()
        self.lane.update()
        self.card.refresh()
        self._follow()

    def _follow(self) -> None:
        """Turn the page to the selected pose when an edit put it elsewhere, or put it in."""
        span = self.timings.find(self._workspace.selected)
        now = (span.placed.id, span.hit) if span else ("", -1.0)
        moved, self._followed = now != self._followed, now
        if span and moved and not (self.playing.on or self.lane.drags or not self.wave.duration):
            self.wave.show_time(span.hit)

    @Slot()
    def _note(self) -> None:
        """Say how far the song is where it will stand."""
        self.wave.set_note(self._workspace.wish.state)

    @Slot()
    def _show_track(self) -> None:
        self._note()
        track = self._workspace.track
        self._shown_map = None
        self.wave.set_track(track)
        longest = track.duration if track else 0.0
        if track:
            self.wave.set_range(0.0, min(longest, FIRST_VIEW))
        self._refresh()
        self._show_range()
        self.findings.look()
        self.thumbs.paint_ahead(self._workspace.catalogue.poses)

    @Slot()
    def _show_range(self) -> None:
        scale, beatmap = self.wave.scale, self._workspace.beatmap
        if not self.wave.duration and beatmap is not None:
            # The song is still being read: the poses are there already.
            scale = replace(scale, start=0.0, end=min(FIRST_VIEW, beatmap.duration))
        for widget in (self.lane, self.strip):
            widget.show_scale(scale)

    @Slot(float)
    def _cursor_by_hand(self, time: float) -> None:
        if abs(time - self.editor.cursor) > 1e-9:
            self.editor.select("")
            self.playing.go(time)

    @Slot()
    def _show_cursor(self) -> None:
        if not self.playing.on and self.wave.duration:
            self.wave.set_cursor(self.editor.cursor)
        if self.editor.selected is None or self.playing.on:
            self.card.show_time(self.editor.cursor)

    @Slot()
    def _show_music(self) -> None:
        on = self.playing.on
        if on != self.lane.scene.playing:
            self.lane.scene.playing = on
            self.lane.update()
        self.wave.set_playhead(self.editor.cursor if on else None)
        if on:
            self.wave.show_time(self.editor.cursor)
        else:
            self._show_cursor()
            self.card.refresh()

    @Slot()
    def _show_findings(self) -> None:
        marked = self.findings.marked
        self.rows.mark(marked)
        self.lane.scene.marked = marked
        self.lane.scene.limit = self.findings.limit
        self.show_offers()

    @Slot(str, float)
    def _go_to_remark(self, pose_id: str, time: float) -> None:
        self.editor.select(pose_id)
        if not pose_id:
            self.playing.go(time)
        self.wave.show_time(time)

    @Slot()
    def _show_open_remarks(self) -> None:
        self.rows.mark_remarks(self.panels.remarks.open_on)

    def take_remarks(self, path: Path) -> None:
        """A file of remarks was dropped."""
        self.panels.show_panel(REMARKS)
        self.panels.remarks.open(path)

    @Slot(float, float)
    def _zoom(self, steps: float, about: float) -> None:
        self.wave.zoom(1.25**steps, about)

    @Slot(float)
    def _scroll(self, steps: float) -> None:
        self.wave.scroll_by(0.15 * steps)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Lane and strip go along with the wave."""
        super().resizeEvent(event)
        self._show_range()
