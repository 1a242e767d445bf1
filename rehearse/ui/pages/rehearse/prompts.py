"""What the foot of the page asks and what it cautions of, one thing at a time.

"Where did you lose it?" is asked once after a run, never in the way of the next one. The cautions
of today never cover the stage.
"""

from __future__ import annotations

from datetime import datetime

from PySide6.QtCore import QRegularExpression, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent, QRegularExpressionValidator
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QWidget

from rehearse.cueing.cue_state import Cue
from rehearse.practice.cautions import Caution, due, due_for_round, load_cautions
from rehearse.ui import theme
from rehearse.ui.workspace import Workspace
from rehearse.words import _, shown

#: A routine has 2,000 poses at most.
_DIGITS = QRegularExpression("[0-9]{0,4}")


class RunQuestion(QWidget):
    """Answered by a click in the ribbon, a pose's number, or the clicker's two buttons.

    Signals:
        lostAt: the second of the track at which it broke. clean: it broke nowhere.
    """

    lostAt = Signal(float)
    clean = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._cues: tuple[Cue, ...] = ()
        self._pointed: int | None = None
        self._refused = False
        self._words = QLabel(wordWrap=True)
        self._words.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self._number = QLineEdit(placeholderText=_("number"))
        self._number.setAccessibleName(_("Number of the pose where you lost it"))
        self._number.setInputMethodHints(Qt.InputMethodHint.ImhDigitsOnly)  # D is no text here
        self._number.setValidator(QRegularExpressionValidator(_DIGITS, self))
        self._number.inputRejected.connect(self._say_digits)
        self._number.setFixedWidth(12 * theme.STEP)
        self._nowhere = QPushButton(_("Clean run   Enter"))
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(2 * theme.STEP)
        row.addWidget(self._words, 1)
        row.addWidget(self._number)
        row.addWidget(self._nowhere)
        self._nowhere.clicked.connect(self._answer_nowhere)
        self.hide()

    @property
    def asking(self) -> bool:
        """Whether an answer is awaited."""
        return not self.isHidden()

    @property
    def words(self) -> str:
        """What is asked, with the pose pointed at if there is one."""
        if self._pointed is None:
            return _("Where did you lose it?")
        cue = self._cues[self._pointed]
        return _("Lost at {pointed}: {name}?", pointed=self._pointed + 1, name=cue.name)

    @property
    def pointed(self) -> int | None:
        """The index of the pose pointed at."""
        return self._pointed

    def ask(self, cues: tuple[Cue, ...]) -> None:
        """Ask about a run through `cues`."""
        self._cues, self._pointed, self._refused = cues, None, False
        self._number.clear()
        self._show()
        self.show()
        self._number.setFocus(Qt.FocusReason.OtherFocusReason)

    def point_back(self) -> None:
        """Point at the last pose, then at the one before, and so on."""
        if self._cues:
            at = len(self._cues) if self._pointed is None else self._pointed
            self._pointed = max(0, at - 1)
            self._show()

    def confirm(self) -> None:
        """It broke at the pose pointed at, or nowhere."""
        if self._pointed is None:
            self.clean.emit()
        else:
            self.lostAt.emit(self._cues[self._pointed].hit)

    def _show(self) -> None:
        notice = "" if self._pointed is not None else _(" Click in the ribbon, or type its number:")
        self._words.setText(self.words + notice)

    def _typed(self) -> None:
        text = self._number.text().strip()
        if not text and self._refused:
            self._say_digits()  # whoever typed a name does not mean a clean run
            self._refused = False
        elif not text:
            self.confirm()
        elif text.isdecimal() and 1 <= int(text) <= len(self._cues):
            self.lostAt.emit(self._cues[int(text) - 1].hit)
        else:
            self._words.setText(
                _(
                    "There is no pose {text}; the last is {number}.",
                    text=text,
                    number=len(self._cues),
                )
            )

    @Slot()
    def _say_digits(self) -> None:
        self._refused = True
        self._words.setText(_("Type a pose's number, 1 to {number}:", number=len(self._cues)))

    @Slot()
    def _answer_nowhere(self) -> None:
        self.clean.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter answers from anywhere in the line."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._typed()
        else:
            super().keyPressEvent(event)


#: Minutes a session is taken to last where no plan says so.
_USUAL_MINUTES = 45.0


class CautionLine(QWidget):
    """Shows the first caution that is due; once understood it stays away for today.

    Those of the first start are shown once and never again.

    Signals:
        cleared: the last one was understood.
    """

    cleared = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self._due: tuple[Caution, ...] = ()
        #: Seconds of the longest hold of the comparison round that is chosen; None: none is.
        self.round_hold: float | None = None
        self._words = QLabel()
        self._words.setWordWrap(True)
        self.understood = QPushButton(_("OK"))
        self.understood.setAccessibleName(_("Caution understood"))
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(2 * theme.STEP)
        row.addWidget(self._words, 1)
        row.addWidget(self.understood)
        self.understood.clicked.connect(self._understood)

    @property
    def is_due(self) -> bool:
        """Whether there is one to show."""
        return bool(self._due)

    @property
    def text(self) -> str:
        """What it says."""
        return shown(self._due[0].text) if self._due else ""

    def refresh(self) -> None:
        """Look again what is due for the open routine."""
        workspace = self._workspace
        self._due = ()
        today = datetime.now().astimezone().date()
        if workspace.routine is not None and self.round_hold is not None:
            self._due = due_for_round(self.round_hold, self._seen(today.isoformat()))
        elif (
            workspace.routine is not None
            and workspace.beatmap is not None
            and workspace.routine.poses
        ):
            self._due = due(
                workspace.routine,
                workspace.beatmap,
                workspace.catalogue,
                minutes=_USUAL_MINUTES,
                today=today,
                seen=self._seen(today.isoformat()),
            )
        self._show()

    def _seen(self, today: str) -> set[str]:
        stored = {
            c.key: self._workspace.settings.get(f"cautions/{c.key}", "") for c in load_cautions()
        }
        return {key for key, day in stored.items() if day in (today, "always")}

    @Slot()
    def _understood(self) -> None:
        first, *rest = self._due
        today = datetime.now().astimezone().date().isoformat()
        day = "always" if first.when == "first start" else today
        self._workspace.settings.put(f"cautions/{first.key}", day)
        self._due = tuple(rest)
        self._show()
        if not rest:
            self.cleared.emit()

    def _show(self) -> None:
        self._words.setText(self.text)
