"""The voice, formed in a worker: what is not ready yet is left to clicks and said once it is.

Forming a text takes some tens of milliseconds the first time on a machine, and its sync to disk as
long again; a whole routine's would hold the window up for a second.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal, Slot

from rehearse.files.fault import Fault
from rehearse.ui.desk import Desk
from rehearse.ui.pages.rehearse.sound import speaker_for, speech_choice

if TYPE_CHECKING:
    from rehearse.cueing.voice import Speaker
    from rehearse.ui.jobs import Running


class Voice(QObject):
    """Keeps the speaker of the open routine supplied.

    Signals:
        ready: more can be said than before.
    """

    ready = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._speaker: Speaker | None = None
        self._of: tuple[Any, ...] | None = None
        self._job: Running | None = None
        self._failed = False

    def speaker(self) -> Speaker | None:
        """The voice as it is set now; None (and one sentence) when there is none."""
        from rehearse.cueing.voice.recordings import FOLDER

        folder = self._desk.folder / FOLDER if self._desk.folder else None
        of = (self._desk.folder, self._desk.settings.get("voice"), _recorded(folder))
        if of != self._of:
            self._speaker, self._of, self._failed = speaker_for(self._desk, waits=False), of, False
        return self._speaker

    @Slot()
    def prepare(self) -> None:
        """Have all formed that the open routine may need, before anyone asks."""
        from rehearse.session.passages import Stretch, speech_of

        desk = self._desk
        if desk.track is None or desk.sheet is None or desk.logbook is None:
            return
        if (speaker := self.speaker()) is None:
            return
        choice = speech_choice(desk.settings)
        for count in (*map(str, range(1, 9)), "and"):
            speaker.measure(count, "count")
        speech_of(Stretch("", desk.sheet.start, desk.sheet.end, choice=choice), desk.sheet, speaker)
        self.form_wanted()

    def form_wanted(self, sample_rate: int = 0) -> None:
        """Send off what was asked for and is not there, unless a worker is at it already.

        Args:
            sample_rate: of what it will be heard over; 0: the routine's song.
        """
        speaker = self._speaker
        track = self._desk.track
        if speaker is None or not speaker.wanted or self._failed or self.is_forming:
            return
        if track is None and not sample_rate:
            return
        from rehearse.cueing.voice import form
        from rehearse.cueing.voice.recordings import FOLDER
        from rehearse.cueing.voice.store import default_store

        wanted = tuple(speaker.wanted)
        speaker.wanted.clear()
        folder = self._desk.folder / FOLDER if self._desk.folder else None

        def done(formed: Any) -> None:
            speaker.take(formed)
            if speaker is self._speaker:
                self._job = None
                self.ready.emit()
                self.form_wanted()

        self._job = self._desk.run_job(
            "Preparing the voice",
            form,
            speaker.setting,
            default_store(),
            folder,
            wanted,
            sample_rate or track.sample_rate,
            done=done,
            failed=self._fail,
        )

    @property
    def has_failed(self) -> bool:
        """Whether it could not be formed; it is not tried again."""
        return self._failed

    @property
    def is_forming(self) -> bool:
        """Whether a worker is at it."""
        return self._job is not None and self._job in self._desk.jobs

    def _fail(self, fault: Fault) -> None:
        self._failed = True  # it would only fail again; another voice or routine is tried anew
        self._desk.faultRaised.emit(f"{fault.sentence} The drill goes on with clicks.")
        self.ready.emit()  # with clicks


def _recorded(folder: Path | None) -> tuple[tuple[str, int], ...]:
    """Own recordings as they are now: a new one is another voice."""
    if folder is None or not folder.is_dir():
        return ()
    return tuple(sorted((p.name, p.stat().st_mtime_ns) for p in folder.iterdir()))
