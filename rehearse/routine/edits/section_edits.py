"""Edits of the sections that are drilled by themselves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from rehearse.files.user_error import UserError
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Position
from rehearse.routine.edits.pose_edits import tidy_position
from rehearse.routine.model import Routine, Section, new_id
from rehearse.routine.snapping import Snap, snap
from rehearse.words import _, section_text


def add_section(
    routine: Routine,
    beatmap: BeatMap,
    name: str,
    start: Position,
    end: Position,
    section_id: str = "",
) -> Routine:
    """Name the stretch [start, end).

    Raises:
        UserError: it has no length.
    """
    section = Section(section_id or new_id(), name, tidy_position(start), tidy_position(end))
    return _with(routine, beatmap, (*routine.sections, section))


def section_over(
    routine: Routine, beatmap: BeatMap, pose_ids: Iterable[str], name: str, section_id: str = ""
) -> Routine:
    """A section over the selected poses, from the first transition to the last hold's end.

    The way into the part and out of it belongs to it: it is drilled with both.
    """
    times = [routine.placed(i).times(beatmap) for i in pose_ids]
    start = snap(beatmap, min(t[0] for t in times), Snap.QUARTERS)
    end = snap(beatmap, max(t[2] for t in times), Snap.QUARTERS)
    return add_section(routine, beatmap, name, start, end, section_id)


def rename_section(routine: Routine, section_id: str, name: str) -> Routine:
    """Give a section another name."""
    new = replace(routine.section(section_id), name=name)
    return replace(
        routine, sections=tuple(new if s.id == section_id else s for s in routine.sections)
    )


def move_section(
    routine: Routine, beatmap: BeatMap, section_id: str, start: Position, end: Position
) -> Routine:
    """Set a section's bounds.

    Raises:
        UserError: it would have no length.
    """
    new = replace(routine.section(section_id), start=tidy_position(start), end=tidy_position(end))
    sections = tuple(new if s.id == section_id else s for s in routine.sections)
    return _with(routine, beatmap, sections)


def remove_section(routine: Routine, section_id: str) -> Routine:
    """Take a section out; its poses stay."""
    routine.section(section_id)
    return replace(routine, sections=tuple(s for s in routine.sections if s.id != section_id))


def _with(routine: Routine, beatmap: BeatMap, sections: tuple[Section, ...]) -> Routine:
    for section in sections:
        if not beatmap.time_of(section.start) < beatmap.time_of(section.end):
            raise UserError(
                _("the section {name} would end before it starts", name=section_text(section.name)),
                do=_("choose a later end"),
            )
    by_start = sorted(sections, key=lambda s: beatmap.time_of(s.start))
    return replace(routine, sections=tuple(by_start))
