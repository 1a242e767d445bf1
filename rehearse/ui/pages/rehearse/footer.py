"""The foot of the page: the buttons, and one line that asks, cautions or explains the clicker."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from rehearse.ui import theme
from rehearse.ui.actions import STOP, named
from rehearse.ui.bindings import Bindings
from rehearse.ui.icons import SIZE, icon
from rehearse.ui.pages.rehearse.prompts import CautionLine, RunQuestion
from rehearse.ui.workspace import Workspace
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.session.session_view import SessionView

#: Action and its word on the button, from left to right; None is a stretch of empty room.
_BUTTONS = (
    ("begin", _("Start")),
    ("stop", _("Stop")),
    ("back", ""),
    ("next", ""),
    ("slower", ""),
    ("faster", ""),
    None,
    ("clean", _("Clean")),
    ("missed", _("Missed")),
    None,
    ("full", _("Full screen")),
)
_DRAWN = ("←", "→", "−", "+")
_BEGIN = {"music": _("Pause"), "count-in": _("Pause"), "rest": _("Pause"), "paused": _("Resume")}


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
            name, _unused = entry
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
                button.setIcon(icon("pause" if words == _("Pause") else "begin", theme.GROUND))
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
            button.setAccessibleName(_("{words}, key {key}", words=action.words, key=key))
            button.setToolTip(f"{action.sentence} ({key})")
        running = self._state not in ("idle", "over")
        self._buttons["stop"].setEnabled(running)
        for name in ("clean", "missed"):
            self._buttons[name].setEnabled(self._state != "idle")


#: Pixels below which a question and the long words of the stop have no room side by side.
_NARROW = 800


class Footer(QWidget):
    """Transport, question, caution, hint, and the one-touch stop."""

    def __init__(self, workspace: Workspace, keys: Bindings) -> None:
        super().__init__()
        self._workspace = workspace
        self._busy = self._full_screen = self._said = False
        self.transport = Transport(keys)
        self.question = RunQuestion()
        self.caution = CautionLine(workspace)
        self.notice = QLabel(wordWrap=True)
        self.notice.setProperty("role", "dim")
        self.unwell = QPushButton(icon("unwell", theme.FAULT), "")
        self.unwell.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.unwell.clicked.connect(workspace.stop_everything)
        words = _("Stop because of dizziness, cramp or pain, key {keys}", keys=STOP.keys[0])
        self.unwell.setAccessibleName(words)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, theme.STEP, 2 * theme.STEP, 2 * theme.STEP)
        column.setSpacing(theme.STEP)
        column.addWidget(self.transport)
        row = QHBoxLayout()
        for widget in (self.notice, self.question, self.caution):
            row.addWidget(widget, 1)
        row.addWidget(self.unwell)
        column.addLayout(row)
        self.caution.understood.clicked.connect(self._arrange)
        self._arrange()

    def show_view(self, view: SessionView, *, busy: bool) -> bool:
        """Show what is going on; returns whether a question has just been answered or lapsed."""
        self.transport.show_view(view)
        if view.plan is not None and busy:
            self.transport.tempo.setText(f"{view.plan.percent} %")
        asking = self.question.asking
        if view.asks and not asking and self._workspace.sheet is not None:
            self.show()  # the number is typed, also where the stage has the whole screen
            self.question.ask(self._workspace.sheet.cues)
        elif not view.asks and asking:
            self.question.hide()
            self.setVisible(not self._full_screen)
        changed = busy != self._busy or asking != self.question.asking
        self._busy = busy
        self._said = self._said and not busy
        if changed:
            self._arrange()
        return asking and not self.question.asking

    def set_full_screen(self, on: bool) -> None:
        """Leave the screen to the stage, but for a question."""
        self._full_screen = on
        self.setVisible(not on or self.question.asking)

    def say(self, words: str) -> None:
        """Put a sentence into the line; it stays until something is begun."""
        self.notice.setText(words)
        self._said = True
        self._arrange()

    def refresh(self) -> None:
        """The document is another one."""
        self.caution.refresh()
        self._arrange()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The question has the room in a narrow window."""
        super().resizeEvent(event)
        self._label_stop()

    def _label_stop(self) -> None:
        narrow = self.question.asking and self.width() < theme.px(_NARROW)
        self.unwell.setText(
            _("Stop  {keys}", keys=STOP.keys[0])
            if narrow
            else _("Dizzy, cramp or pain: stop  {keys}", keys=STOP.keys[0])
        )

    @Slot()
    def _arrange(self, *_unused: object) -> None:
        """One thing at a time: what is asked, else a caution that is due, else the hint."""
        asking = self.question.asking
        self._label_stop()
        cautious = self.caution.is_due and not (asking or self._busy or self._said)
        self.caution.setVisible(cautious)
        self.notice.setVisible(not asking and not cautious)
