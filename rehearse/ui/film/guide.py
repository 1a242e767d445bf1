"""Before a film is there: how to film, the run that is filmed, and one hit set by hand."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QComboBox,
    QDoubleSpinBox,
    QHBoxLayout,
    QLabel,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from rehearse.film.extra import offer
from rehearse.ui import theme
from rehearse.ui.film.scene import FilmingScene
from rehearse.ui.stage.fit import fit
from rehearse.ui.stage.layout import Box
from rehearse.ui.stage.text_cache import advance, draw_lines
from rehearse.words import _

#: What to do before a run is filmed; the numbers stand in the picture.
GUIDANCE = (
    _("1  Your whole body, raised hands too."),
    _("2  The phone still, four metres away."),
    _("3  The laptop's music loud, no headphones."),
    _("4  Light from the front, nobody between."),
)
#: Seconds into a film that its first hit may lie.
_LATEST = 1800.0


class Left(QWidget):
    """What is left before the music, as large as there is room: the athlete is on the way."""

    def __init__(self) -> None:
        super().__init__()
        self.text = ""

    def say(self, text: str) -> None:
        """Show this, and tell it to a screen reader."""
        self.text = text
        self.setAccessibleName(text)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """The text in the middle."""
        width, height = 0.9 * self.width(), 0.66 * self.height()
        sizes = {"least": 1.0, "most": height}
        fitted = fit((self.text,), width, height, **sizes, advance=advance, lines=1)
        if fitted is not None:
            wide = advance(self.text) * fitted.cap
            x, y = (self.width() - wide) / 2, (self.height() - fitted.cap) / 2
            with QPainter(self) as painter:
                draw_lines(painter, Box(x, y, wide, fitted.cap), fitted, QColor(theme.NEXT))


class Guide(QWidget):
    """One picture and four lines on filming; beneath, when asked for, the second of the first hit.

    While the run plays, what is left before its music stands there instead.
    """

    def __init__(self) -> None:
        super().__init__()
        self.scene = FilmingScene()
        self.words = QLabel("\n".join(GUIDANCE), wordWrap=True)
        self.words.setProperty("role", "body")
        self.words.setAlignment(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft)
        self.extra = QLabel(wordWrap=True)  # its line can be marked and copied
        self.extra.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.offer_extra()
        self.left = Left()
        self.left.hide()
        self.second = QDoubleSpinBox(maximum=_LATEST, decimals=2, singleStep=0.1, suffix=" s")
        self.second.setAccessibleName(_("Second of the film"))
        self.tempo = QSpinBox(minimum=40, maximum=105, value=100, singleStep=5, suffix=" %")
        self.tempo.setAccessibleName(_("Tempo the run was danced at"))
        self.hand = QWidget()
        row = QHBoxLayout(self.hand)
        row.setSpacing(2 * theme.STEP)
        row.addStretch(1)
        self.what = QComboBox()
        self.what.addItems((_("The first pose is hit at"), _("The clap is heard at")))
        self.what.setAccessibleName(_("What is set by hand"))
        for widget in (*(self.what, self.second, QLabel(_("of the film; danced at")), self.tempo),):
            row.addWidget(widget)
        row.addStretch(1)
        self.hand.hide()
        beside = QHBoxLayout()
        beside.setSpacing(4 * theme.STEP)
        beside.addWidget(self.scene, 1)
        beside.addWidget(self.words, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(beside, 1)
        column.addWidget(self.left, 1)
        column.addWidget(self.hand)
        column.addWidget(self.extra)

    def offer_extra(self) -> None:
        """Say what makes readings surer, where it is not there."""
        self.extra.setText(offer())
        self.extra.setVisible(bool(self.extra.text()))

    def ask_by_hand(self, wished: bool) -> None:
        """Show or hide the fields for one hit set by hand."""
        self.hand.setVisible(wished)
        if wished:
            self.second.setFocus()
            self.second.selectAll()

    def first_hit(self, hit: float, clap: float | None) -> float:
        """The film second of the first hit, by what was set.

        Args:
            hit, clap: track seconds of the first hit and of the clap.
        """
        if not self.what.currentIndex() or clap is None:
            return self.second.value()
        return self.second.value() + (hit - clap) / (self.tempo.value() / 100)

    def show_run(self, playing: bool, before: float) -> None:
        """While the run plays: seconds before its music, then that it is filmed now."""
        self.scene.setVisible(not playing)
        self.words.setVisible(not playing)
        self.left.setVisible(playing)
        self.extra.setVisible(not playing and bool(self.extra.text()))
        self.left.say(f"{before:.0f}" if before >= 0.5 else _("Music"))
