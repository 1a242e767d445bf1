"""The head of the window: the routine's title, what else can be done with it, the pages."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtGui import QAction
from PySide6.QtWidgets import (
    QButtonGroup,
    QHBoxLayout,
    QMenu,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QWidget,
)

from rehearse.ui import theme
from rehearse.ui.widgets import ElidedLabel
from rehearse.words import _


class WindowHeader(QWidget):
    """Title and menu to the left, work in progress in the middle, a word for each page right.

    Args:
        pages: their words, in order; page `k` has the key `k + 1`.
        lines: those of the menu. busy: what is being worked on; it has the room that is left.

    Signals:
        pageAsked: the number of a page was clicked, from 0.
    """

    pageAsked = Signal(int)

    def __init__(self, pages: tuple[str, ...], lines: Sequence[QAction], busy: QWidget) -> None:
        super().__init__()
        self.title = ElidedLabel(QSizePolicy.Policy.Maximum)
        self.title.setProperty("role", "body")
        self._group = QButtonGroup(self)
        row = QHBoxLayout(self)
        row.setContentsMargins(3 * theme.STEP, theme.STEP, 2 * theme.STEP, theme.STEP)
        row.setSpacing(2 * theme.STEP)
        row.addWidget(self.title)
        row.addWidget(self._make_menu(lines))
        row.addWidget(busy, 1)
        for number, word in enumerate(pages):
            button = QPushButton(f"{number + 1}  {word}")
            button.setCheckable(True)
            button.setProperty("role", "plain")
            button.setAccessibleName(_("{word} page, key {number}", word=word, number=number + 1))
            self._group.addButton(button, number)
            row.addWidget(button)
        self._group.idClicked.connect(self.pageAsked)

    @property
    def buttons(self) -> tuple[QPushButton, ...]:
        """The pages' buttons in their order."""
        return tuple(b for b in self._group.buttons() if isinstance(b, QPushButton))

    @property
    def marked(self) -> int:
        """The page shown; −1 before the first."""
        return self._group.checkedId()

    def offer_pages(self, there: bool) -> None:
        """Show the words of the pages, or not while no routine is open."""
        for button in self._group.buttons():
            button.setVisible(there)

    def mark(self, page: int) -> None:
        """Mark a page as the one shown."""
        self._group.button(page).setChecked(True)

    def _make_menu(self, lines: Sequence[QAction]) -> QToolButton:
        menu = QMenu(self)
        menu.addActions(lines)
        opener = QToolButton()
        opener.setText(_("More …"))
        opener.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        opener.setProperty("role", "plain")
        opener.setAccessibleName(_("More: new routine, open, show and rules, handouts"))
        opener.setMenu(menu)
        return opener
