"""What can be done on the Music page, under which key."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Deed:
    """One thing to do.

    Args:
        name: what the page calls it. words: on its button. key: Qt's name of the key.
        tip: the whole sentence, for pointer and screen reader.
    """

    name: str
    words: str
    key: str
    tip: str


COUNTS = (
    Deed("twice", "Twice the counts", "Q", "Twice as many counts"),
    Deed("half", "Half the counts", "H", "Half as many counts"),
    Deed("one", "The 1 is here", "O", "Make the beat at the cursor the first of its bar"),
    Deed("eight", "New eight here", "N", "Begin an eight at the cursor, or no longer"),
    Deed("tap", "Tap along", "T", "Tap every beat with this key, the first tap on a 1"),
    Deed("pin", "Pin a beat here", "P", "There is a beat at the cursor: find the rest around it"),
    Deed("again", "Find beats again", "R", "Find the beats of the selected stretch anew"),
    Deed("doubt", "Next unsure spot", "J", "Select the next stretch whose beats are not sure"),
    Deed("reading", "Next reading", "Y", "Count the song in the next-best way, and hear it"),
    Deed("four", "Tap four counts", "U", "Tap four counts with this key, the first on a 1"),
)
SHIFTS = (
    (
        "5 ms",
        Deed("earlier", "5 ms earlier", "Alt+Left", "Move the counts 5 ms earlier"),
        Deed("later", "5 ms later", "Alt+Right", "Move the counts 5 ms later"),
    ),
    (
        "½ count",
        Deed("half_earlier", "½ count earlier", "Ctrl+Left", "Counts half a beat earlier"),
        Deed("half_later", "½ count later", "Ctrl+Right", "Counts half a beat later"),
    ),
    (
        "1 count",
        Deed("one_earlier", "1 count earlier", "Ctrl+Shift+Left", "Move the 1 a count earlier"),
        Deed("one_later", "1 count later", "Ctrl+Shift+Right", "Move the 1 a count later"),
    ),
)
MARKS = (
    Deed("accent", "Accent here", "A", "Add an accent at the cursor"),
    Deed("strike", "Delete accent", "X", "Delete the accent at the cursor"),
    Deed("free", "Free time", "F", "Make the selected stretch free time, or count it again"),
)
STAGE = (
    Deed("begin", "Stage start", "S", "The part used on stage begins at the cursor"),
    Deed("end", "Stage end", "Shift+S", "The part used on stage ends at the cursor"),
    Deed("whole", "Whole song", "W", "Use the whole song on stage"),
)
SONG = (
    Deed("song", "Another song", "G", "Choose another song for this routine"),
    Deed("map", "Find beats again", "M", "Find beats, accents and builds of the whole song again"),
)
LISTS = (
    Deed("read", "Import beats", "Ctrl+I", "Import the beats from a plain list"),
    Deed("write", "Write a beat list", "Ctrl+E", "Write the beats to a plain list"),
)
BAR = Deed("bar", "Bar", "B", "Counts in a bar")
LIST = Deed("list", "Beat list", "L", "Read or write a plain list of beats")
CLICKS = Deed("clicks", "Clicks", "C", "Hear a click on every count")

_PRINTED = {"Left": "←", "Right": "→", "Shift": "Shift ", "Ctrl": "Ctrl ", "Alt": "Alt "}


def printed(key: str) -> str:
    """A key as it stands on the keyboard."""
    return "".join(_PRINTED.get(part, part) for part in key.split("+"))
