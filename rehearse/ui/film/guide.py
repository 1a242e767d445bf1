"""Before a film is there: how to film, and one hit set by hand where the music is not heard."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDoubleSpinBox, QHBoxLayout, QLabel, QSpinBox, QVBoxLayout, QWidget

from rehearse.ui import theme

#: What to do before a run is filmed.
GUIDANCE = (
    "Film a run with your phone, then drop the film here.",
    "Your whole body in the picture, feet and raised hands too.",
    "The phone stands still, four metres away or more.",
    "The laptop's music is heard by the phone: loud, no headphones.",
    "Light from the front, nobody between you and the phone.",
)
#: Seconds into a film that its first hit may lie.
_LATEST = 1800.0


class Guide(QWidget):
    """Four lines on filming; beneath them, when asked for, the second of the first hit."""

    def __init__(self) -> None:
        super().__init__()
        self.words = QLabel("\n".join(GUIDANCE), wordWrap=True)
        self.words.setProperty("role", "body")
        self.words.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.second = QDoubleSpinBox(maximum=_LATEST, decimals=2, singleStep=0.1, suffix=" s")
        self.second.setAccessibleName("Second of the film at which the first pose is hit")
        self.tempo = QSpinBox(minimum=40, maximum=105, value=100, singleStep=5, suffix=" %")
        self.tempo.setAccessibleName("Tempo the run was danced at")
        self.hand = QWidget()
        row = QHBoxLayout(self.hand)
        row.setSpacing(2 * theme.STEP)
        row.addStretch(1)
        for words, field in (
            ("The first pose is hit at", self.second),
            ("of the film; danced at", self.tempo),
        ):
            row.addWidget(QLabel(words))
            row.addWidget(field)
        row.addStretch(1)
        self.hand.hide()
        column = QVBoxLayout(self)
        column.addStretch(1)
        column.addWidget(self.words)
        column.addWidget(self.hand)
        column.addStretch(1)

    def ask_by_hand(self, wished: bool) -> None:
        """Show or hide the fields for one hit set by hand."""
        self.hand.setVisible(wished)
        if wished:
            self.second.setFocus()
            self.second.selectAll()
