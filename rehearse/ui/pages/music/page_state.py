"""What can be done on the Music page now, in words: under Space, and in the sentence beside it."""

from __future__ import annotations

from rehearse.ui import actions
from rehearse.ui.pages.music.mapping import MAPPING, Mapping
from rehearse.ui.pages.music.readings_controller import ReadingsController
from rehearse.ui.pages.music.song_playback import SongPlayback
from rehearse.ui.pages.music.tapping import Tapping
from rehearse.ui.wish import READING
from rehearse.ui.workspace import Workspace
from rehearse.words import _

#: What Space does, apart from playing and stopping.
CHOOSE, READ, MAP = _("Choose a song"), _("Read the song"), _("Map the song")
_TAPPING = _(
    "Tap {key_tap} on every beat, the first tap on a 1. Enter uses the taps, Esc drops them.",
    key_tap=actions.key("tap"),
)
_FOUR = _(
    "Tap {key_four} on four counts, the first on a 1. Esc drops them.", key_four=actions.key("four")
)


class MusicPageState:
    """The state of the song and its map."""

    def __init__(
        self,
        workspace: Workspace,
        mapping: Mapping,
        song_playback: SongPlayback,
        tapping: Tapping,
        four: Tapping,
        readings: ReadingsController,
    ) -> None:
        self._workspace, self._mapping = workspace, mapping
        self._song_playback, self._tapping, self._four = song_playback, tapping, four
        self._readings = readings

    @property
    def action(self) -> str:
        """What Space does."""
        if not self._has_song:
            return CHOOSE
        if self._unread:
            return READ
        if not self._mapping.fits:
            return MAP
        return _("Stop") if self._song_playback.on else _("Play")

    @property
    def sentence(self) -> str:
        """What is going on, or what to do next; the cursor's place where nothing is."""
        workspace, reading = self._workspace, f"{READING} …"
        if self._tapping.waiting:
            return _TAPPING
        if self._four.waiting:
            return _FOUR
        if not self._has_song:
            nothing = _("No song yet. Press Space to choose one, or drop it here.")
            return reading if READING in self._busy else nothing
        if self._unread:
            key = actions.key("song")
            return _(
                "Couldn't read the song. Space tries again, {key} chooses another one.", key=key
            )
        if workspace.track is None:
            return reading
        if workspace.beatmap is None:
            nothing = _("No beat map yet. Press Space to map the song.")
            return f"{MAPPING} …" if MAPPING in self._busy else nothing
        if not self._mapping.fits:
            return _("The beat map belongs to another song. Press Space to map this one.")
        return self._readings.sentence

    @property
    def _has_song(self) -> bool:
        return self._workspace.routine is not None and bool(self._workspace.routine.track)

    @property
    def _unread(self) -> bool:
        """Whether the routine's song is not here and not on its way: a fault, or stopped."""
        workspace = self._workspace
        return workspace.is_started and workspace.track is None and READING not in self._busy

    @property
    def _busy(self) -> frozenset[str]:
        """What is being done to the song, in words."""
        return frozenset(job.words for job in self._workspace.jobs)
