"""What the film's flow asks of the routine and the logbook."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rehearse.files.user_error import UserError
from rehearse.film.keep import PROXY, kept_file
from rehearse.practice.habits import habits, too_short, trend
from rehearse.practice.takelog import TakeDone
from rehearse.routine.folder import OpenedFolder
from rehearse.ui.actions import key
from rehearse.ui.film.view import Beat
from rehearse.ui.workspace import Workspace
from rehearse.words import _


def opened(workspace: Workspace) -> OpenedFolder:
    """The open routine as a folder that was read.

    Raises:
        UserError: it has no beat map yet.
    """
    folder, routine, beatmap = workspace.folder, workspace.routine, workspace.beatmap
    if folder is None or routine is None or beatmap is None:
        raise UserError(_("the song has no counts yet"), do=_("map it on the Music page first"))
    return OpenedFolder(folder, routine, beatmap)


def beats_of(workspace: Workspace) -> list[Beat]:
    """The counts of the music, the first of an eight with its number."""
    beatmap = workspace.beatmap
    if beatmap is None:
        return []
    return [
        Beat(time, f"{count.eight}:1" if count.count == 1 else str(count.count))
        for time, count in zip(beatmap.beats, beatmap.counts, strict=True)
    ]


def kept_film(workspace: Workspace, take: TakeDone) -> Path | None:
    """The film for looking at; None: it is not kept any more."""
    if not take.folder or workspace.folder is None:
        return None
    return kept_file(workspace.folder, take.folder, PROXY)


def ways(workspace: Workspace) -> dict[str, tuple[float, float, float]]:
    """Music seconds of each pose by id: its transition begins, it is hit, its hold ends."""
    found: dict[str, tuple[float, float, float]] = {}
    routine, beatmap = workspace.routine, workspace.beatmap
    if routine is None or beatmap is None:
        return found
    for placed in routine.poses:
        try:
            found[placed.id] = placed.times(beatmap)
        except KeyError:
            continue
    return found


def teachings(workspace: Workspace, takes: Sequence[TakeDone]) -> dict[str, str]:
    """What several takes say about a pose, by its id; takes oldest first."""
    told = {habit.pose: f"{_capital(habit.sentence)}." for habit in habits(takes)}
    written = {}
    for pose, (start, hit, _unused) in ways(workspace).items():
        before = trend(takes, pose)
        if len(before) > 1:
            numbers = ", ".join(f"{1000 * late:+.0f}".replace("-", "−") for late in before)
            told[pose] = _(
                "{told} Take by take: {numbers} ms.", told=told.get(pose, ""), numbers=numbers
            ).strip()
        written[pose] = hit - start
    for pose, needed in too_short(takes, written):
        told[pose] += _(
            " Its transition has {written:.1f} s, the way in took {needed:.1f} s: "
            "{key_checks} on the Routine page offers a longer one.",
            written=written[pose],
            needed=needed,
            key_checks=key("checks"),
        )
    return told


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
