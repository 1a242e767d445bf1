"""A new routine: from a song to a folder that opens with its beat map and its stage part."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

import platformdirs

from rehearse.files.atomic import fault_of
from rehearse.files.fault import Fault
from rehearse.music.beatmap import BeatMap
from rehearse.music.bring import UNSAFE
from rehearse.routine.folder import save_folder
from rehearse.routine.model import Routine, StagePart
from rehearse.routine.rules import RuleSet

#: A song cut at the limit fades over this many seconds.
_FADE = 2.0
#: Shorter than the limit by less than this, the whole song is used, in seconds.
_SLACK = 0.001


def routines_folder() -> Path:
    """Where new routines are put unless another place is chosen."""
    return Path(platformdirs.user_documents_path()) / "Rehearse"


def stage_part(beatmap: BeatMap, rules: RuleSet) -> StagePart | None:
    """The part a new routine begins with: the song up to the limit; None: all of it."""
    if rules.limit is None or beatmap.duration <= rules.limit + _SLACK:
        return None
    return StagePart(0.0, rules.limit, 0.0, _FADE)


def start_routine(into: Path, song: Path, beatmap: BeatMap, rules: RuleSet, title: str) -> Path:
    """Make the folder of a new routine in `into`; its path.

    It is named after the title, a number added when there is one; it appears whole or not at all.

    Args:
        into: made when missing. song: copied into the folder. beatmap: the song's map.
        rules: the limit to work to. title: 1 to 80 characters.

    Raises:
        Fault: no title, or the folder cannot be written.
    """
    title = " ".join(title.split())
    if not 0 < len(title) <= 80:
        raise Fault("the routine has no title", do="write a few words, 80 letters at most")
    track = UNSAFE.sub(" ", song.name)
    routine = Routine(title, track, rules=rules.key, stage=stage_part(beatmap, rules))
    try:
        into.mkdir(parents=True, exist_ok=True)
        scratch = Path(tempfile.mkdtemp(prefix=".starting-", dir=into))
        try:
            shutil.copyfile(song, scratch / track)
            save_folder(scratch, routine, beatmap)
            scratch.chmod(0o755)
            return scratch.rename(free_name(into, title))
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
    except OSError as error:
        raise fault_of(error, Path(error.filename or into)) from error


def free_name(into: Path, name: str) -> Path:
    """A path in `into` that nothing has yet, called `name` as far as files can be."""
    plain = " ".join(UNSAFE.sub(" ", name).split())[:60].strip(" .") or "routine"
    free, number = into / plain, 2
    while free.exists():
        free, number = into / f"{plain} {number}", number + 1
    return free
