"""What must be there before anything can be rehearsed or counted, as one sentence with its key."""

from __future__ import annotations

from rehearse.music.beatmap import BeatMap
from rehearse.routine.model import Routine
from rehearse.ui.workspace import Workspace

NO_MAP = "This song has no beat map yet: press 1 and map it on the Music page."
NO_POSE = "No pose is placed yet: press 2 and put the first one on the music."
NO_COUNT = "{} stands on a count that this music does not have: press 2 and move it."


def missing(workspace: Workspace) -> str:
    """What the open routine lacks; empty: nothing."""
    beatmap, routine = workspace.beatmap, workspace.routine
    if beatmap is None or not beatmap.duration:
        return NO_MAP
    if workspace.other_song:
        return workspace.other_song
    if routine is None or not routine.poses:
        return NO_POSE
    astray = _astray(routine, beatmap)
    return NO_COUNT.format(f"{astray[:1].upper()}{astray[1:]}") if astray else ""


def _astray(routine: Routine, beatmap: BeatMap) -> str:
    """The name of the first pose or section on a count that the map does not have."""
    for placed in routine.poses:
        try:
            placed.times(beatmap)
        except KeyError:
            return placed.pose
    for section in routine.sections:
        try:
            beatmap.time_of(section.start), beatmap.time_of(section.end)
        except KeyError:
            return f"the section {section.name}"
    return ""
