"""A new routine: choose a song, see its map being made, choose the limit, go on to the poses."""

from __future__ import annotations

import shutil
from pathlib import Path

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QWidget,
)

from rehearse.files.user_error import UserError
from rehearse.music.analysis.analyse import analyse
from rehearse.music.beatmap import BeatMap
from rehearse.music.decode import load_track
from rehearse.music.track import Track
from rehearse.routine.start import FIRST_RULES, describe, stage_part, start_routine, title_of
from rehearse.ui import file_dialog, theme
from rehearse.ui.flows.flow import Flow
from rehearse.ui.flows.opening import SONGS, music_folder, place_of
from rehearse.ui.flows.rulebox import RuleBox
from rehearse.ui.jobs import RunningJob
from rehearse.ui.settings import Settings
from rehearse.ui.status import FLOW
from rehearse.ui.wave.wave_view import WaveView
from rehearse.ui.wish import READING
from rehearse.ui.workspace import Workspace
from rehearse.words import _, shown

#: Pixels of the waveform, at least.
LEAST = 12 * theme.STEP
_MEANWHILE = _("The beat map is being made; meanwhile choose the title and the rules.")
_COMING = _(
    "The beat map is being made; then the Routine page opens with poses on "
    "the music's accents. Change the title or the rules here, and it waits "
    "for you."
)


def ask_song(parent: QWidget, settings: Settings) -> Path | None:
    """Ask for the song's file, beginning where the last one lay; None when none was chosen."""
    last = music_folder(settings.get("songs", ""))
    name = file_dialog.open_file(parent, _("Choose a song"), last, SONGS)
    if not name:
        return None
    settings.put("songs", str(Path(name).parent))
    return Path(name)


