"""Files of the Music page: another song, beat lists."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QWidget

from rehearse.files.atomic import fault_of
from rehearse.files.fault import Fault
from rehearse.music.beatlist import export_beats, import_beats
from rehearse.ui.desk import Desk
from rehearse.ui.pages.music.corrections import FOLLOW, Corrections

_SONGS = (
    "Songs (*.wav *.aif *.aiff *.flac *.ogg *.opus *.mp3 *.m4a *.aac *.mp4 *.webm);;All files (*)"
)
_LISTS = "Beat lists (*.beats *.txt);;All files (*)"


class SongFile:
    """Asks for files and takes them into the routine."""

    def __init__(self, desk: Desk, window: QWidget, corrections: Corrections) -> None:
        self._desk, self._window, self._corrections = desk, window, corrections

    def choose_song(self) -> None:
        """Ask for a song and use it in this routine."""
        path, _ = QFileDialog.getOpenFileName(self._window, "Choose a song", self._start(), _SONGS)
        if path:
            self.use_song(Path(path))

    def use_song(self, song: Path) -> None:
        """Copy `song` into the routine's folder and read it."""
        folder, routine = self._desk.folder, self._desk.routine
        if folder is None or routine is None:
            return
        target = folder / song.name
        try:
            if song.resolve() != target.resolve():
                if target.exists():
                    target = _free(target)
                shutil.copyfile(song, target)
        except OSError as error:
            self._desk.faultRaised.emit(fault_of(error, song).sentence)
            return
        self._desk.edit(f"use {target.name}", routine=replace(routine, track=target.name))
        self._desk.decode()

    def read_beats(self) -> None:
        """Ask for a beat list and take its beats."""
        path, _ = QFileDialog.getOpenFileName(
            self._window, "Read a beat list", self._start(), _LISTS
        )
        if path:
            self.take_beats(Path(path))

    def take_beats(self, path: Path) -> None:
        """Take the beats of a list."""
        self._corrections.apply(
            "read a beat list", lambda old: import_beats(path, old), follow=FOLLOW
        )

    def write_beats(self) -> None:
        """Ask where to, and write the beats as a list."""
        if self._desk.beatmap is None:
            self._desk.faultRaised.emit("There is no beat map yet – press Space to map the song.")
            return
        start = str(Path(self._start()) / "song.beats")
        path, _ = QFileDialog.getSaveFileName(self._window, "Write a beat list", start, _LISTS)
        if not path:
            return
        try:
            export_beats(Path(path), self._desk.beatmap)
        except Fault as fault:
            self._desk.faultRaised.emit(fault.sentence)

    def _start(self) -> str:
        return str(self._desk.folder or "")


def _free(path: Path) -> Path:
    number = 2
    while (free := path.with_name(f"{path.stem} {number}{path.suffix}")).exists():
        number += 1
    return free
