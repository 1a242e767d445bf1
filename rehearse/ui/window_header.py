"""The head of the window: the routine's title, what else can be done with it, the pages."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QAction, QResizeEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QHBoxLayout,
    QLabel,
    QMenu,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QWidget,
)

from rehearse.ui import theme


class RoutineTitle(QLabel):
    """The title of the routine; where it is too long it ends in dots and is told in full."""

    def __init__(self) -> None:
        super().__init__()
        self.setProperty("role", "body")
        self.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Preferred)
        self._whole = ""

    def setText(self, text: str) -> None:
        """Show another title."""
        self._whole = text
        super().setText(text)
        self.setToolTip(theme.tip(text))
        self.updateGeometry()
        self._fit()

    def sizeHint(self) -> QSize:
        """Room for all of it, where there is any."""
        self.ensurePolished()
        width = self.fontMetrics().horizontalAdvance(self._whole) + 2
        return QSize(width, super().sizeHint().height())

    def minimumSizeHint(self) -> QSize:
        """Room for its beginning."""
        return QSize(min(self.sizeHint().width(), 12 * theme.STEP), super().sizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """As much of it as there is room for."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        words = self.fontMetrics().elidedText(
            self._whole, Qt.TextElideMode.ElideRight, self.width()
        )
        if words != self.text():
            super().setText(words)


class WindowHeader(QWidget):
    """Title and menu to the left, a word for each page to the right.

    Args:
        pages: their words, in order; page `k` has the key `k + 1`.
        lines: those of the menu.

    Signals:
        pageAsked: the number of a page was clicked, from 0.
    """

    pageAsked = Signal(int)

    def __init__(self, pages: tuple[str, ...], lines: Sequence[QAction]) -> None:
        super().__init__()
        self.title = RoutineTitle()
        self._group = QButtonGroup(self)
        row = QHBoxLayout(self)
        row.setContentsMargins(3 * theme.STEP, theme.STEP, 2 * theme.STEP, theme.STEP)
        row.setSpacing(2 * theme.STEP)
        row.addWidget(self.title)
        row.addWidget(self._make_menu(lines))
        row.addStretch(1)
        for number, word in enumerate(pages):
            button = QPushButton(f"{number + 1}  {word}")
            button.setCheckable(True)
            button.setProperty("role", "plain")
            button.setAccessibleName(f"{word} page, key {number + 1}")
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

    def mark(self, page: int) -> None:
        """Mark a page as the one shown."""
        self._group.button(page).setChecked(True)

    def _make_menu(self, lines: Sequence[QAction]) -> QToolButton:
        menu = QMenu(self)
        menu.addActions(lines)
        opener = QToolButton()
        opener.setText("More …")
        opener.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        opener.setProperty("role", "plain")
        opener.setAccessibleName("More: new routine, open, show and rules, handouts")
        opener.setMenu(menu)
        return opener
