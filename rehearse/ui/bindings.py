"""Qt's actions for the declared ones of a page, with the keys that were assigned on this machine.

The keys of the Rehearse page can be others: a clicker, a pedal, another letter. They are stored
under `keys/NAME`; whatever was stored by an earlier version goes on working, apart from first keys
of then, which are the first keys of now.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Mapping

from PySide6.QtCore import QKeyCombination, QObject, Qt, Signal
from PySide6.QtGui import QAction, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QAbstractButton, QWidget

from rehearse.ui import actions
from rehearse.ui.actions import Action
from rehearse.ui.page_menu import offer_menu
from rehearse.ui.settings import Settings
from rehearse.words import _

Slots = Mapping[str, Callable[[], object]]

#: Keys that cannot be assigned: the window's, above all its emergency stop.
RESERVED = frozenset({*actions.RESERVED, "Shift+D", "Esc", "Tab", "Return", "Enter"})
#: First keys of earlier versions, which "Reset keys" stored.
_FORMER = {"silent": ("N",), "setup": ("U",)}


class Bindings(QObject):
    """The actions of one page: they hear their keys wherever the focus is on it.

    Args:
        widget: the page. declared: its actions. slots: what each does, by name; more can be
            connected later. settings: where assigned keys are kept; None: the first keys count.

    Attributes:
        actions: Qt's action of each name.

    Signals:
        changed: another key was assigned.
    """

    changed = Signal()

    def __init__(
        self,
        widget: QWidget,
        declared: Iterable[Action],
        slots: Slots | None = None,
        settings: Settings | None = None,
        context: Qt.ShortcutContext = Qt.ShortcutContext.WidgetWithChildrenShortcut,
    ) -> None:
        super().__init__(widget)
        offer_menu(widget)
        self._settings = settings
        self._declared = {action.name: action for action in declared}
        self.actions: dict[str, QAction] = {}
        for action in self._declared.values():
            made = QAction(widget)
            made.setText(action.words)
            made.setObjectName(action.name)
            made.setShortcutContext(context)
            made.setAutoRepeat(action.repeats)
            made.setToolTip(action.sentence)
            widget.addAction(made)
            self.actions[action.name] = made
        self._assign()
        self.connect_slots(slots or {})

    def connect_slots(self, slots: Slots) -> None:
        """Say what actions do, by their names."""
        for name, slot in slots.items():
            self.actions[name].triggered.connect(_plain(slot))

    def of(self, name: str) -> tuple[str, ...]:
        """The keys of an action, as Qt writes them."""
        return keys_of(self._declared[name], self._settings)

    def label(self, name: str) -> str:
        """The first key of an action as it is printed on the key."""
        # A Mac prints signs on its keys; the words of all others are the catalogue's.
        spelled = QKeySequence.SequenceFormat
        kind = spelled.NativeText if sys.platform == "darwin" else spelled.PortableText
        return actions.printed(QKeySequence(self.of(name)[0]).toString(kind))

    def dress(self, button: QAbstractButton, name: str, words: str | None = None) -> None:
        """Give a button the words, key and tooltip of an action; `words` stand instead of its own.

        A button without words shows its key alone.
        """
        action, label = self._declared[name], self.label(name)
        said = action.words if words is None else words
        button.setText(f"{said}   {label}" if said else label)
        button.setToolTip(f"{action.sentence} ({label})")
        button.setAccessibleName(
            _("{words}, key {label}", words=words or action.tip or action.words, label=label)
        )

    def button(self, button: QAbstractButton, name: str, words: str | None = None) -> None:
        """Let a button do what the action does, and say so; a click leaves the keys where they are.

        Tab still reaches the button.
        """
        self.dress(button, name, words)
        button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        button.clicked.connect(self.actions[name].trigger)
        self.actions[name].enabledChanged.connect(button.setEnabled)

    def allow(self, name: str, possible: bool) -> None:
        """Say whether an action is possible now; its buttons and its key follow."""
        self.actions[name].setEnabled(possible)

    def assign(self, name: str, key: str) -> str:
        """Give `key` to an action; returns why that cannot be, or nothing.

        A key that another action of the page had is taken from it, unless it is that one's last.
        """
        if key in RESERVED or "Ctrl+" in key:  # undo, quit and the menu's lines hang on Ctrl
            return _("The key {key} belongs to the window.", key=key)
        for action in self._declared.values():
            others = self.of(action.name)
            if action.name == name or key not in others:
                continue
            if len(others) == 1:
                return _(
                    "The key {key} is the only one for “{words}”: give that another first.",
                    key=key,
                    words=action.words,
                )
            self._store(action.name, tuple(k for k in others if k != key))
        self._store(name, (key,))
        self._assign()
        self.changed.emit()
        return ""

    def reset(self) -> None:
        """Every action has its first keys again."""
        for action in self._declared.values():
            self._store(action.name, ())
        self._assign()
        self.changed.emit()

    def _store(self, name: str, keys: tuple[str, ...]) -> None:
        if self._settings is not None:
            self._settings.put(f"keys/{name}", "\t".join(keys))

    def _assign(self) -> None:
        for name, action in self.actions.items():
            action.setShortcuts([QKeySequence(key) for key in self.of(name)])


def _plain(slot: Callable[[], object]) -> Callable[[], object]:
    """A slot that is not handed whether the action is checked."""
    return lambda: slot()


def keys_of(action: Action, settings: Settings | None) -> tuple[str, ...]:
    """The keys of an action on this machine."""
    if settings is None:
        return action.keys
    stored = tuple(str(settings.get(f"keys/{action.name}", "")).split("\t"))
    if stored == _FORMER.get(action.name):
        return action.keys
    return tuple(key for key in stored if key and key not in RESERVED) or action.keys


class _KeyNames(dict[str, str]):
    """The printed key of each action that a text names."""

    def __init__(self, settings: Settings | None) -> None:
        super().__init__()
        self._settings = settings

    def __missing__(self, name: str) -> str:
        return actions.printed(keys_of(actions.named(name), self._settings)[0])


def with_keys(text: str, settings: Settings | None = None) -> str:
    """A text with the key of each action that it names in braces: "{begin} starts it".

    Raises:
        KeyError: there is no such action.
    """
    return text.format_map(_KeyNames(settings))


def meaning_elsewhere(key: str, page: str) -> str:
    """What a key means on another page, in a sentence; empty: nothing."""
    for action in actions.ALL:
        if key in action.keys and page not in action.pages and actions.is_letter(key):
            return _(
                "On the {pages} page {key} is “{words}”.",
                pages=action.pages[0],
                key=actions.printed(key),
                words=action.words,
            )
    return ""


def key_of(event: QKeyEvent) -> str:
    """The key of an event as text, empty for a lone Shift or the like."""
    modifiers = (Qt.Key.Key_Shift, Qt.Key.Key_Control, Qt.Key.Key_Alt, Qt.Key.Key_Meta)
    if event.key() in (*modifiers, Qt.Key.Key_unknown, 0):
        return ""
    held = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
    return QKeySequence(QKeyCombination(held, Qt.Key(event.key()))).toString()
