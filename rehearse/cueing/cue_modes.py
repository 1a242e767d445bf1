"""How much a pass shows and says: the cueing chosen for it."""

from __future__ import annotations

from typing import Literal

#: Everything; names only on the hit; counts only; nothing at all. Kept so in the logbook.
Cueing = Literal["all", "names", "counts", "memory"]

#: Whose names are said.
Said = Literal["both", "poses", "moves"]

#: The choices in the order offered, with their words; moves alone are for learning the way.
SAID: dict[Said, str] = {
    "both": "poses and moves",
    "poses": "poses only",
    "moves": "moves only",
}

#: The choices in the order offered, with their words.
CUEINGS: dict[Cueing, str] = {
    "all": "all cues",
    "names": "names on the hit",
    "counts": "counts only",
    "memory": "from memory",
}
