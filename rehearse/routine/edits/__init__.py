"""Edits of a routine: pure functions from the old routine to the new one.

Each takes the routine first and gives a new one with the poses in the order of their hits and
the sections in the order of their starts. Ids stay with their pose through every change: the
logbook and takeovers hang on them.

Common arguments: `beatmap` is the map the positions are written for; `pose_id` and
`section_id` name what is changed (KeyError when there is none).
"""

from rehearse.routine.edits.fitting import fit, place_fitting
from rehearse.routine.edits.heading import (
    add_own,
    add_own_move,
    change_own,
    change_own_move,
    describe,
    remove_own,
    remove_own_move,
    set_stage,
)
from rehearse.routine.edits.move_edits import (
    EXIT,
    add_move,
    begin_move,
    change_move,
    find_move,
    fit_moves,
    hit_again,
    mirror_moves,
    moves_of,
    remove_move,
    reorder_move,
    resize_move,
    set_border,
    set_moves,
)
from rehearse.routine.edits.order import (
    insert,
    next_pinned,
    shift_after,
    swap,
    swap_with_next,
    take_out,
    take_out_all,
)
from rehearse.routine.edits.phrase import (
    Phrase,
    copy,
    duplicate,
    eight_at,
    in_the_way,
    mirrored,
    move_all,
    onto_accents,
    paste,
)
from rehearse.routine.edits.phrase_counts import counts_of, stretch
from rehearse.routine.edits.pose_edits import change, lengthen, move_by, move_to, place, quicken
from rehearse.routine.edits.section_edits import (
    add_section,
    move_section,
    remove_section,
    rename_section,
    section_over,
)

__all__ = [
    "EXIT",
    "Phrase",
    "add_move",
    "add_own",
    "add_own_move",
    "add_section",
    "begin_move",
    "change",
    "change_move",
    "change_own",
    "change_own_move",
    "copy",
    "counts_of",
    "describe",
    "duplicate",
    "eight_at",
    "find_move",
    "fit",
    "fit_moves",
    "hit_again",
    "in_the_way",
    "insert",
    "lengthen",
    "mirror_moves",
    "mirrored",
    "move_all",
    "move_by",
    "move_section",
    "move_to",
    "moves_of",
    "next_pinned",
    "onto_accents",
    "paste",
    "place",
    "place_fitting",
    "quicken",
    "remove_move",
    "remove_own",
    "remove_own_move",
    "remove_section",
    "rename_section",
    "reorder_move",
    "resize_move",
    "section_over",
    "set_border",
    "set_moves",
    "set_stage",
    "shift_after",
    "stretch",
    "swap",
    "swap_with_next",
    "take_out",
    "take_out_all",
]
