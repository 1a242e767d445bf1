"""The keys of the whole window in one table, and the one that stops everything.

A page has its own table of deeds; what stands here works on every page and no page may take its
keys. `STOP` goes further: it is obeyed in every state and in every dialogue.

While text is edited a typed d is text, and the stop is Ctrl+D, which is the stop everywhere else
too: whoever is used to one of the two is right in every place. A field that takes no letters –
numbers, minutes, a pose's number – is no text: D stops there as well. With Shift, and with the
caps lock on, it is the same key.
"""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QEvent, QObject, Qt, Signal, Slot
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence, QShortcut, QWindow
from PySide6.QtWidgets import (
    QApplication,
    QComboBox,
    QLineEdit,
    QPlainTextEdit,
    QTextEdit,
    QWidget,
)

#: Every page, every state, every dialogue.
EVERYWHERE = ("everywhere",)
#: Every page of the window, but not its dialogues.
PAGES = ("Music", "Routine", "Rehearse", "Logbook")


@dataclass(frozen=True)
class Action:
    """One thing that can be done with a key.

    Args:
        name: in the code. words: for buttons, menus and the list of keys.
        keys: those it has at first, as Qt writes them; the first is the one shown.
        pages: where it works.
    """

    name: str
    words: str
    keys: tuple[str, ...]
    pages: tuple[str, ...] = PAGES


STOP = Action(
    "stop everything", "Stop everything: dizzy, cramp or pain", ("D", "Ctrl+D"), EVERYWHERE
)
LOG = Action("log", "Show the folder of the program's log", ("Ctrl+Shift+L",))
#: The menu's lines, in their order.
MENU = (
    Action("new", "New routine", ("Ctrl+N",)),
    Action("open", "Open a routine folder", ("Ctrl+O",)),
    Action("open zip", "Open a zipped routine", ("Ctrl+Shift+O",)),
    Action("show", "Show and rules", ("Ctrl+R",)),
    Action("take along", "Handouts: sheet, cue track, stage music, zip", ("Ctrl+P",)),
    Action("own voice", "Own voice: record names and counts", ("Ctrl+Shift+P",)),
    LOG,
)
WINDOW = (
    STOP,
    *(Action(f"page {k}", f"{word} page", (str(k),)) for k, word in enumerate(PAGES, 1)),
    Action("undo", "Undo", ("Ctrl+Z",)),
    Action("redo", "Redo", ("Ctrl+Shift+Z", "Ctrl+Y")),
    Action("quit", "Quit", ("Ctrl+Q",)),
    *MENU,
)
#: No page and no clicker may have one of these.
RESERVED = frozenset(key for action in WINDOW for key in action.keys)


def is_stop(event: QKeyEvent) -> bool:
    """Whether a key press is the one that stops everything, with the focus where it is now."""
    held = event.modifiers() & ~(
        Qt.KeyboardModifier.ShiftModifier | Qt.KeyboardModifier.KeypadModifier
    )
    if event.key() != Qt.Key.Key_D:
        return False
    if held == Qt.KeyboardModifier.ControlModifier:
        return True
    focus = QApplication.focusWidget()
    return held == Qt.KeyboardModifier.NoModifier and not takes_letters(focus)


def takes_letters(widget: QWidget | None) -> bool:
    """Whether a letter typed into `widget` is text; in a spin box or a number's field it is not."""
    if isinstance(widget, QLineEdit):
        digits = widget.inputMethodHints() & Qt.InputMethodHint.ImhDigitsOnly
        return not (widget.isReadOnly() or digits)
    if isinstance(widget, QPlainTextEdit | QTextEdit):
        return not widget.isReadOnly()
    return isinstance(widget, QComboBox) and widget.isEditable()


class StopKey(QObject):
    """Hears the stop before any widget does, in whichever window of the program has the keys.

    It stands before the window that has the focus – dialogues come and go –, and not before the
    application, where it would be asked about every event there is. The shortcut beside it is for
    keyboards whose D is another letter: Qt looks through their other layouts.

    Signals:
        pressed: stop everything now; once for a key held down.
    """

    pressed = Signal()

    def __init__(self, window: QWidget) -> None:
        super().__init__(window)
        application = QGuiApplication.instance()
        application.focusWindowChanged.connect(self._watch)
        self._watch(application.focusWindow())
        for key in STOP.keys:
            shortcut = QShortcut(QKeySequence(key), window)
            shortcut.setContext(Qt.ShortcutContext.ApplicationShortcut)
            shortcut.setAutoRepeat(False)
            shortcut.activated.connect(self.pressed)

    @Slot(QWindow)
    def _watch(self, window: QWindow | None) -> None:
        if window is not None:
            window.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Take the stop away from whatever would have had the key."""
        if event.type() != QEvent.Type.KeyPress or not isinstance(event, QKeyEvent):
            return False
        if not is_stop(event):
            return False
        if not event.isAutoRepeat():
            self.pressed.emit()
        return True
