"""Space and Return in the whole window: the one does what the page is for, the other presses.

On every page Space is the main action wherever the focus is, unless a text is being edited; a
button reached with Tab is pressed with Return. Forms that stand in front of a page – the pose
picker, the set-up, every flow – keep both for their own boxes and buttons.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QAbstractButton, QComboBox, QToolButton, QWidget

_RETURN = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


def space_is(act: Callable[[], object], *parts: QWidget) -> None:
    """Let Space do `act` in parts of the window that have no main action of their own."""
    for part in parts:
        shortcut = QShortcut(QKeySequence("Space"), part)
        shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        shortcut.setAutoRepeat(False)
        shortcut.activated.connect(act)


def in_form(widget: QWidget | None) -> bool:
    """Whether a widget is in a form that stands in front of a page (its property `form`)."""
    while widget is not None and not widget.property("form"):
        widget = widget.parentWidget()
    return widget is not None


def presses(focus: QWidget | None, event: QEvent) -> bool:
    """Whether a key is Return on a button or a list of choices, which it is to press."""
    if not isinstance(event, QKeyEvent) or event.key() not in _RETURN:
        return False
    held = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
    return not held and isinstance(focus, QAbstractButton | QComboBox)


def press_focused(widget: QWidget, event: QKeyEvent) -> bool:
    """Press what has the focus in `widget` when the key is Return; True when it was pressed."""
    focus = widget.window().focusWidget()
    if event.isAutoRepeat() or not presses(focus, event):
        return False
    if isinstance(focus, QComboBox):
        focus.showPopup()
    elif isinstance(focus, QToolButton) and focus.menu() is not None:
        focus.showMenu()
    elif isinstance(focus, QAbstractButton):
        focus.click()
    event.accept()
    return True
