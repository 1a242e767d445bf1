"""Buttons and keys of the Music page, made from its table of deeds."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut
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
from rehearse.ui.pages.music.deeds import Deed, printed

Act = Callable[[], None]

#: Width in pixels of a foot under which its buttons have less room around their words.
_TIGHT = 1000


class Controls:
    """Makes a button and a shortcut for each deed; `acts` says what each name does."""

    def __init__(self, page: QWidget, acts: dict[str, Act]) -> None:
        self._page, self._acts = page, acts
        self.buttons: dict[str, QPushButton] = {}

    def button(self, deed: Deed, *, words: str = "") -> QPushButton:
        """A button with its key, or with other `words`."""
        button = self._plain(deed, words)
        button.clicked.connect(self._acts[deed.name])
        self.shortcut(deed.key, button.click)
        return button

    def menu(self, deed: Deed, entries: Sequence[tuple[str, str, Act]]) -> QPushButton:
        """A button that opens a menu of (words, key or nothing, act)."""
        button = self._plain(deed, "")
        menu = QMenu(button)
        for words, key, act in entries:
            action = menu.addAction(f"{words}\t{printed(key)}" if key else words)
            action.triggered.connect(act)
            if key:
                self.shortcut(key, act)
        button.setMenu(menu)
        self.shortcut(deed.key, button.showMenu)
        return button

    def _plain(self, deed: Deed, words: str) -> QPushButton:
        button = QPushButton(words or f"{deed.words}  {printed(deed.key)}")
        button.setToolTip(f"{deed.tip} ({printed(deed.key)})")
        button.setAccessibleName(f"{deed.tip}, key {printed(deed.key)}")
        # A click leaves the keys with the waveform; Tab still reaches the button.
        button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.buttons[deed.name] = button
        return button

    def shortcut(self, key: str, act: Act) -> None:
        """A key that works anywhere on the page."""
        shortcut = QShortcut(QKeySequence(key), self._page)
        shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        shortcut.setAutoRepeat(key.endswith(("Left", "Right")))
        shortcut.activated.connect(act)

    def grid(self, deeds: Sequence[Deed], columns: int) -> QGridLayout:
        """Buttons row by row."""
        grid = QGridLayout()
        grid.setSpacing(theme.STEP)
        for index, deed in enumerate(deeds):
            grid.addWidget(self.button(deed), index // columns, index % columns)
        return grid

    def shifts(self, rows: Sequence[tuple[str, Deed, Deed]]) -> QHBoxLayout:
        """Pairs of arrows around what they move by."""
        row = QHBoxLayout()
        row.setSpacing(theme.STEP)
        for words, earlier, later in rows:
            label = QLabel(words)
            label.setAlignment(Qt.AlignmentFlag.AlignCenter)
            label.setMinimumWidth(6 * theme.STEP)
            row.addWidget(self.button(earlier, words="←"))
            row.addWidget(label)
            row.addWidget(self.button(later, words="→"))
            row.addSpacing(theme.STEP)
        row.addStretch(1)
        return row


class FootRow(QWidget):
    """Groups of buttons side by side; in a narrow window the last one gets a line of its own.

    Args:
        groups: as `group` makes them; the last one is told apart.
    """

    def __init__(self, *groups: QWidget) -> None:
        super().__init__()
        self._last, self._groups = groups[-1], groups
        self._row, self._column = QHBoxLayout(), QVBoxLayout(self)
        self._row.setSpacing(3 * theme.STEP)
        for one in groups:
            self._row.addWidget(one, 0, Qt.AlignmentFlag.AlignTop)
        self._row.addStretch(1)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(theme.STEP)
        self._column.addLayout(self._row)
        self._narrow = self._tight = False
        self._wanted = 0

    def minimumSizeHint(self) -> QSize:
        """No group keeps the window wide."""
        return QSize(0, super().minimumSizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the width out."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        tight = self.width() < theme.px(_TIGHT)
        if tight != self._tight:
            self._tight = tight
            self.setStyleSheet("QPushButton { padding: 2px 5px; }" if tight else "")
            self._row.setSpacing((1 if tight else 3) * theme.STEP)
        if not self._narrow:
            gaps = (len(self._groups) - 1) * self._row.spacing()
            self._wanted = sum(one.sizeHint().width() for one in self._groups) + gaps
        narrow = tight or self.width() < self._wanted
        if narrow == self._narrow:
            return
        self._narrow = narrow
        (self._row if narrow else self._column).removeWidget(self._last)
        if narrow:
            self._column.addWidget(self._last)
            self._last.layout().setDirection(QBoxLayout.Direction.LeftToRight)
        else:
            self._row.insertWidget(len(self._groups) - 1, self._last)
            self._last.layout().setDirection(QBoxLayout.Direction.TopToBottom)


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
