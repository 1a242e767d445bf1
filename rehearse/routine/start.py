"""A new routine: from a song to a folder that opens with its beat map and its stage part."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import platformdirs

from rehearse.files.atomic import appear, part_folder, sweep, user_error_of
from rehearse.files.user_error import UserError
from rehearse.music.beatmap import BeatMap
from rehearse.music.song_import import UNSAFE, song_name
from rehearse.routine.folder import open_folder, save_folder
from rehearse.routine.model import Routine, StagePart, new_id
from rehearse.routine.rules import RuleSet
from rehearse.words import _, ngettext

#: The rule set a routine is begun with unless another is chosen.
FIRST_RULES = "open-60"
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
        UserError: no title, the folder cannot be written, or what was written cannot be opened.
    """
    routine = _routine(song, beatmap, rules, title)
    return _make(into, song, routine, beatmap, lambda: free_name(into, routine.title))


def start_folder(folder: Path, song: Path, beatmap: BeatMap, rules: RuleSet, title: str) -> Path:
    """As `start_routine`, but the folder itself is given.

    Raises:
        UserError: as there, or as `check_free`.
    """
    check_free(folder)
    routine = _routine(song, beatmap, rules, title)
    return _make(folder.absolute().parent, song, routine, beatmap, lambda: folder)


def start_rounds(
    folder: Path | None, into: Path, rules: RuleSet, title: str, *, division: str, figure: str
) -> Path:
    """Make a folder for comparison rounds alone, which gets its song and its poses later.

    Args:
        folder: the folder to make; None: one named after the title in `into`.
        division, figure: they tell stances and mandatory poses.

    Raises:
        UserError: as `start_routine` and `check_free`.
    """
    routine = Routine(
        _title(title), "", rules=rules.key, division=division, figure=figure, id=new_id() + new_id()
    )
    if folder is None:
        return _make(into, None, routine, BeatMap("", 0.0), lambda: free_name(into, routine.title))
    check_free(folder)
    place = folder.absolute().parent
    return _make(place, None, routine, BeatMap("", 0.0), lambda: folder)


def check_free(folder: Path) -> None:
    """Refuse to make a routine where something lies already.

    Raises:
        UserError: `folder` is a file, or a folder with something in it.
    """
    try:
        taken = folder.is_symlink() or (folder.exists() and not _is_empty(folder))
    except OSError as error:
        raise user_error_of(error, folder) from error
    if taken:
        do = _("name a folder that is not there yet")
        raise UserError(_("there is something there already"), where=folder, do=do)


def title_of(song: Path) -> str:
    """The title a routine has at first: the song's file name, at most 80 characters."""
    readable = song.stem.encode("utf-8", "replace").decode()
    return " ".join(readable.replace("_", " ").split())[:80].strip() or "Routine"


def describe(beatmap: BeatMap) -> str:
    """What was found in a song, in one sentence."""
    if not beatmap.beats:
        return _("No beat was found: places are in seconds.")
    steps = sorted(beatmap.intervals)
    tempo = 60 / steps[len(steps) // 2]
    eights = len({count.eight for count in beatmap.counts})
    stretches = ngettext(
        "1 stretch", "{number} stretches", len(beatmap.free), number=len(beatmap.free)
    )
    free = _(", {stretches} in free time", stretches=stretches) if beatmap.free else ""
    accents = _("{number} accents", number=len(beatmap.marked))
    return _(
        "{eights} eights at about {tempo:.0f} counts a minute, {accents}{free}.",
        eights=eights,
        tempo=tempo,
        accents=accents,
        free=free,
    )


def _is_empty(folder: Path) -> bool:
    return folder.is_dir() and not any(folder.iterdir())


def _title(text: str) -> str:
    title = " ".join(text.split())
    if not 0 < len(title) <= 80:
        raise UserError(
            _("the routine has no title"), do=_("write a few words, 80 letters at most")
        )
    return title


def _routine(song: Path, beatmap: BeatMap, rules: RuleSet, title: str) -> Routine:
    stage = stage_part(beatmap, rules)
    return Routine(
        _title(title), song_name(song), rules=rules.key, stage=stage, id=new_id() + new_id()
    )


def _make(
    into: Path, song: Path | None, routine: Routine, beatmap: BeatMap, target: Callable[[], Path]
) -> Path:
    try:
        into.mkdir(parents=True, exist_ok=True)
        sweep(into)
        scratch = part_folder(into, "starting")
        try:
            if song is not None:
                shutil.copyfile(song, scratch / routine.track)
            save_folder(scratch, routine, beatmap)
            # What cannot be opened again must not be left behind as if it could.
            open_folder(scratch)
            scratch.chmod(0o755)
            folder = target()
            if folder.exists():
                folder.rmdir()
            appear(scratch, folder)
            return folder
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
    except OSError as error:
        raise user_error_of(error, Path(error.filename or into)) from error


def free_name(into: Path, name: str) -> Path:
    """A path in `into` that nothing has yet, called `name` as far as files can be."""
    plain = " ".join(UNSAFE.sub(" ", name).split())[:60].strip(" .") or "routine"
    free, number = into / plain, 2
    while free.exists():
        free, number = into / f"{plain} {number}", number + 1
    return free
