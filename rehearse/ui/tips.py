"""What a control says of itself when the pointer rests on it: what it does, and its key.

Controls of an action have its sentence. Every other one is told by its name – for whoever reads
the screen by ear it has one anyway – and by the key that reaches it: its own, or Alt with the
letter of its label. Worked out when it is asked for, so that nothing is made for it beforehand.
"""

from __future__ import annotations

import re

from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSpinBox,
    QComboBox,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QSlider,
    QToolTip,
    QWidget,
)

from rehearse.ui import theme
from rehearse.words import _

#: A name that ends in its key: "Back, key Escape".
_NAMED = re.compile(rf"^(.*?),? (?:{_('keys?')}) (.+)$", re.DOTALL)
#: How a key is called by whoever reads aloud, and as it is printed.
_READ = {"Escape": "Esc", _("minus and plus"): "− +", _("Shift and Up"): "Shift+↑"}
_READ |= {_("Shift and Down"): "Shift+↓", "Alt ": "Alt+"}
#: Words and key of a button: "OK   Enter".
_ON_BUTTON = re.compile(r"^(.*\S) {3}(\S.*)$", re.DOTALL)

#: What can be used; a canvas or a page says nothing of itself.
CONTROLS = (
    *(QAbstractButton, QAbstractItemView, QAbstractSpinBox, QSlider),
    *(QComboBox, QLineEdit, QPlainTextEdit),
)


def tip_of(widget: QWidget | None) -> str:
    """The tooltip of a control, or of the control it is a part of; empty where there is none."""
    while widget is not None and not widget.isWindow():
        if widget.toolTip():
            return widget.toolTip()
        if isinstance(widget, CONTROLS) and (said := _worked_out(widget)):
            return said
        widget = widget.parentWidget()
    return ""


def _worked_out(widget: QWidget) -> str:
    name = widget.accessibleName()
    label = _label_of(widget)
    key = _mnemonic(label)
    if found := _NAMED.match(name):
        name, key = found[1], found[2]
        for read, printed in _READ.items():
            key = key.replace(read, printed)
    elif isinstance(widget, QAbstractButton):
        words = widget.text().replace("&&", "\0").replace("&", "").replace("\0", "&")
        shown = _ON_BUTTON.match(words)
        key = key or (shown[2] if shown else "")
        name = name or (shown[1] if shown else words)
    name = name or label.replace("&", "")
    if not name:
        return ""
    if not key and widget.focusPolicy() & Qt.FocusPolicy.TabFocus:
        key = "Tab"  # which reaches it
    elif not key and (isinstance(widget, QAbstractItemView) or _is_one_of(widget)):
        key = "↑ ↓"
    said = f"{name[:1].upper()}{name[1:]}"
    return theme.tip(f"{said} ({key})" if key else said)


def _is_one_of(widget: QWidget) -> bool:
    """Whether a button is one of several of which one is chosen: the arrows go through them."""
    return isinstance(widget, QAbstractButton) and widget.group() is not None


def _label_of(widget: QWidget) -> str:
    """What stands on a control, or on the label before it, its letter marked by &."""
    if isinstance(widget, QAbstractButton):
        return widget.text()
    around = widget.parentWidget()
    labels = around.findChildren(QLabel) if around is not None else ()
    return next((one.text() for one in labels if one.buddy() is widget), "")


def _mnemonic(label: str) -> str:
    """Alt with the letter after &; empty for none."""
    sequence = QKeySequence.mnemonic(label)
    return "" if sequence.isEmpty() else sequence.toString()


def show_tip(window: QWidget, at: QPoint) -> bool:
    """Show the tooltip of what lies at a place of the screen in `window`; whether there is one."""
    widget = window.childAt(window.mapFromGlobal(at))
    said = tip_of(widget)
    if widget is None or not said:
        QToolTip.hideText()
        return False
    if isinstance(widget, QComboBox) and widget.view().isVisible():
        return False
    QToolTip.showText(at, said, widget)
    return True
