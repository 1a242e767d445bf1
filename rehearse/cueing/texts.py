"""The words said for a pose beside its name: its short form, and where it turns."""

from __future__ import annotations

from collections.abc import Iterable

from rehearse.cueing.cue_state import Cue
from rehearse.routine.model import Facing, Level
from rehearse.words import ngettext, place_text, shown

_TURNS = {f: f.value for f in Facing}
_LEVELS = {Level.STANDING: "stand", Level.LUNGE: "lunge", Level.KNEELING: "kneel"}


def short_form(cue: Cue) -> str:
    """What is said where the name has no room: the athlete's own, or the pose's; may be empty."""
    return cue.placed.say or shown(cue.pose.say)


def unsaid_words(unsaid: Iterable[Cue]) -> str:
    """One sentence that names the poses without room for their names; empty where there are none.

    A pose that comes again in another pass is named once.
    """
    names = dict.fromkeys(f"{cue.name} ({place_text(cue.placed.hit)})" for cue in unsaid)
    if not names:
        return ""
    return ngettext(
        "{number} name is not said, for want of room: {names} – give it a shorter spoken form,"
        " or more room.",
        "{number} names are not said, for want of room: {names} – give them a shorter spoken form,"
        " or more room.",
        len(names),
        number=len(names),
        names=", ".join(names),
    )


def turns_of(cue: Cue, before: Cue | None = None) -> list[str]:
    """Facing and level as they are said, as far as they differ from the pose `before`."""
    turns = []
    if before is None or cue.facing is not before.facing:
        turns.append(shown(_TURNS[cue.facing]))
    if before is None or cue.level is not before.level:
        turns.append(shown(_LEVELS[cue.level]))
    return turns