class NewRoutine(Flow):
    """Song, title, limit, place; the map is made while these are filled in.

    Args:
        goes_on: the routine is made by itself once the map is there, unless something was filled
            in meanwhile: then it waits for Enter.

    Signals:
        made: the routine is open.
    """

    made = Signal()

    def __init__(self, workspace: Workspace, *, goes_on: bool = False) -> None:
        super().__init__(workspace, _("New routine"))
        self.goes_on = goes_on
        self._song: Path | None = None
        self._track: Track | None = None
        self._beatmap: BeatMap | None = None
        self._running: RunningJob | None = None
        self.choose = QPushButton()
        self.song = QLabel()
        self.song.setProperty("role", "body")
        self.form = QWidget()
        self.wave = WaveView()
        self.wave.setMinimumHeight(LEAST)  # what is written comes first in a low window
        self.title = QLineEdit(maxLength=80)
        self.rules = RuleBox(workspace, None, workspace.settings.get("rules", "") or FIRST_RULES)
        self.about = QLabel(wordWrap=True)
        self.about.setProperty("role", "dim")
        self.place = QLineEdit(str(place_of(workspace)))
        self._lay_out()
        self.choose.clicked.connect(self.ask_song)
        self.title.textChanged.connect(self._refresh)
        for filled_in in (self.title.textEdited, self.rules.activated, self.place.textEdited):
            filled_in.connect(self._wait)
        self.rules.currentIndexChanged.connect(self._refresh)
        workspace.jobChanged.connect(self._watch)
        self._refresh()
        self.setFocusProxy(self.choose)

    def _lay_out(self) -> None:
        row = QHBoxLayout()
        row.setSpacing(2 * theme.STEP)
        row.addWidget(self.choose)
        row.addWidget(self.song, 1)
        self.body.addLayout(row)
        self.body.addWidget(self.wave, 1)
        self.body.addWidget(self.form)
        self.body.addStretch(0)
        form = QGridLayout(self.form)
        form.setContentsMargins(0, 0, 0, 0)
        form.setHorizontalSpacing(2 * theme.STEP)
        form.setVerticalSpacing(theme.STEP)
        change = QPushButton(_("Change"))
        change.setAccessibleName(_("Change where the routine is kept"))
        change.clicked.connect(self.ask_place)
        fields = ((self.title, _("&Title")), (self.rules, _("&Rules")), (self.place, _("&Save in")))
        for number, (field, words) in enumerate(fields):
            label = QLabel(words)
            label.setBuddy(field)
            field.setAccessibleName(words.replace("&", ""))
            form.addWidget(label, number, 0)
            form.addWidget(field, number, 1)
        form.addWidget(self.about, 1, 2)
        form.addWidget(change, 2, 2, Qt.AlignmentFlag.AlignLeft)
        form.setColumnStretch(1, 2)
        form.setColumnStretch(2, 3)

    @Slot()
    def ask_song(self) -> None:
        """Ask for the song's file."""
        if song := ask_song(self, self.workspace.settings):
            self.take_path(song)

    @Slot()
    def ask_place(self) -> None:
        """Ask for the folder that new routines are put in."""
        if chosen := file_dialog.open_folder(self, _("Keep routines in"), self.place.text()):
            self.place.setText(chosen)
            self._wait()

    @Slot()
    def _wait(self) -> None:
        """Something is filled in: the routine is made when Enter says so."""
        if self.goes_on:
            self.goes_on = False
            self._refresh()

    def take_path(self, path: Path) -> None:
        """Take this song and begin its map."""
        self._stop()
        self._song, self._track, self._beatmap = path, None, None
        self.wave.set_track(None)
        self.wave.set_map(None)
        self.song.setText(path.name)
        self.title.setText(title_of(path))
        self.workspace.standing.mend(FLOW)
        self._running = self.workspace.run_job(
            READING, load_track, path, done=self._read, failed=self._failed
        )
        self.title.setFocus()
        self.title.selectAll()
        self._refresh()

    def _read(self, track: Track) -> None:
        self._track = track
        self.wave.set_track(track)
        self._running = self.workspace.run_job(
            _("Making the beat map"), analyse, track, done=self._mapped, failed=self._failed
        )
        self._refresh()

    def _mapped(self, beatmap: BeatMap) -> None:
        self._running, self._beatmap = None, beatmap
        self.wave.set_map(beatmap)
        self._refresh()
        if self.goes_on:
            QTimer.singleShot(0, self, self.do_main)

    def _failed(self, error: UserError) -> None:
        self._running = self._song = None
        self.song.clear()
        self.workspace.standing.stand(FLOW, error.sentence)
        self._refresh()
        self.choose.setFocus()

    @Slot()
    def _refresh(self) -> None:
        chosen, ready = self._song is not None, self._beatmap is not None
        self.about.setText(self._about())
        self.offer(_("Make the routine"), ready=ready and bool(self.title.text().strip()))
        for part in (self.wave, self.form, self.main):
            part.setVisible(chosen)
        words = _("Another song") if chosen else _("Choose a song   Space")
        self.choose.setText(words)
        self.choose.setAccessibleName(words)
        self.choose.setProperty("role", "" if chosen else "main")
        self.choose.style().polish(self.choose)
        if not chosen:
            self.say(_("Press Space to choose a song, or drop one here; the routine gets a copy."))
        elif not ready or self._beatmap is None:
            self.say(_COMING if self.goes_on else _MEANWHILE)
        else:
            self.say(
                _(
                    "{describe} It can be corrected on the Music page.",
                    describe=describe(self._beatmap),
                )
            )

    def _about(self) -> str:
        rules = self.rules.chosen
        part = stage_part(self._beatmap, rules) if self._beatmap else None
        if part is not None:
            return _(
                "The first {length:g} s are used until you choose another part.", length=part.length
            )
        limit = _("No limit") if rules.limit is None else _("{limit:g} s", limit=rules.limit)
        return f"{limit}; {shown(rules.note)}."

    def do_main(self) -> None:
        """Make the folder, open it."""
        if self._song is None or self._beatmap is None:
            return
        self.goes_on = False  # where it cannot be made it is not tried again and again
        if not self.workspace.save():  # what is open now: nothing is made that cannot be gone on to
            return
        rules = self.rules.chosen
        place = Path(self.place.text()).expanduser()
        try:
            folder = start_routine(place, self._song, self._beatmap, rules, self.title.text())
        except UserError as error:
            self.workspace.standing.stand(FLOW, error.sentence)
            return
        if not self.workspace.open(folder, self._track):
            shutil.rmtree(folder, ignore_errors=True)  # the song it was made of is where it was
            return
        self.workspace.settings.put("routines", str(place))
        self.workspace.settings.put("rules", rules.key)
        self.made.emit()
        self.closed.emit()

    def leave(self) -> None:
        """Stop what is under way and go back."""
        self._stop()
        super().leave()

    def _stop(self) -> None:
        running, self._running = self._running, None
        if running is not None:
            self.workspace.stop_job(running)

    @Slot()
    def _watch(self) -> None:
        """Begin again when the work was stopped from outside."""
        if self._running is not None and self._running.stopped:
            self._running = self._song = None
            self.song.clear()
            self._refresh()
            self.choose.setFocus()
