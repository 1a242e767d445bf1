"""Buttons of the Music page, made of its declared actions."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QEvent, QPoint, QSize, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLayout,
    QMenu,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from rehearse.ui import theme
from rehearse.ui.actions import Action
from rehearse.ui.bindings import Bindings
from rehearse.words import _

Act = Callable[[], None]

#: Width in pixels of a foot under which its buttons have less room around their words.
_TIGHT = 1120


class Controls:
    """Makes the buttons; what each does is bound already."""

    def __init__(self, bindings: Bindings) -> None:
        self._bindings = bindings
        self.buttons: dict[str, QPushButton] = {}

    def button(self, action: Action) -> QPushButton:
        """A button with its words and key."""
        button = QPushButton()
        self._bindings.button(button, action.name)
        self.buttons[action.name] = button
        return button

    def menu(self, action: Action, words: str, *parts: Sequence[Action]) -> QPushButton:
        """A button that opens a menu of actions in groups, each line with its key."""
        button = QPushButton()
        menu = QMenu(button)
        menu.setStyleSheet("QMenu::item { padding: 3px 24px; }")  # all of it on a low screen
        for lines in parts:
            menu.addSeparator()
            for line in lines:
                entry = menu.addAction(f"{line.words}\t{self._bindings.label(line.name)}")
                entry.setToolTip(line.sentence)
                entry.triggered.connect(self._bindings.actions[line.name].trigger)
        self._bindings.dress(button, action.name, words)
        button.setAccessibleName(
            _("{tip}, key {label}", tip=action.tip, label=self._bindings.label(action.name))
        )
        button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        button.setMenu(menu)
        self._bindings.connect_slots({action.name: button.showMenu})
        self.buttons[action.name] = button
        return button

    def choices(
        self, action: Action, entries: Sequence[tuple[str, Act]], parent: QPushButton
    ) -> None:
        """Let an action open a menu of (words, act) over a button."""
        menu = QMenu(parent)
        for words, act in entries:
            menu.addAction(words).triggered.connect(act)
        self._bindings.connect_slots(
            {
                action.name: lambda: menu.popup(
                    parent.mapToGlobal(QPoint(0, -menu.sizeHint().height()))
                )
            }
        )

    def grid(self, actions: Sequence[Action], columns: int) -> QGridLayout:
        """Buttons row by row."""
        grid = QGridLayout()
        grid.setSpacing(theme.STEP)
        for index, action in enumerate(actions):
            grid.addWidget(self.button(action), index // columns, index % columns)
        return grid


class FooterRow(QWidget):
    """Groups of buttons side by side; in a narrow window the last one gets a line of its own.

    Args:
        groups: as `group` makes them; the last one is told apart. Where there is hardly any
            room the second gets a line too.
    """

    def __init__(self, *groups: QWidget) -> None:
        super().__init__()
        self._last, self._second, self._groups = groups[-1], groups[1], groups
        self._row, self._column = QHBoxLayout(), QVBoxLayout(self)
        self._row.setSpacing(3 * theme.STEP)
        for one in groups:
            self._row.addWidget(one, 0, Qt.AlignmentFlag.AlignTop)
        self._row.addStretch(1)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(theme.STEP)
        self._column.addLayout(self._row)
        self._line = QHBoxLayout()
        self._column.addLayout(self._line)
        self._narrow = self._tight = False
        self._wanted = 0

    def minimumSizeHint(self) -> QSize:
        """No group keeps the window wide."""
        return QSize(0, super().minimumSizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the width out."""
        super().resizeEvent(event)
        self._fit()

    def event(self, event: QEvent) -> bool:
        """Share it out anew when a group wants another size: type grows after the first look."""
        done = super().event(event)
        if event.type() == QEvent.Type.LayoutRequest:
            self._fit()
        return done

    def _fit(self) -> None:
        tight = self.width() < theme.px(_TIGHT)
        if tight != self._tight:
            self._tight = tight
            self.setStyleSheet("QPushButton { padding: 2px 5px; }" if tight else "")
            self._row.setSpacing((1 if tight else 3) * theme.STEP)
            (self._row if tight else self._column).removeWidget(self._second)
            if tight:
                self._column.addWidget(self._second)
            else:
                self._row.insertWidget(1, self._second, 0, Qt.AlignmentFlag.AlignTop)
            turn(self._second, across=tight)
        if not self._narrow:
            gaps = (len(self._groups) - 1) * self._row.spacing()
            self._wanted = sum(one.sizeHint().width() for one in self._groups) + gaps
        narrow = tight or self.width() < self._wanted
        if narrow == self._narrow:
            return
        self._narrow = narrow
        (self._row if narrow else self._line).removeWidget(self._last)
        if narrow:
            self._line.insertWidget(0, self._last)
        else:
            self._row.insertWidget(len(self._groups) - 1, self._last)
        turn(self._last, across=narrow)


def turn(one: QWidget, *, across: bool) -> None:
    """Put the heading of a group beside its contents, or over them."""
    layout, ways = one.layout(), QBoxLayout.Direction
    if isinstance(layout, QBoxLayout):
        layout.setDirection(ways.LeftToRight if across else ways.TopToBottom)


def group(heading: QLabel, *contents: QLayout | QWidget) -> QWidget:
    """A heading over layouts and widgets."""
    holder = QWidget()
    column = QBoxLayout(QBoxLayout.Direction.TopToBottom, holder)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(theme.STEP)
    heading.setProperty("role", "dim")
    column.addWidget(heading)
    for content in contents:
        if isinstance(content, QWidget):
            column.addWidget(content)
        else:
            column.addLayout(content)
    column.addStretch(1)
    return holder
