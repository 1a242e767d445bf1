"""What must be decided now and then: one sentence and its answers, in a line of the window.

Never a dialog: the music goes on, and what is asked stays until it is answered or has lost its
cause. Each answer has its button and its key with Alt, which no page uses for letters.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QWidget

from rehearse.ui import theme
from rehearse.words import _


@dataclass(frozen=True)
class Answer:
    """One answer: its words, the letter that gives it with Alt, what it does."""

    words: str
    letter: str
    act: Callable[[], object]


@dataclass(frozen=True)
class Question:
    """A sentence and its answers, the main one first."""

    sentence: str
    answers: tuple[Answer, ...]


class Questions(QObject):
    """The questions that wait, by their cause; the oldest is asked.

    Signals:
        changed: `current` is another one.
    """

    changed = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._waiting: dict[str, Question] = {}

    @property
    def current(self) -> Question | None:
        """What is asked now."""
        return next(iter(self._waiting.values()), None)

    def ask(self, cause: str, question: Question, *, first: bool = False) -> None:
        """Ask; another question of the same cause is taken back.

        Args:
            first: before those that wait.
        """
        before = self.current
        self._waiting.pop(cause, None)
        rest = self._waiting if first else {}
        self._waiting = {**({} if first else self._waiting), cause: question, **rest}
        if self.current is not before:
            self.changed.emit()

    def drop(self, cause: str = "") -> None:
        """Take back what was asked for this cause; empty: everything."""
        before = self.current
        if cause:
            self._waiting.pop(cause, None)
        else:
            self._waiting.clear()
        if self.current is not before:
            self.changed.emit()

    def answer(self, answer: Answer) -> None:
        """Give an answer to the question asked now."""
        for cause, question in list(self._waiting.items()):
            if answer in question.answers:
                self.drop(cause)
        answer.act()


class QuestionLine(QWidget):
    """The line: hidden while nothing is asked."""

    def __init__(self, questions: Questions) -> None:
        super().__init__()
        self._questions = questions
        self._words = QLabel(wordWrap=True)
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(3 * theme.STEP, theme.STEP, 3 * theme.STEP, theme.STEP)
        self._row.setSpacing(2 * theme.STEP)
        self._row.addWidget(self._words, 1)
        self.buttons: list[QPushButton] = []
        self.hide()
        questions.changed.connect(self._refresh)
        self._refresh()

    @property
    def text(self) -> str:
        """What is asked; empty when hidden."""
        return "" if self.isHidden() else self._words.text().removeprefix("◆ ")

    @Slot()
    def _refresh(self) -> None:
        question = self._questions.current
        for button in self.buttons:
            self._row.removeWidget(button)
            button.hide()
            button.deleteLater()
        self.buttons = []
        self._words.setText(f"◆ {question.sentence}" if question else "")
        self.setAccessibleName(question.sentence if question else "")
        for answer in question.answers if question else ():
            self._add(answer)
        self.setVisible(question is not None)

    def _add(self, answer: Answer) -> None:
        button = QPushButton(_("{words}   Alt+{letter}", words=answer.words, letter=answer.letter))
        button.setAccessibleName(
            _("{words}, key Alt {letter}", words=answer.words, letter=answer.letter)
        )
        button.setShortcut(f"Alt+{answer.letter}")
        button.clicked.connect(lambda: self._questions.answer(answer))
        self._row.addWidget(button)
        self.buttons.append(button)
