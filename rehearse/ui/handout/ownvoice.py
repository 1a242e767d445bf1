"""Own voice: record the names and counts of this routine; they are said instead of the voice."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QFocusEvent
from PySide6.QtWidgets import QListWidget, QListWidgetItem, QPushButton

from rehearse.cueing.texts import short_form, turns_of
from rehearse.cueing.voice import SpeechEngine, VoiceSetting, form
from rehearse.cueing.voice.recordings import (
    FOLDER,
    check_recording,
    file_stem,
    find_recordings,
    plain,
    put_aside,
    recording_of,
    take_in,
)
from rehearse.files.user_error import UserError
from rehearse.playback.microphone import record
from rehearse.playback.segment import Clip, Segment
from rehearse.ui import theme
from rehearse.ui.actions import ON_OWN_VOICE
from rehearse.ui.bindings import Bindings
from rehearse.ui.flows.flow import Flow
from rehearse.ui.jobs import RunningJob
from rehearse.ui.workspace import Workspace
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.cueing.voice.speech_engine import Formed

#: The counts of an eight; 3, 2, 1 are also the seconds counted down where nothing beats.
_COUNTS = (*map(str, range(1, 9)), "and")
_VERSIONS = "versions"


class OwnVoice(Flow):
    """One line for each text; Enter records the chosen one and goes to the next."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace, _("Own voice"))
        self._running: RunningJob | None = None
        self.list = QListWidget()
        self.list.setAccessibleName(_("What can be recorded"))
        self.list.setWordWrap(True)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setProperty("role", "body")  # read standing, at a microphone
        self._bindings = bindings = Bindings(self, ON_OWN_VOICE)
        self.listen, self.drop = QPushButton(), QPushButton()
        bindings.button(self.listen, "play_recording")
        bindings.button(self.drop, "delete_recording")
        self.body.addWidget(self.list, 1)
        self.foot.insertWidget(1, self.listen)
        self.foot.insertWidget(2, self.drop)
        self.foot.setSpacing(2 * theme.STEP)
        self.setTabOrder(self.list, self.main)
        self.list.currentRowChanged.connect(self._refresh)
        bindings.connect_slots({"play_recording": self.play, "delete_recording": self.take_out})
        workspace.jobChanged.connect(self._watch)
        workspace.stopAsked.connect(self._stop_recording)
        self._fill()

    @property
    def text(self) -> str:
        """The text chosen; empty when there is none."""
        item = self.list.currentItem()
        return str(item.data(Qt.ItemDataRole.UserRole)) if item else ""

    def texts(self) -> tuple[str, ...]:
        """Every name said in this routine with its short form, then the counts.

        Where facing and level are said, too, they follow the names.
        """
        sheet = self.workspace.sheet
        cues = sheet.cues if sheet else ()
        said = [text for cue in cues for text in (cue.name, short_form(cue)) if text]
        moves = [m for cue in cues for m in cue.moves] + list(sheet.exit if sheet else ())
        said += [text for move in moves for text in (move.text, move.short) if text]
        if self.workspace.settings.get("say_turns"):
            said += [turn for cue in cues for turn in turns_of(cue)]
        said = [text for text in said if plain(text)]  # a file has to be named after it
        return (*dict.fromkeys(said), *_COUNTS)

    def recording(self) -> Path | None:
        """The file recorded for the text chosen."""
        return recording_of(self.text, self._recordings())

    def _recordings(self) -> dict[str, Path]:
        return find_recordings(self.workspace.folder / FOLDER) if self.workspace.folder else {}

    def _fill(self) -> None:
        row, own = max(0, self.list.currentRow()), self._recordings()
        self.list.clear()
        for text in self.texts():
            state = _("own recording") if recording_of(text, own) else _("the voice")
            item = QListWidgetItem(f"{text}   –   {state}", self.list)
            item.setData(Qt.ItemDataRole.UserRole, text)
        self.list.setCurrentRow(min(row, self.list.count() - 1))

    @Slot()
    def _refresh(self) -> None:
        recording, idle = self.recording(), self._running is None
        self.offer(_("Record again") if recording else _("Record"), ready=idle and bool(self.text))
        self._bindings.allow(
            "play_recording", idle and recording is not None and self.workspace.track is not None
        )
        self._bindings.allow("delete_recording", idle and recording is not None)
        if idle:
            self.say(_("Press Enter, say it once, and be silent: it ends by itself."))

    def _start(self, told: str, function: Callable[..., Any], *args: Any, **after: Any) -> None:
        """Run `function` in a worker and say what goes on; one at a time."""
        self.workspace.errorRaised.emit("")
        words = told.split("; ")[0].rstrip(".")
        self._running = self.workspace.run_job(words, function, *args, failed=self._failed, **after)
        if self._running is not None:
            self.say(told)
            self._refresh()

    def do_main(self) -> None:
        """Record the text chosen, in a worker process."""
        folder, text = self.workspace.folder, self.text
        if folder is None or self._running is not None or not text:
            return
        # A new one takes the place of an earlier file of any ending.
        path = self.recording() or folder / FOLDER / f"{file_stem(text)}.wav"
        self._start(
            _("Say “{text}” now; Esc stops.", text=text),
            record,
            path.with_suffix(".wav"),
            folder / _VERSIONS,
            done=partial(self._recorded, text),
        )

    def _recorded(self, text: str, path: Path) -> None:
        """Look at the new recording of `text`; another line may be chosen by now."""
        self._running = None
        for other in sorted(path.parent.glob("*")):
            if plain(other.stem) == plain(path.stem) and other != path:
                self._keep_aside(other)
        self._go_on_from(text)
        self._start(_("Checking the recording."), check_recording, path, text, done=self._checked)

    def _checked(self, _path: Path) -> None:
        self._running = None
        self._refresh()

    def _go_on_from(self, text: str) -> None:
        """Mark what is recorded, and choose the line after that of `text`."""
        self._fill()
        if text in (texts := self.texts()):
            self.list.setCurrentRow(min(texts.index(text) + 1, len(texts) - 1))

    def _failed(self, error: UserError) -> None:
        self._running = None
        self.workspace.errorRaised.emit(error.sentence)
        self._refresh()

    @Slot()
    def play(self) -> None:
        """Hear the recording as the cues will have it: trimmed and levelled, in a worker."""
        track, folder = self.workspace.track, self.workspace.folder
        if track is None or folder is None or self._running is not None:
            return
        text, rate = self.text, track.sample_rate
        self._start(
            _("Preparing the recording; Esc stops."),
            form,
            VoiceSetting(),
            None,
            folder / FOLDER,
            ((text, "name", 1.0),),
            rate,
            done=partial(self._heard, text, rate),
        )

    def _heard(self, text: str, rate: int, formed: Formed) -> None:
        self._running = None
        self._refresh()
        speech_engine = SpeechEngine()
        speech_engine.take(formed)
        try:
            samples = speech_engine.samples(text, "name", rate)
        except UserError as error:
            self.workspace.errorRaised.emit(error.sentence)
            return
        if speech_engine.errors:  # the voice has stepped in for it
            self.workspace.errorRaised.emit(speech_engine.errors[0])
        lead = len(samples) / rate
        # Heard in the lead, before the shortest piece of music.
        clip = Clip(-lead, samples, "speech")
        self.workspace.musicAsked.emit(self)
        self.workspace.player.play(
            Segment("own voice", 0.0, 0.01, 1.0, lead, (clip,)), repeat=False
        )

    @Slot()
    def take_out(self) -> None:
        """Go back to the voice; the recording is kept aside with the earlier versions."""
        recording = self.recording()
        if recording is not None:
            self._keep_aside(recording)
            self._fill()

    def _keep_aside(self, recording: Path) -> None:
        try:
            put_aside(recording)
        except UserError as error:
            self.workspace.errorRaised.emit(error.sentence)

    @Slot()
    def _watch(self) -> None:
        if self._running is not None and self._running.stopped:
            self._running = None
            self._refresh()

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Begin at the list."""
        super().focusInEvent(event)
        self.list.setFocus()

    @Slot()
    def _stop_recording(self) -> None:
        running, self._running = self._running, None
        if running is not None:
            self.workspace.stop_job(running)
            self._refresh()

    def leave(self) -> None:
        """Stop recording, or go back when nothing is recorded."""
        if self._running is not None:
            self._stop_recording()
        else:
            super().leave()

    def take_path(self, path: Path) -> None:
        """A dropped sound file becomes the recording of the text chosen."""
        if self.workspace.folder is None or not self.text:
            return
        if self._running is not None:
            told = _("Something is being recorded – press Esc, then drop the file again.")
            self.workspace.errorRaised.emit(told)
            return
        folder, text = self.workspace.folder / FOLDER, self.text
        self._start(
            _("Reading the file; Esc stops."), take_in, path, text, folder, done=self._taken
        )

    def _taken(self, _path: Path) -> None:
        self._running = None
        self._fill()
