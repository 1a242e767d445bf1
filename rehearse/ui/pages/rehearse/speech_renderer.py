"""The voice as set on this machine, formed in a worker.

What is not ready yet is left to clicks and said once it is. Forming a text takes some tens of
milliseconds the first time on a machine, and its sync to disk as long again; a whole routine's
would hold the window up for a second.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal, Slot

from rehearse.cueing.cue_options import CueVolumes, VolumeStep
from rehearse.files.user_error import UserError
from rehearse.ui.settings import Settings
from rehearse.ui.workspace import Workspace
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.cueing.speech import SpeechChoice
    from rehearse.cueing.voice import SpeechEngine
    from rehearse.ui.jobs import RunningJob


def speech_choice(settings: Settings) -> SpeechChoice:
    """What is said and how loud."""
    from rehearse.cueing.cue_options import SAID
    from rehearse.cueing.speech import SpeechChoice

    levels = CueVolumes(
        *(VolumeStep(settings.get(f"say_{k}")) for k in ("names", "counts", "clicks"))
    )
    said = settings.get("say_moves")
    return SpeechChoice(
        levels=levels,
        turns=settings.get("say_turns"),
        said=said if said in SAID else "both",
    )


def speech_engine_for(workspace: Workspace, *, waits: bool = True) -> SpeechEngine | None:
    """The voice set, its texts kept between starts; None (and one sentence) when it fails.

    `waits`: see `SpeechEngine`.

    Own recordings in the routine's folder are used before the voice.
    """
    from rehearse.cueing.voice import SpeechEngine, VoiceSetting
    from rehearse.cueing.voice.recordings import FOLDER
    from rehearse.cueing.voice.speech_cache import default_store

    settings = workspace.settings
    setting = VoiceSetting()
    if settings.get("voice"):
        setting = VoiceSetting(settings.get("voice"))
    recordings = workspace.folder / FOLDER if workspace.folder else None
    try:
        return SpeechEngine(setting, kept=default_store(), recordings=recordings, waits=waits)
    except UserError as error:
        workspace.errorRaised.emit(
            _("{sentence} The drill continues with clicks.", sentence=error.sentence)
        )
        return None


class SpeechRenderer(QObject):
    """Keeps the speaker of the open routine supplied.

    Signals:
        ready: more can be said than before.
    """

    ready = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self._speech_engine: SpeechEngine | None = None
        self._of: tuple[Any, ...] | None = None
        self._job: RunningJob | None = None
        self._failed = False

    def speech_engine(self) -> SpeechEngine | None:
        """The voice as it is set now; None (and one sentence) when there is none."""
        from rehearse.cueing.voice.recordings import FOLDER

        folder = self._workspace.folder / FOLDER if self._workspace.folder else None
        of = (self._workspace.folder, self._workspace.settings.get("voice"), _recorded(folder))
        if of != self._of:
            self._speech_engine, self._of, self._failed = (
                speech_engine_for(self._workspace, waits=False),
                of,
                False,
            )
        return self._speech_engine

    @Slot()
    def prepare(self) -> None:
        """Have all formed that the open routine may need, before anyone asks."""
        from rehearse.session.segment_builder import SegmentSpec, speech_of

        workspace = self._workspace
        if workspace.track is None or workspace.sheet is None or workspace.logbook is None:
            return
        if (speech_engine := self.speech_engine()) is None:
            return
        choice = speech_choice(workspace.settings)
        for count in (*map(str, range(1, 9)), "and"):
            speech_engine.measure(count, "count")
        speech_of(
            SegmentSpec("", workspace.sheet.start, workspace.sheet.end, choice=choice),
            workspace.sheet,
            speech_engine,
        )
        self.form_wanted()

    def form_wanted(self, sample_rate: int = 0) -> None:
        """Send off what was asked for and is not there, unless a worker is at it already.

        Args:
            sample_rate: of what it will be heard over; 0: the routine's song.
        """
        speech_engine = self._speech_engine
        track = self._workspace.track
        if speech_engine is None or not speech_engine.wanted or self._failed or self.is_forming:
            return
        if track is None and not sample_rate:
            return
        from rehearse.cueing.voice import form
        from rehearse.cueing.voice.recordings import FOLDER
        from rehearse.cueing.voice.speech_cache import default_store

        wanted = tuple(speech_engine.wanted)
        speech_engine.wanted.clear()
        folder = self._workspace.folder / FOLDER if self._workspace.folder else None

        def done(formed: Any) -> None:
            speech_engine.take(formed)
            if speech_engine is self._speech_engine:
                self._job = None
                self.ready.emit()
                self.form_wanted()

        self._job = self._workspace.run_job(
            _("Preparing the voice"),
            form,
            speech_engine.setting,
            default_store(),
            folder,
            wanted,
            sample_rate or (track.sample_rate if track else 0),
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
        return self._job is not None and self._job in self._workspace.jobs

    def _fail(self, error: UserError) -> None:
        self._failed = True  # it would only fail again; another voice or routine is tried anew
        self._workspace.errorRaised.emit(
            _("{sentence} The drill continues with clicks.", sentence=error.sentence)
        )
        self.ready.emit()  # with clicks


def _recorded(folder: Path | None) -> tuple[tuple[str, int], ...]:
    """Own recordings as they are now: a new one is another voice."""
    if folder is None or not folder.is_dir():
        return ()
    return tuple(sorted((p.name, p.stat().st_mtime_ns) for p in folder.iterdir()))
