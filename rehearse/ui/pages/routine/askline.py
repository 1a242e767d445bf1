"""Lines in the page and not over it: one asks for a few words, one tells what a gesture did."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QWidget

from rehearse.ui import theme
from rehearse.ui.pages.routine.editor_state import EditorState
from rehearse.words import _


class AskLine(QWidget):
    """Question and answer; Return answers, Escape leaves, both give the keys back."""

    def __init__(self) -> None:
        super().__init__()
        self._question = QLabel()
        self.answer = QLineEdit()
        self.answer.setMaxLength(50)
        self.answer.setAccessibleName(_("Answer"))
        self._answered: Callable[[str], object] | None = None
        self._back: QWidget | None = None
        row = QHBoxLayout(self)
        row.setContentsMargins(3 * theme.STEP, theme.STEP // 2, 3 * theme.STEP, theme.STEP // 2)
        row.setSpacing(2 * theme.STEP)
        row.addWidget(self._question)
        row.addWidget(self.answer, 1)
        self.answer.returnPressed.connect(self._answer)
        self.hide()

    def ask(self, question: str, first: str, answered: Callable[[str], object]) -> None:
        """Ask; `answered(text)` follows unless it is left or empty."""
        self._question.setText(question)
        self.answer.setAccessibleName(question)
        self.answer.setText(first)
        self.answer.selectAll()
        self._answered = answered
        self._back = self.window().focusWidget()
        self.show()
        self.answer.setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Escape leaves."""
        if event.key() == Qt.Key.Key_Escape:
            self._leave()
        else:
            super().keyPressEvent(event)

    def _answer(self) -> None:
        text, answered = self.answer.text().strip(), self._answered
        self._leave()
        if text and answered is not None:
            answered(text)

    def _leave(self) -> None:
        self.hide()
        self._answered = None
        if self._back is not None:
            self._back.setFocus()


class ToldLine(QLabel):
    """What the last gesture did beside what it was asked for.

    Without that it takes no room in a low window; in others its line stays empty: laying the page
    out anew at every such gesture takes longer than the gesture itself.
    """

    def __init__(self, editor: EditorState) -> None:
        super().__init__(wordWrap=True)
        self._editor = editor
        self._stays = False
        self.setContentsMargins(3 * theme.STEP, theme.STEP // 2, 3 * theme.STEP, theme.STEP // 2)
        self.hide()
        editor.saidChanged.connect(self._show)

    @Slot()
    def _show(self) -> None:
        said = self._editor.said
        self.setText(said)
        self.setAccessibleName(said)
        self.setVisible(bool(said) or self._stays)

    def stay(self, stays: bool) -> None:
        """Whether the line keeps its room while nothing is told."""
        if stays is not self._stays:
            self._stays = stays
            self._show()
