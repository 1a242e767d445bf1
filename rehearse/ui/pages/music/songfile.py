"""Files of the Music page: another song, beat lists."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtWidgets import QWidget

from rehearse.files.user_error import UserError
from rehearse.music.beatlist import export_beats, import_beats
from rehearse.music.song_import import import_song
from rehearse.music.track import Track
from rehearse.music.trim import SHORTEST, fit_fades
from rehearse.routine.model import StagePart
from rehearse.ui import file_dialog
from rehearse.ui.flows.opening import SONGS
from rehearse.ui.jobs import RunningJob
from rehearse.ui.pages.music.corrections import FOLLOW, Corrections
from rehearse.ui.wish import READING
from rehearse.ui.workspace import Workspace
from rehearse.words import _

_LISTS = _("Beat lists (*.beats *.txt);;All files (*)")


class SongFile:
    """Asks for files and takes them into the routine."""

    def __init__(self, workspace: Workspace, window: QWidget, corrections: Corrections) -> None:
        self._workspace, self._window, self._corrections = workspace, window, corrections
        self._reading: RunningJob | None = None

    def choose_song(self) -> None:
        """Ask for a song and use it in this routine."""
        if path := file_dialog.open_file(self._window, _("Choose a song"), self._start(), SONGS):
            self.use_song(Path(path))

    def use_song(self, song: Path) -> None:
        """Read `song` and copy it into the routine's folder; only then it is the routine's."""
        folder = self._workspace.folder
        if folder is None or self._workspace.routine is None:
            return
        if self._reading is not None:
            self._workspace.stop_job(self._reading)
        self._workspace.errorRaised.emit("")
        self._reading = self._workspace.run_job(
            READING, import_song, song, folder, done=self._brought
        )

    def _brought(self, brought: tuple[str, Track]) -> None:
        name, track = brought
        routine = self._workspace.routine
        if routine is not None:
            stage = fit_stage(routine.stage, track.duration)
            self._workspace.use_song(replace(routine, track=name, stage=stage, cut=None), track)

    def read_beats(self) -> None:
        """Ask for a beat list and take its beats."""
        if path := file_dialog.open_file(self._window, _("Import beats"), self._start(), _LISTS):
            self.take_beats(Path(path))

    def take_beats(self, path: Path) -> None:
        """Take the beats of a list."""
        self._corrections.apply(
            _("import beats"), lambda old: import_beats(path, old), follow=FOLLOW
        )

    def write_beats(self) -> None:
        """Ask where to, and write the beats as a list."""
        if self._workspace.beatmap is None:
            self._workspace.notice.say(_("There is no beat map yet – press Space to map the song."))
            return
        start = str(Path(self._start()) / "song.beats")
        path = file_dialog.save_file(self._window, _("Export beats"), start, _LISTS)
        if not path:
            return
        try:
            export_beats(Path(path), self._workspace.beatmap)
        except UserError as error:
            self._workspace.errorRaised.emit(error.sentence)

    def _start(self) -> str:
        return str(self._workspace.folder or "")


def fit_stage(stage: StagePart | None, duration: float) -> StagePart | None:
    """The stage part as far as a song of `duration` seconds has it; None: all of the song."""
    if stage is None or stage.end <= duration:
        return stage
    if stage.start > duration - SHORTEST:
        return None
    fades = fit_fades(duration - stage.start, stage.fade_in, stage.fade_out)
    return StagePart(stage.start, round(duration, 6), *fades)
