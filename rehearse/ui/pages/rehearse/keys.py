"""What can be done with a key on the Rehearse page, and which key does it.

A presentation clicker sends Page Down and Page Up. What its two buttons do follows from what is
going on, so that a whole drill runs on them:

| | Page Down | Page Up |
| --- | --- | --- |
| nothing plays | begin | choose the section before |
| a drill that is judged | clean | missed |
| anything else plays | go on with the next section | stop |
| "where did you lose it?" | that is where (clean run, if none was chosen) | one pose back |

Held for a second, Page Up stops whatever plays. Every action takes any other key of any device
that sends keys: it is assigned by pressing it.
"""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QKeyCombination, QObject, Qt, Signal
from PySide6.QtGui import QAction, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QWidget

from rehearse.ui import actions
from rehearse.ui.settings import Settings


@dataclass(frozen=True)
class Deed:
    """One thing to do: its name in the settings, its words, its first keys."""

    name: str
    words: str
    keys: tuple[str, ...]


DEEDS = (
    Deed("begin", "Begin, pause, go on", ("Space",)),
    Deed("stop", "Stop", ("S",)),
    Deed("clean", "Clean", ("C",)),
    Deed("missed", "Missed", ("X",)),
    Deed("rounds", "Comparison rounds, or the routine", ("R",)),
    Deed("next", "Next section", ("Right",)),
    Deed("back", "Section before", ("Left",)),
    Deed("slower", "Slower by 5 %", ("-",)),
    Deed("faster", "Faster by 5 %", ("+", "=")),
    Deed("mark", "Mark here; the second mark drills what lies between", ("M",)),
    Deed("silent", "Go on without sound when the speaker is lost", ("N",)),
    Deed("full", "Full screen", ("F", "F11")),
    Deed("setup", "Set up", ("U",)),
    Deed("clicker_on", "Clicker forward", ("PgDown",)),
    Deed("clicker_back", "Clicker back", ("PgUp",)),
)
#: Keys that no deed can have: the window's, above all its emergency stop.
RESERVED = frozenset({*actions.RESERVED, "Shift+D", "Esc", "Tab", "Return", "Enter"})
_PRINTED = {"Left": "←", "Right": "→", "Up": "↑", "Down": "↓", "-": "−"}
_PRINTED |= {"PgDown": "Page Down", "PgUp": "Page Up"}


class Keys(QObject):
    """The page's actions with their keys, as assigned on this machine.

    Signals:
        changed: another key was assigned.
    """

    changed = Signal()

    def __init__(self, page: QWidget, settings: Settings) -> None:
        super().__init__(page)
        self._settings = settings
        self.actions: dict[str, QAction] = {}
        for deed in DEEDS:
            action = QAction(deed.words, page)
            action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            action.setAutoRepeat(deed.name in ("slower", "faster", "next", "back"))
            page.addAction(action)
            self.actions[deed.name] = action
        self._assign()

    def of(self, name: str) -> tuple[str, ...]:
        """The keys of a deed, as text."""
        deed = next(d for d in DEEDS if d.name == name)
        stored = self._settings.get(f"keys/{name}", "").split("\t")
        return tuple(key for key in stored if key and key not in RESERVED) or deed.keys

    def label(self, name: str) -> str:
        """The first key of a deed as it is printed on the key."""
        key = QKeySequence(self.of(name)[0]).toString(QKeySequence.SequenceFormat.NativeText)
        return _PRINTED.get(key, key)

    def assign(self, name: str, key: str) -> str:
        """Give `key` to a deed; returns why that cannot be, or nothing.

        A key that another deed had is taken from it, unless it is that one's last.
        """
        if key in RESERVED or "Ctrl+" in key:  # undo, quit and the menu's lines hang on Ctrl
            return f"The key {key} belongs to the window."
        for deed in DEEDS:
            others = self.of(deed.name)
            if deed.name == name or key not in others:
                continue
            if len(others) == 1:
                return f"The key {key} is the only one for “{deed.words}”: give that another first."
            self._store(deed.name, tuple(k for k in others if k != key))
        self._store(name, (key,))
        self._assign()
        self.changed.emit()
        return ""

    def reset(self) -> None:
        """Every deed has its first keys again."""
        for deed in DEEDS:
            self._store(deed.name, deed.keys)
        self._assign()
        self.changed.emit()

    def _store(self, name: str, keys: tuple[str, ...]) -> None:
        self._settings.put(f"keys/{name}", "\t".join(keys))

    def _assign(self) -> None:
        for name, action in self.actions.items():
            action.setShortcuts([QKeySequence(key) for key in self.of(name)])


def key_of(event: QKeyEvent) -> str:
    """The key of an event as text, empty for a lone Shift or the like."""
    modifiers = (Qt.Key.Key_Shift, Qt.Key.Key_Control, Qt.Key.Key_Alt, Qt.Key.Key_Meta)
    if event.key() in (*modifiers, Qt.Key.Key_unknown, 0):
        return ""
    held = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
    return QKeySequence(QKeyCombination(held, Qt.Key(event.key()))).toString()
