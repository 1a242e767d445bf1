"""Edits of a routine: pure functions from the old routine to the new one.

Each takes the routine first and gives a new one with the poses in the order of their hits and
the sections in the order of their starts. Ids stay with their pose through every change: the
logbook and takeovers hang on them.

Common arguments: `beatmap` is the map the positions are written for; `pose_id` and
`section_id` name what is changed (KeyError when there is none).
"""

from rehearse.routine.edits.heading import add_own, change_own, describe, remove_own, set_stage
from rehearse.routine.edits.order import duplicate, insert, shift_after, swap, take_out
from rehearse.routine.edits.poses import change, lengthen, move_by, move_to, place, quicken
from rehearse.routine.edits.sections import (
    add_section,
    move_section,
    remove_section,
    rename_section,
    section_over,
)

__all__ = [
    "add_own",
    "add_section",
    "change",
    "change_own",
    "describe",
    "duplicate",
    "insert",
    "lengthen",
    "move_by",
    "move_section",
    "move_to",
    "place",
    "quicken",
    "remove_own",
    "remove_section",
    "rename_section",
    "section_over",
    "set_stage",
    "shift_after",
    "swap",
    "take_out",
]
