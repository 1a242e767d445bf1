"""The row beneath the stage: each button says its key."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QWidget

from rehearse.ui import theme
from rehearse.ui.actions import named
from rehearse.ui.bindings import Bindings
from rehearse.ui.icons import SIZE, icon

if TYPE_CHECKING:
    from rehearse.session.session_view import SessionView

#: Action and its word on the button, from left to right; None is a stretch of empty room.
_BUTTONS = (
    ("begin", "Start"),
    ("stop", "Stop"),
    ("back", ""),
    ("next", ""),
    ("slower", ""),
    ("faster", ""),
    None,
    ("clean", "Clean"),
    ("missed", "Missed"),
    None,
    ("full", "Full screen"),
)
_DRAWN = ("←", "→", "−", "+")
_BEGIN = {"music": "Pause", "count-in": "Pause", "rest": "Pause", "paused": "Resume"}


#: On a narrow page only the first button keeps its word, and all stand closer.
_TIGHT = "QPushButton { padding: 6px; }"


class Transport(QWidget):
    """Buttons for the actions; the first one says what Space does now."""

    def __init__(self, keys: Bindings) -> None:
        super().__init__()
        self._keys = keys
        self._buttons: dict[str, QPushButton] = {}
        self.tempo = QLabel()
        self.tempo.setMinimumWidth(7 * theme.STEP)
        self._tight = False
        self._row = row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(theme.STEP)
        for entry in _BUTTONS:
            if entry is None:
                row.addStretch(1)
                continue
            name, _ = entry
            button = QPushButton()
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            button.clicked.connect(keys.actions[name].trigger)
            button.setIconSize(SIZE)
            if name == "begin":
                button.setProperty("role", "main")
            else:
                button.setIcon(icon(name))
            self._buttons[name] = button
            row.addWidget(button)
            if name == "slower":
                row.addWidget(self.tempo)
        keys.changed.connect(self._label)
        self._state = "idle"
        self._label()
        self._wide = self.minimumSizeHint().width()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Words only where there is room for them."""
        super().resizeEvent(event)
        tight = self.width() < self._wide
        if tight != self._tight:
            self._tight = tight
            self.setStyleSheet(_TIGHT if tight else "")
            self._row.setSpacing(theme.STEP // 2 if tight else theme.STEP)
            self._label()

    def show_view(self, view: SessionView) -> None:
        """Say what can be done now."""
        if view.state != self._state:
            self._state = view.state
            self._label()

    @Slot()
    def _label(self) -> None:
        for entry in _BUTTONS:
            if entry is None:
                continue
            name, words = entry
            if name == "begin":
                words = _BEGIN.get(self._state, words)
            button = self._buttons[name]
            if name == "begin":
                button.setIcon(icon("pause" if words == "Pause" else "begin", theme.GROUND))
            key = self._keys.label(name)
            if self._tight and name != "begin":
                button.setText("" if key in _DRAWN else key)
            elif words:
                button.setText(f"{words}  {key}")
            elif key not in _DRAWN:  # the icon alone is what is printed on the key
                button.setText(key)
            else:
                button.setText("")
            action = named(name)
            button.setAccessibleName(f"{action.words}, key {key}")
            button.setToolTip(f"{action.sentence} ({key})")
        running = self._state not in ("idle", "over")
        self._buttons["stop"].setEnabled(running)
        for name in ("clean", "missed"):
            self._buttons[name].setEnabled(self._state != "idle")
