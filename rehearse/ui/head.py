"""The head of the window: the routine's title, what else can be done with it, the pages."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Signal
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import (
    QButtonGroup,
    QHBoxLayout,
    QLabel,
    QMenu,
    QPushButton,
    QToolButton,
    QWidget,
)

from rehearse.ui import theme

#: A line of the menu: its words, its keys, what it does.
Deed = tuple[str, str, Callable[[], object]]


class Head(QWidget):
    """Title and menu to the left, a word for each page to the right.

    Args:
        pages: their words, in order; page `k` has the key `k + 1`.
        deeds: the lines of the menu.

    Signals:
        pageAsked: the number of a page was clicked, from 0.
    """

    pageAsked = Signal(int)

    def __init__(self, pages: tuple[str, ...], deeds: tuple[Deed, ...]) -> None:
        super().__init__()
        self.title = QLabel()
        self.title.setProperty("role", "body")
        self._group = QButtonGroup(self)
        row = QHBoxLayout(self)
        row.setContentsMargins(3 * theme.STEP, theme.STEP, 2 * theme.STEP, theme.STEP)
        row.setSpacing(2 * theme.STEP)
        row.addWidget(self.title)
        row.addWidget(self._make_menu(deeds))
        row.addStretch(1)
        for number, word in enumerate(pages):
            button = QPushButton(f"{number + 1}  {word}", checkable=True)
            button.setProperty("role", "plain")
            button.setAccessibleName(f"{word} page, key {number + 1}")
            self._group.addButton(button, number)
            row.addWidget(button)
        self._group.idClicked.connect(self.pageAsked)

    @property
    def buttons(self) -> tuple[QPushButton, ...]:
        """The pages' buttons in their order."""
        return tuple(self._group.buttons())

    @property
    def marked(self) -> int:
        """The page shown; −1 before the first."""
        return self._group.checkedId()

    def mark(self, page: int) -> None:
        """Mark a page as the one shown."""
        self._group.button(page).setChecked(True)

    def _make_menu(self, deeds: tuple[Deed, ...]) -> QToolButton:
        menu = QMenu(self)
        for words, keys, slot in deeds:
            menu.addAction(words, slot).setShortcut(QKeySequence(keys))
        opener = QToolButton(text="More …", popupMode=QToolButton.ToolButtonPopupMode.InstantPopup)
        opener.setProperty("role", "plain")
        opener.setAccessibleName("More: new routine, open, show and rules, take along")
        opener.setMenu(menu)
        return opener
