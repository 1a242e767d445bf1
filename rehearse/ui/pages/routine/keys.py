"""Every gesture of the Routine page with its key, in the words of the key list (?)."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QWidget


@dataclass(frozen=True)
class Deed:
    """One gesture: its name in the code, its words, its keys; `repeats` while held down."""

    name: str
    words: str
    keys: tuple[str, ...]
    repeats: bool = False


DEEDS = (
    Deed("play", "Play from the cursor, stop", ("Space",)),
    Deed("put", "Add a pose at the cursor", ("P",)),
    Deed("beat", "Add the current pose on this beat", ("B",)),
    Deed("accent", "Add the current pose on the next accent", ("A",)),
    Deed("put_move", "Add a move at the cursor, or before the chosen pose", (",",)),
    Deed("begin_move", "Begin the current move on this beat", ("Shift+B",)),
    Deed("again", "Hit the held pose again here, or no longer", (".",)),
    Deed("move_before", "Move before", ("Alt+Up",), True),
    Deed("move_after", "Move after", ("Alt+Down",), True),
    Deed("accents", "All chosen poses on their nearest accents", ("Shift+A",)),
    Deed("insert", "Insert a pose, what follows moves on up to the next pin", ("I",)),
    Deed("exchange", "Show another pose here", ("Return", "Enter")),
    Deed("hand", "Choose the current pose", ("J",)),
    Deed("earlier", "Hit earlier", ("Left",), True),
    Deed("later", "Hit later", ("Right",), True),
    Deed("eight_earlier", "Chosen poses an eight earlier", ("Shift+Left",), True),
    Deed("eight_later", "Chosen poses an eight later", ("Shift+Right",), True),
    Deed("home", "Cursor to the start", ("Home",)),
    Deed("end", "Cursor to the end", ("End",)),
    Deed("previous", "Pose before", ("Up",), True),
    Deed("next", "Pose after", ("Down",), True),
    Deed("more_previous", "Choose the one before too", ("Shift+Up",), True),
    Deed("more_next", "Choose the one after too", ("Shift+Down",), True),
    Deed("all", "Choose all poses", ("Ctrl+A",)),
    Deed("hold_longer", "Hold longer", ("H",), True),
    Deed("hold_shorter", "Hold shorter", ("Shift+H",), True),
    Deed("way_longer", "Transition longer", ("T",), True),
    Deed("way_shorter", "Transition shorter", ("Shift+T",), True),
    Deed("swap", "Swap what is chosen with the next pose", ("X",)),
    Deed("duplicate", "Duplicate", ("Y",)),
    Deed("copy_up", "Copy what is chosen", ("Ctrl+C",)),
    Deed("paste", "Paste it, the first hit at the cursor", ("Ctrl+V",)),
    Deed("paste_mirrored", "Paste it mirrored", ("Ctrl+Shift+V",)),
    Deed("stretch", "Dance the chosen poses in other counts", ("Ctrl+T",)),
    Deed("take_out", "Delete", ("Delete", "Backspace")),
    Deed(
        "close_up",
        "Delete, what follows moves up to the next pin",
        ("Shift+Delete", "Shift+Backspace"),
    ),
    Deed("other_way", "The other way: move all, or only up to the next pin", ("Q",)),
    Deed("pin", "Pin it to its place, or no longer", ("Shift+P",)),
    Deed("facing", "Quarter turn to the right; a move: its other side", ("F",)),
    Deed("turn_way", "Turn into it to the left, to the right, the shorter way", ("Shift+F",)),
    Deed("place", "Where on the stage: centre, left, right, front, back …", ("Shift+W",)),
    Deed("level", "Standing, lunge, kneeling", ("L",)),
    Deed("note", "Write a note", ("N",)),
    Deed("section", "Make a section of what is chosen", ("E",)),
    Deed("grid", "Jump to counts, half counts, accents …", ("G",)),
    Deed("slower", "Slower by 5 %", ("-",), True),
    Deed("faster", "Faster by 5 %", ("+", "="), True),
    Deed("closer", "See less of the music, closer", ("Z",), True),
    Deed("wider", "See more of the music", ("Shift+Z",), True),
    Deed("mirror", "Mirror view", ("M",)),
    Deed("checks", "Checks", ("C",)),
    Deed("suggestions", "Suggestions", ("S",)),
    Deed("versions", "Versions", ("V",)),
    Deed("keep", "Keep this state under a name", ("K",)),
    Deed("copy", "Compare with a copy from the coach", ("O",)),
    Deed("keys", "All keys", ("?",)),
    Deed("leave", "Clear selection", ("Escape",)),
)
_PRINTED = {
    "Left": "←",
    "Right": "→",
    "Up": "↑",
    "Down": "↓",
    "Delete": "Del",
    "-": "−",
    "Return": "Enter",
}


def make_actions(page: QWidget) -> dict[str, QAction]:
    """The page's actions by name; they hear their keys wherever the focus is on the page."""
    actions = {}
    for deed in DEEDS:
        action = QAction(deed.words, page)
        action.setShortcuts(list(deed.keys))
        action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        action.setAutoRepeat(deed.repeats)
        page.addAction(action)
        actions[deed.name] = action
    return actions


def key_of(name: str) -> str:
    """The first key of a gesture as it is printed."""
    deed = next(d for d in DEEDS if d.name == name)
    parts = deed.keys[0].split("+") if len(deed.keys[0]) > 1 else [deed.keys[0]]
    return "+".join(_PRINTED.get(part, part) for part in parts)
