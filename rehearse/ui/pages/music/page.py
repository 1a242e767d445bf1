"""The Music page: see and hear the beat map, put it right, set the part used on stage."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QHideEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from rehearse.ui import actions, theme
from rehearse.ui.bindings import Bindings, Slots
from rehearse.ui.pages.music.accent_view import AccentView
from rehearse.ui.pages.music.controls import Controls, FooterRow, group
from rehearse.ui.pages.music.corrections import NUDGE, Corrections, summary
from rehearse.ui.pages.music.layers import BAND, JoinLayer, PinLayer, StageLayer
from rehearse.ui.pages.music.mapping import Mapping
from rehearse.ui.pages.music.page_state import CHOOSE, MAP, READ, MusicPageState
from rehearse.ui.pages.music.readings_controller import ReadingsController
from rehearse.ui.pages.music.song_playback import SongPlayback
from rehearse.ui.pages.music.songfile import SongFile
from rehearse.ui.pages.music.stage import StageLine
from rehearse.ui.pages.music.tapping import Tapping
from rehearse.ui.wave.overview import Overview
from rehearse.ui.wave.wave_view import WaveView
from rehearse.ui.widgets import LastStep
from rehearse.ui.workspace import Workspace
from rehearse.words import _

#: Seconds before a beat from which its count is shown.
_EARLY = 0.012


class MusicPage(QWidget):
    """The song and its beat map.

    Signals:
        cutAsked: the song is to be cut. counted: as of `ReadingsController`.
    """

    cutAsked = Signal()
    counted = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self.view = WaveView()
        self.view.below = BAND
        self.corrections = Corrections(workspace, self.view)
        self.mapping = Mapping(workspace, self.view, self.corrections)
        self.song_playback = SongPlayback(workspace, self.view)
        self.tapping, self.four = Tapping(self.song_playback), Tapping(self.song_playback, enough=4)
        self.readings = ReadingsController(
            workspace, self.view, self.corrections, self.song_playback
        )
        self.stage = StageLine(workspace, self.view)
        self.files = SongFile(workspace, self, self.corrections)
        self.state = MusicPageState(
            workspace, self.mapping, self.song_playback, self.tapping, self.four, self.readings
        )
        self.view.add_layer(StageLayer(self.stage))
        self.view.add_layer(JoinLayer(workspace))
        self.view.add_layer(PinLayer(self.mapping, self.tapping))
        self.view.add_layer(PinLayer(self.mapping, self.four))
        self.bindings = Bindings(self, actions.ON_MUSIC_PAGE, self._slots())
        self.controls = Controls(self.bindings)
        self._lay_out()
        self.setFocusProxy(self.view)
        self.setAcceptDrops(True)
        workspace.trackChanged.connect(self._track_changed)
        workspace.documentChanged.connect(self._refresh)
        workspace.jobChanged.connect(self._tell)
        workspace.wish.changed.connect(self._note)
        self.view.cursorMoved.connect(self.readings.moved_on)
        self.view.cursorMoved.connect(self._tell)
        self.view.selectionChanged.connect(self._tell)
        self.song_playback.changed.connect(self._tell)
        self.song_playback.heard.connect(self._show_place)
        workspace.undo.undoTextChanged.connect(self.done.show_step)
        self.tapping.changed.connect(self._tapped)
        self.tapping.ended.connect(self.mapping.tapped)
        self.four.changed.connect(self._tapped)
        self.four.ended.connect(self.readings.tapped)
        self.readings.changed.connect(self._tell)
        self.readings.counted.connect(self.counted)
        self._track_changed()

    def _slots(self) -> Slots:
        fix = self.corrections
        return {
            "twice": fix.twice,
            "half": fix.half,
            "one": fix.one,
            "eight": fix.eight,
            "tap": self.tapping.tap,
            "pin_beat": self.mapping.pin,
            "find_beats": self.mapping.again,
            "doubt": fix.doubt,
            "reading": self.readings.next,
            "four": self.four.tap,
            "earlier_5ms": partial(fix.nudge, -NUDGE),
            "later_5ms": partial(fix.nudge, NUDGE),
            "earlier_half": partial(fix.shift, -0.5),
            "later_half": partial(fix.shift, 0.5),
            "earlier_one": partial(fix.shift, -1),
            "later_one": partial(fix.shift, 1),
            "add_accent": fix.accent,
            "delete_accent": fix.strike,
            "accent_before": lambda: self.accents.step(-1),
            "accent_after": lambda: self.accents.step(1),
            "free": fix.free,
            "stage_start": self.stage.begin_here,
            "stage_end": self.stage.end_here,
            "whole": self.stage.whole,
            "cut": self._cut,
            "song": self.files.choose_song,
            "read": self.files.read_beats,
            "write": self.files.write_beats,
            "listen": self.main_action,
            "clicks": self._toggle_clicks,
            "take_taps": self.tapping.finish,
            "drop_taps": self._escape,
        }

    # -- layout ---------------------------------------------------------------------------
    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(3 * theme.STEP, theme.STEP, 3 * theme.STEP, 2 * theme.STEP)
        column.setSpacing(theme.STEP)
        column.addLayout(self._head())
        column.addWidget(self.view, 1)
        column.addWidget(Overview(self.view))
        column.addWidget(self._foot())

    def _head(self) -> QHBoxLayout:
        self.main = QPushButton()
        self.main.setProperty("role", "main")
        self.main.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.main.clicked.connect(self._main)
        self.clicks = QCheckBox()
        self.clicks.setChecked(True)
        self.bindings.dress(self.clicks, "clicks")
        self.clicks.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.clicks.toggled.connect(self.song_playback.set_clicks)
        self.place = QLabel()
        self.place.setProperty("role", "body")
        self.place.setMinimumWidth(14 * theme.STEP)
        self.count = QLabel()
        self.count.setProperty("role", "display")
        self.count.setMinimumWidth(14 * theme.STEP)
        self.done = LastStep()
        self.words = QLabel()
        self.words.setProperty("role", "dim")
        self.words.setAccessibleName(_("The map in words"))
        row = QHBoxLayout()
        row.setSpacing(2 * theme.STEP)
        for widget in (self.main, self.clicks, self.count, self.place):
            row.addWidget(widget)
        row.addWidget(self.done, 1)
        row.addWidget(self.words)
        return row

    def _foot(self) -> QWidget:
        make = self.controls
        self.scope = QLabel()
        steps = [make.button(action) for action in actions.ACCENTS]
        for button, arrow in zip(steps, "←→", strict=True):
            button.setText(arrow)
        self.accents = AccentView(self._workspace, self.view, *steps)
        more = make.menu(
            actions.MORE,
            _("More"),
            (*actions.COUNTS, *(a for _unused, *pair in actions.SHIFTS for a in pair)),
            (actions.BAR,),
            actions.MARKS,
            (actions.SONG, *actions.LISTS),
        )
        bars = [
            (_("&{n} counts in a bar", n=n), partial(self.corrections.bar, n)) for n in range(2, 8)
        ]
        make.choices(actions.BAR, bars, more)
        common = make.grid(actions.COMMON, len(actions.COMMON))
        common.addWidget(more, 0, len(actions.COMMON))
        groups = (
            group(self.scope, common),
            group(self.accents.words, self.accents),
            group(QLabel(_("Song")), make.grid((actions.CUT_SONG,), 1)),
            group(self.stage.length, make.grid(actions.STAGE, 3), self.stage),
        )
        return FooterRow(*groups)

    # -- what is shown --------------------------------------------------------------------
    @Slot()
    def _track_changed(self) -> None:
        self.song_playback.stop()
        self.mapping.pins.clear()
        self.view.set_track(self._workspace.track)
        self.stage.refresh()
        self._refresh()
        beatmap = self._workspace.beatmap
        if self._workspace.track is not None and (beatmap is None or not beatmap.duration):
            self.mapping.map_song()

    @Slot()
    def _refresh(self) -> None:
        beatmap = self._workspace.beatmap if self.mapping.fits else None
        self.view.set_map(beatmap if self._workspace.track else None)
        self.words.setText(summary(beatmap) if beatmap else "")
        self._tell()

    @Slot()
    def _note(self) -> None:
        """Say how far the song is where it will stand."""
        self.view.set_note(self._workspace.wish.state)

    @Slot()
    def _tell(self) -> None:
        """Say what Space does, where the cursor is and what corrections apply to."""
        self.bindings.dress(self.main, "listen", self.state.action)
        self._show_place(self.song_playback.now())
        selected = self.view.selection
        if selected is None:
            self.scope.setText(_("Counts of the whole song"))
        else:
            a, b = (
                self.view.place_in_words(t).split("   ")[0] for t in (selected.start, selected.end)
            )
            self.scope.setText(
                _(
                    "Counts from {a} to {b}, {end:.1f} s",
                    a=a,
                    b=b,
                    end=selected.end - selected.start,
                )
            )

    @Slot(float)
    def _show_place(self, time: float) -> None:
        """The count and the second of the cursor, while the song plays of what is heard."""
        sentence, beatmap = self.state.sentence, self._workspace.beatmap
        count = ""
        if beatmap is not None and self.view.duration:
            index = beatmap.beat_at(time + _EARLY)
            count = str(beatmap.counts[index]) if index is not None else _("free")
        self.count.setText(count)
        self.count.setVisible(not sentence)
        self.words.setVisible(not sentence)  # on a narrow screen the sentence needs the room
        self.place.setText(sentence or self.view.place_in_words(time).split("   ")[-1])
        what = _("Heard now") if self.song_playback.on else _("Place of the cursor")
        self.place.setAccessibleName(f"{what}: {self.count.text()} {self.place.text()}")

    # -- what is done ---------------------------------------------------------------------
    @Slot()
    def main_action(self) -> None:
        """Space: what the main button says."""
        self.main.click()

    @Slot()
    def _main(self) -> None:
        acts = {
            CHOOSE: self.files.choose_song,
            READ: self._workspace.decode,
            MAP: self.mapping.map_song,
        }
        acts.get(self.state.action, self.song_playback.toggle)()

    def _cut(self) -> None:
        """Cut the song, once it is there and its map is its own."""
        workspace = self._workspace
        if workspace.track is None:
            workspace.wish.ask(_("It can be cut"), self._cut)
        elif self.corrections.hindrance:
            workspace.notice.say(self.corrections.hindrance)
        else:
            self.cutAsked.emit()

    @Slot()
    def _tapped(self) -> None:
        self.view.refresh()
        self._tell()

    def _toggle_clicks(self) -> None:
        self.clicks.click()

    @Slot()
    def _escape(self) -> None:
        if self.tapping.waiting or self.four.waiting:
            self.tapping.drop()
            self.four.drop()
        elif self.view.selection is not None:
            self.view.select(None)
        elif self.readings.sentence:
            self.readings.moved_on()
        else:
            self._workspace.errorRaised.emit("")

    def leave(self) -> None:
        """Stop the music before the window goes."""
        self.song_playback.stop()

    def hideEvent(self, event: QHideEvent) -> None:
        """Another page is shown: stop the music."""
        self.song_playback.stop()
        super().hideEvent(event)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """A song may be dropped; a folder is the window's."""
        if any(Path(url.toLocalFile()).is_file() for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Use the dropped song."""
        self.files.use_song(Path(event.mimeData().urls()[0].toLocalFile()))
