"""The words of the stage display: what a name becomes where there is no room for all of it."""

from __future__ import annotations

import re

from rehearse.cueing.cue_state import Cue, CueState
from rehearse.cueing.texts import short_form
from rehearse.routine.model import Level
from rehearse.words import _, shown

#: Words a note can do without where there is room for two.
_SMALL = {
    *("a", "an", "and", "at", "but", "by", "for", "from", "in", "into", "of", "off", "on"),
    *("or", "out", "so", "the", "to", "up", "with", "your"),
}
_SIDES = (shown("left"), shown("right"))


def sentence(words: str) -> str:
    """Words with a capital at their head."""
    return words[:1].upper() + words[1:]


def names_of(cue: Cue) -> tuple[str, ...]:
    """The name, then its spoken short form: neither is ever without the side of the name."""
    short = short_form(cue)
    found = [cue.name]
    if short and short != cue.name:
        said = short.lower().split()
        lost = [s for s in _SIDES if s in re.findall(r"\w+", cue.name.lower()) and s not in said]
        found.append(" ".join([short, *lost]))
    return tuple(sentence(name) for name in found)


def two_words(note: str) -> str:
    """The first two words of a note that say something: what is read in passing."""
    clause = re.split(r"[,.;:!?\n–—(]", note.strip(), maxsplit=1)[0]
    words = clause.split()
    telling = [word for word in words if word.lower() not in _SMALL]
    return sentence(" ".join((telling or words)[:2]))


def facing_words(cue: Cue) -> tuple[str, ...]:
    """Facing and level in words, from all of it to the least."""
    facing, level = shown(cue.facing), shown(cue.level)
    if cue.level is Level.STANDING:
        return (facing,)
    return (f"{facing}, {level}", level)


def way_words(cue: Cue) -> list[str]:
    """Where to, and two words of the note: what helps on the way, from all of it to the least."""
    place, note = shown(cue.moved_to), two_words(cue.placed.note)
    both = [f"{sentence(place)}: {note}"] if place and note else []
    return [*both, *(sentence(words) for words in (place, note) if words)]


def in_words(state: CueState) -> str:
    """What the display shows, for a screen reader: the next pose, and the one held."""
    if state.next is None:
        told = [_("No pose to come")]
    else:
        facing = facing_words(state.next)[0]
        place = [shown(state.next.moved_to)] if state.next.moved_to else []
        told = [
            ", ".join(
                [
                    _("Next: {name} on {hit}", name=state.next.name, hit=state.next.placed.hit),
                    facing,
                    *place,
                ]
            )
        ]
    if state.held is not None:
        told.append(_("Held: {name}", name=state.held.name))
    return ". ".join(told) + "."
