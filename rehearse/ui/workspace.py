"""The open routine on the main thread: what every page looks at and edits.

Pages subscribe in their constructors and never talk to each other. Documents are immutable;
`edit` swaps them through one undo command and they are on disk within two seconds. Where the
music is, its tempo and what loops belong to the session and are not documents.

Heavy parts (worker processes, the sound device, the pose catalogue) are made when first used:
the window opens without them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, QTimer, Signal, Slot
from PySide6.QtGui import QUndoStack

from rehearse.cueing.cues import CueSheet
from rehearse.files.user_error import UserError
from rehearse.music.beatmap import BeatMap
from rehearse.music.mapfile import check_track
from rehearse.routine.folder import open_folder
from rehearse.routine.model import Routine
from rehearse.routine.poses import load_catalogue
from rehearse.ui import startup
from rehearse.ui.jobs import Bridge, Jobs, RunningJob
from rehearse.ui.questions import Questions
from rehearse.ui.saving.autosave import Saving
from rehearse.ui.saving.leftover import ask_to_leave, offer_good_save, remind
from rehearse.ui.saving.sharing import LOOK_ONLY
from rehearse.ui.settings import Settings
from rehearse.ui.status import FOLDER, OTHER, ErrorMessages, Notice
from rehearse.ui.undo import Documents, Swap
from rehearse.ui.wish import READING, Wish
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.cueing.cues import CueSheet
    from rehearse.music.track import Track
    from rehearse.playback.player import Player
    from rehearse.practice.keeper import Keeper
    from rehearse.practice.passplan import Work
    from rehearse.routine.poses import Catalogue
    from rehearse.work.pool import Workers


OTHER_SONG = _(
    "The song in the folder is not the one the counts were found in: put "
    "that one back, or press 1 and Space to map this one."
)


class Workspace(QObject):
    """The routine in hand, its music, its undo, its jobs.

    Args:
        settings: this machine's settings.
        make_workers, make_player: how to make the heavy parts; None takes the real ones.
        deferred: nothing but the documents is read before `finish_start`.

    Signals:
        documentChanged: routine or beat map is another one. trackChanged: the decoded song.
        selectionChanged: `selected`. faultRaised: one sentence for the fault line, empty clears
        it. musicAsked: a part of the window, itself given, is about to play: every other one stops.
        stopAsked: whatever sounds, records or is about to begin ends now (the emergency stop).
        stopped: it has.
        jobChanged: `jobs` began, moved on or ended. workAsked: a drill, run-through or plan
        (`practice.passplan.Work`) is to be rehearsed now. startFinished: what was held back is
        here.
        leaving: the open routine is about to be closed; its logbook can still be written.
    """

    documentChanged = Signal()
    trackChanged = Signal()
    selectionChanged = Signal()
    errorRaised = Signal(str)
    musicAsked = Signal(QObject)
    stopAsked = Signal()
    stopped = Signal()
    jobChanged = Signal()
    workAsked = Signal(object)  # a protocol, which is no type for Qt
    startFinished = Signal()
    leaving = Signal()

    def __init__(
        self,
        settings: Settings | None = None,
        *,
        make_workers: Callable[[], Any] | None = None,
        make_player: Callable[[], Any] | None = None,
        deferred: bool = False,
    ) -> None:
        super().__init__()
        self.is_started = not deferred
        self.settings = settings or Settings()
        self.folder: Path | None = None
        self.track: Track | None = None
        self.logbook: Keeper | None = None
        self._leaving: list[Keeper] = []
        self.undo = QUndoStack(self)
        self._documents = Documents()
        self._replacing = False
        self._selected = ""
        self._warnings: tuple[str, ...] = ()
        self._sheet: CueSheet | None = None
        self._song = ""
        self._reading: RunningJob | None = None
        self._make_workers = make_workers or startup.make_workers
        self._make_player = make_player or startup.make_player
        self._bridge = Bridge(self)
        self._jobs = Jobs(lambda: self.workers, self)
        self._jobs.changed.connect(self.jobChanged)
        self.settings.changed.connect(self._setting_changed)
        self.standing = ErrorMessages(self)
        self.notice = Notice(self)
        self.wish = Wish(self)
        self.questions = Questions(self)
        self.saving = Saving(self)
        self.saving.moved.connect(self._follow)

    @property
    def routine(self) -> Routine | None:
        """The routine as it is now; None while nothing is open."""
        return self._documents.routine

    @property
    def beatmap(self) -> BeatMap | None:
        """The beat map as it is now; None until the song was analysed."""
        return self._documents.beatmap

    @property
    def documents(self) -> Documents:
        """Routine and beat map as they are now."""
        return self._documents

    @property
    def is_playing(self) -> bool:
        """Whether music is heard, or counted in."""
        return "player" in self.__dict__ and self.player.now().playing

    @property
    def selected(self) -> str:
        """Id of the selected pose or section; empty for none."""
        return self._selected

    @selected.setter
    def selected(self, value: str) -> None:
        if value != self._selected:
            self._selected = value
            self.selectionChanged.emit()

    @property
    def jobs(self) -> tuple[RunningJob, ...]:
        """Jobs in progress, oldest first."""
        return self._jobs.running

    @cached_property
    def workers(self) -> Workers:
        """The worker processes."""
        return self._make_workers()

    @cached_property
    def player(self) -> Player:
        """The player, loaded with the open track."""
        player = self._make_player()
        startup.set_sound(player, self.settings)
        if self.track is not None:
            player.load(self.track)
        return player

    @cached_property
    def round_player(self) -> Player:
        """A player for comparison rounds, which need no song; nothing is loaded."""
        player = self._make_player()
        startup.set_sound(player, self.settings)
        return player

    @property
    def _players(self) -> list[Player]:
        """Those that were made."""
        return [self.__dict__[n] for n in ("player", "round_player") if n in self.__dict__]

    def set_sound(self) -> None:
        """Whether there is to be sound, and how loud, as it is set on this machine now."""
        for player in self._players:
            startup.set_sound(player, self.settings)

    @Slot()
    def stop_everything(self) -> None:
        """The emergency stop: nothing sounds after it, whatever any part of the window does."""
        self.stopAsked.emit()
        for player in self._players:
            player.stop()
        self.stopped.emit()

    @Slot(str)
    def _setting_changed(self, name: str) -> None:
        if name.startswith("volume_") or name == "silent":
            self.set_sound()

    @cached_property
    def _poses(self) -> Catalogue:
        return load_catalogue()

    @property
    def catalogue(self) -> Catalogue:
        """All poses, the routine's own ones included, shown by its figure."""
        return self._poses.of(self.routine) if self.routine else self._poses

    @property
    def sheet(self) -> CueSheet | None:
        """The cue sheet of the open routine; None until there is a beat map."""
        if self._sheet is None and self.routine and self.beatmap:
            self._sheet = CueSheet.compile(self.routine, self.beatmap, self.catalogue)
        return self._sheet

    def open(self, folder: Path, track: Track | None = None, *, unsaved: bool = False) -> bool:
        """Open a routine folder in place of the present one; False when it cannot be.

        Args:
            track: its song, where that is decoded already.
            unsaved: leave the present one even when it cannot be saved.
        """
        folder = Path(folder)
        if not self.save() and not unsaved:
            ask_to_leave(self, folder)
            return False
        try:
            opened = open_folder(folder)
        except UserError as error:
            self.errorRaised.emit(error.sentence)
            offer_good_save(self, folder)
            return False
        self._leave()
        self.folder, self.logbook = opened.folder, None
        self._documents = Documents(opened.routine, opened.beatmap)
        if self.is_started:
            self._open_logbook()
        self.settings.remember_folder(opened.folder)
        self._warnings = opened.warnings
        self.saving.begin(opened.folder)
        self._warn()
        self.trackChanged.emit()
        self._changed()
        if track is not None:
            self._song = opened.routine.track
            self._decoded(track)
        elif self.is_started:
            self.decode()
        return True

    @Slot()
    def finish_start(self) -> None:
        """The window has its first picture: what was held back may begin."""
        self.is_started = True
        if self.folder is not None:
            self._open_logbook()
        self.saving.settle()
        if self.folder is None:
            remind(self)
        self.startFinished.emit()
        if self.folder is not None and self.track is None:
            self.decode()

    def _open_logbook(self) -> None:
        """Open the logbook of the open routine, on its own thread; what is odd about it is told."""
        assert self.folder is not None
        assert self.routine is not None
        self.logbook = startup.open_logbook(
            self.folder, self.routine.id, self._log_fault, self._bridge.post, self._leaving
        )

    def _log_fault(self, sentence: str) -> None:
        """Something about the logbook, with what was odd about the folder."""
        self.standing.stand(FOLDER, "\n".join((sentence, *self._warnings)))

    def _warn(self) -> None:
        """Tell what was odd about the folder but did no harm."""
        self.standing.stand(FOLDER, "\n".join(self._warnings))

    def decode(self) -> None:
        """Read the routine's song in a worker process; `trackChanged` tells when it is there."""
        from rehearse.music.decode import load_track

        if self._reading is not None:
            self.stop_job(self._reading)
        self._song = self.routine.track if self.routine else ""
        if self.folder and self._song:
            song, cut = self.folder / self._song, self.routine.cut if self.routine else None
            if cut is not None and not song.is_file() and (self.folder / cut.song).is_file():
                from rehearse.routine.cutting import remake

                args = (self.folder, self.routine, self.beatmap)
                self._reading = self.run_job(READING, remake, *args, done=self._read)
                return
            self._reading = self.run_job(READING, load_track, song, done=self._read)

    @property
    def other_song(self) -> str:
        """Why the song that is here cannot be played to the map, in a sentence; empty: it can."""
        if self.track is None or self.beatmap is None or not self.beatmap.duration:
            return ""
        return "" if check_track(self.beatmap, self.track) is None else OTHER_SONG

    def use_song(
        self, routine: Routine, track: Track, *, beatmap: BeatMap | None = None, words: str = ""
    ) -> None:
        """Go on with `routine`, whose song is another one that is decoded already; one step.

        Args:
            beatmap: the song's map, where that is known too. words: what was done, for the step.
        """
        if self._is_look_only():
            return
        if "player" in self.__dict__:
            self.player.stop()
        self._song = routine.track
        self.edit(words or _("use {track}", track=routine.track), routine=routine, beatmap=beatmap)
        self._decoded(track)

    def edit(
        self,
        words: str,
        *,
        routine: Routine | None = None,
        beatmap: BeatMap | None = None,
        merge: str = "",
    ) -> None:
        """Swap in new documents as one step that can be undone.

        Args:
            words: what was done, for "undo …" ("move front double biceps").
            routine, beatmap: the new documents; None keeps the present one.
            merge: steps that follow each other with the same text are undone as one; give every
                drag a text of its own.
        """
        now = self._documents
        if routine is not None and now.routine is not None and now.routine.id:
            # An earlier save may be of a time before routines had names of their own.
            routine = replace(routine, id=now.routine.id)
        after = Documents(routine or now.routine, beatmap or now.beatmap)
        if after != now and not self._is_look_only():
            self.notice.drop()
            self.undo.push(Swap(words, now, after, self._show, merge))

    def edit_instead(self, words: str, routine: Routine) -> None:
        """Make a step in place of the last one, which is undone and not shown in between."""
        self._replacing = True
        try:
            self.undo.undo()
        finally:
            self._replacing = False
        before = self._documents
        self.edit(words, routine=routine)
        if self._documents is before:
            self._show(before)

    def run_job(
        self,
        words: str,
        function: Callable[..., Any],
        *args: Any,
        done: Callable[[Any], object],
        failed: Callable[[UserError], None] | None = None,
    ) -> RunningJob:
        """Run `function(*args, report)` in a worker process, shown and stoppable in the window.

        `done(result)` follows on the main thread. Jobs belong to the open routine: opening
        another one stops them. Without `failed`, a fault is told until the same job does well.
        """

        def well(result: Any) -> None:
            self.standing.mend(words)
            done(result)

        def ill(error: UserError) -> None:
            self.standing.stand(words, error.sentence)

        return self._jobs.start(words, function, *args, done=well, failed=failed or ill)

    def stop_job(self, running: RunningJob) -> None:
        """Stop a job; nothing follows."""
        self._jobs.stop(running)

    def rehearse(self, work: Work) -> None:
        """Go to the Rehearse page and begin `work` there; any page may ask for it."""
        self.workAsked.emit(work)

    def save(self) -> bool:
        """Write what is not on disk yet; False (and one sentence) when that fails."""
        return self.saving.save()

    def show_documents(self, documents: Documents) -> None:
        """Show what another window wrote; nothing is left to be undone here."""
        self.undo.clear()
        self._documents = documents
        self._changed()

    def _is_look_only(self) -> bool:
        if self.saving.look_only:
            self.notice.say(LOOK_ONLY)
        return self.saving.look_only

    @Slot(Path)
    def _follow(self, folder: Path) -> None:
        """The open folder has another name now."""
        self.folder = folder
        self.settings.remember_folder(folder)
        self.notice.say(_("The folder of this routine is called {name} now.", name=folder.name))
        self._move_logbook()

    @Slot()
    def _move_logbook(self) -> None:
        """Open the logbook where it is now; one that moved takes no passes, and keeps them here."""
        if self.is_playing:
            QTimer.singleShot(1000, self._move_logbook)
            return
        if self.logbook is not None and self.folder is not None:
            self._close_logbook()
            self._open_logbook()
        self._changed()

    def close(self) -> None:
        """Stop the sound, then the workers, then the logbook, then forget the undo steps."""
        self.saving.end()
        for player in self._players:
            player.close()
        self._jobs.stop_all()
        if "workers" in self.__dict__:
            self.workers.close()
        self._close_logbook()
        for keeper in self._leaving:
            keeper.join()
        self._leaving.clear()
        self.undo.clear()
        self.settings.sync()

    def _close_logbook(self) -> None:
        """Let the logbook finish what it has to write; nobody waits for it before the end."""
        keeper, self.logbook = self.logbook, None
        if keeper is not None:
            keeper.close()
            self._leaving = [k for k in self._leaving if not k.join(0.0)] + [keeper]

    def _leave(self) -> None:
        self.leaving.emit()
        self.standing.forget()
        self._jobs.stop_all()
        if "player" in self.__dict__:
            self.player.stop()
        self._close_logbook()
        self.undo.clear()
        self.track, self._selected = None, ""

    def _drop_track(self) -> None:
        if "player" in self.__dict__:
            self.player.stop()
        self.track = None
        self.trackChanged.emit()

    def _read(self, track: Track) -> None:
        self._decoded(track)
        self.standing.stand(OTHER, self.other_song)

    def _decoded(self, track: Track) -> None:
        self.track = track
        if "player" in self.__dict__:
            self.player.load(track)
        self.trackChanged.emit()

    def _show(self, documents: Documents) -> None:
        self._documents = documents
        if self._replacing:
            return
        self.saving.later()
        self._changed()
        if documents.routine is not None and documents.routine.track != self._song:
            # Undone or done again: the song that sounds is no longer the routine's.
            self._drop_track()
            self.decode()

    def _changed(self) -> None:
        self._sheet = None
        if not self.other_song:
            self.standing.mend(OTHER)
        self.documentChanged.emit()
