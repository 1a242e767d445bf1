"""What every handout is made from: an opened routine folder with its cue sheet and its song."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from rehearse.cueing.cues import CueSheet
from rehearse.files.inside import inside
from rehearse.files.user_error import UserError
from rehearse.music.apart import load_mapped
from rehearse.music.beatmap import BeatMap
from rehearse.music.track import Track
from rehearse.routine.folder import open_folder
from rehearse.routine.model import Routine
from rehearse.routine.poses import Catalogue, load_catalogue
from rehearse.words import _
from rehearse.work.progress import Report

#: Of a folder in which only comparison rounds are rehearsed so far.
NO_SONG, CHOOSE_SONG = (
    _("has no song yet"),
    _("choose one on the Music page, or make a round of it"),
)


@dataclass(frozen=True)
class HandoutSource:
    """A routine ready to be handed out."""

    folder: Path
    routine: Routine
    beatmap: BeatMap
    catalogue: Catalogue
    sheet: CueSheet

    @property
    def length(self) -> float:
        """Seconds on stage."""
        return self.sheet.end - self.sheet.start

    def song(self, report: Report | None = None) -> Track:
        """The routine's song, decoded.

        Raises:
            UserError: it is missing, cannot be read, or is another one than the map is of.
        """
        if not self.routine.track:
            raise UserError(NO_SONG, where=self.folder, do=CHOOSE_SONG)
        try:
            path = inside(self.folder, self.routine.track)
        except ValueError as error:
            raise UserError(str(error), where="routine.yaml") from error
        return load_mapped(path, self.beatmap, report)

    def doubt(self) -> tuple[str, ...]:
        """A sentence where the song in the folder is not the one the counts were found in.

        For handouts that are made without it; where it is missing they say so themselves.
        """
        if not self.routine.track or not (self.folder / self.routine.track).is_file():
            return ()
        try:
            self.song()
        except UserError as error:
            return (error.sentence,)
        return ()


def load_source(folder: Path) -> HandoutSource:
    """Open the routine folder for handing out.

    Raises:
        UserError: as `open_folder`.
    """
    opened = open_folder(folder)
    return make_source(opened.folder, opened.routine, opened.beatmap)


def make_source(folder: Path, routine: Routine, beatmap: BeatMap) -> HandoutSource:
    """The same for a routine that is already open."""
    catalogue = load_catalogue().of(routine)
    sheet = CueSheet.compile(routine, beatmap, catalogue)
    return HandoutSource(folder, routine, beatmap, catalogue, sheet)
