"""`rehearse cut`: versions of the song within a limit, listed and taken."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

from rehearse.files.hold import Hold
from rehearse.files.user_error import UserError
from rehearse.music.cut import Cut, CutPart, SourceSong
from rehearse.music.proposals import Proposal
from rehearse.routine.added_song import add_song
from rehearse.routine.cutting import (
    Source,
    make_cut,
    source_of,
    versions_within,
    with_cut,
    with_whole_song,
)
from rehearse.routine.folder import OpenedFolder, open_folder, save_changes
from rehearse.routine.follow import told_aside
from rehearse.routine.model import Routine
from rehearse.routine.rules import load_rules
from rehearse.words import _, number_text
from rehearse.work.pool import run_apart

T = TypeVar("T")
Progress = Callable[[float, str], None] | None
#: Seconds after which the work is given up, on a slow machine.
_PATIENCE = 1800.0


def listed(
    folder: Path, limit: float | None, progress: Progress, other: Path | None = None
) -> tuple[OpenedFolder, Source, tuple[Proposal, ...]]:
    """The routine, its song and the versions within `limit`; None: the limit of its rules.

    Args:
        other: another song, added first.

    Raises:
        UserError: as `versions_within` and `add_song`, or there is no limit.
    """
    opened = open_folder(folder)
    if limit is None:
        limit = load_rules(opened.routine.rules, opened.folder).limit
    if limit is None:
        raise UserError(_("the routine's rules have no limit"), where=folder, do=_("write --to 60"))
    source = source_of(opened.folder, opened.routine, opened.beatmap)
    if other is not None:
        source = _apart(progress, add_song, opened.folder, source, other)
    return opened, source, _apart(progress, versions_within, opened.folder, source, limit)


def take(opened: OpenedFolder, source: Source, proposal: Proposal, progress: Progress) -> str:
    """Make a version the routine's music and save it; what is set aside, in a sentence.

    Raises:
        UserError: a window has the routine, or as `make_cut` and `save_changes`.
    """
    hold = _hold(opened.folder)
    try:
        made = _apart(progress, make_cut, opened.folder, source, proposal.cut)
        routine = with_cut(opened.routine, opened.beatmap, source, made, proposal.fade_out)
        save_changes(opened.folder, routine, made.beatmap, map_too=True)
    finally:
        hold.release()
    return told_aside(routine.aside)


def back_to_song(folder: Path) -> str:
    """Make the whole song the routine's music again; what is still set aside, in a sentence.

    Raises:
        UserError: the music is no cut, a window has the routine, or the folder cannot be written.
    """
    opened = open_folder(folder)
    if opened.routine.cut is None:
        raise UserError(_("the music is the whole song already"), where=folder, do=_("leave it"))
    hold = _hold(opened.folder)
    try:
        source = source_of(opened.folder, opened.routine, opened.beatmap)
        routine = with_whole_song(opened.routine, opened.beatmap, source)
        save_changes(opened.folder, routine, source.first.beatmap, map_too=True)
    finally:
        hold.release()
    return told_aside(routine.aside)


def refuse_if_open(folder: Path) -> None:
    """Say at once, not after the work, that a version cannot be taken.

    Raises:
        UserError: a window has the routine.
    """
    _hold(folder).release()


def _hold(folder: Path) -> Hold:
    hold = Hold(folder)
    if not hold.take():
        raise UserError(
            _("is open in a window"), where=folder, do=_("close it, or cut the song there")
        )
    return hold


def _apart(progress: Progress, function: Callable[..., T], *args: Any) -> T:
    """In a process of its own, as a window's worker does it."""
    return run_apart(function, *args, where=_("the song"), report=progress, patience=_PATIENCE)


def as_table(proposals: Sequence[Proposal], songs: Sequence[SourceSong] = ()) -> str:
    """Versions as text: number, length, reason, then parts and joins.

    Args:
        songs: the songs they are of, where there are several.
    """
    lines = []
    for number, proposal in enumerate(proposals, 1):
        lines.append(f"{number}  {number_text(proposal.length, '.2f')} s  {proposal.reason}")
        for k, part in enumerate(proposal.cut.parts):
            join = _("   join: {told}", told=proposal.told[k - 1]) if k else ""
            lines.append(_span(part, songs) + join)
    return "\n".join(lines) + "\n"


def _span(part: CutPart, songs: Sequence[SourceSong]) -> str:
    """From where to where a part goes, in seconds of its own song."""
    inside = [song for song in songs if song.start <= part.start]
    start, end = (time - (inside[-1].start if inside else 0.0) for time in (part.start, part.end))
    words = _("     {start:8.2f} s to {end:8.2f} s", start=start, end=end)
    return _("{words} of {song}", words=words, song=inside[-1].song) if inside else words


def as_json(proposals: Sequence[Proposal]) -> str:
    """Versions as JSON: `length_s`, `reason`, `shows`, `fade_out_s`, `parts`."""
    data = [
        {
            "length_s": round(p.length, 3),
            "reason": p.reason,
            "shows": p.shows,
            "fade_out_s": p.fade_out,
            "parts": _parts(p.cut, p.told),
        }
        for p in proposals
    ]
    return json.dumps(data, ensure_ascii=False, indent=2) + "\n"


def _parts(cut: Cut, joins: Sequence[str]) -> list[dict[str, Any]]:
    return [
        {
            "start_s": round(part.start, 6),
            "end_s": round(part.end, 6),
            **({"join": joins[k - 1], "level_db": part.level} if k else {}),
        }
        for k, part in enumerate(cut.parts)
    ]


def present(routine: Routine) -> str:
    """The recipe of a routine's cut, and what is set aside, as text."""
    if routine.cut is None:
        return _("The music is the whole song.\n")
    cut = routine.cut
    names = " + ".join(song.song for song in cut.songs) or cut.song
    lines = [_("A cut of {song}, {length:.2f} s:", song=names, length=cut.length)]
    lines += [_span(part, cut.songs) for part in cut.parts]
    aside = told_aside(routine.aside)
    return "\n".join([*lines, *([aside] if aside else [])]) + "\n"
