"""Beside the choices: the sheet's first page, or what the show asks of the music."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QPixmap, QResizeEvent
from PySide6.QtWidgets import QLabel, QScrollArea, QSizePolicy, QStackedWidget

from rehearse.handout.checklist import checklist
from rehearse.handout.handout_source import HandoutSource
from rehearse.handout.sheet.sheet_text import limit_of
from rehearse.ui import theme
from rehearse.words import _

#: Of the preview, dots an inch: sharp at the height of a full screen.
DOTS = 96.0
_MARKS = {True: _("✓ met"), False: _("▲ not met"), None: _("○ yours to check")}


class PreviewPanel(QStackedWidget):
    """Shows one of: the page, the checklist, a sentence."""

    def __init__(self) -> None:
        super().__init__()
        self._page = QPixmap()
        self.picture = QLabel(alignment=Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
        self.picture.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
        self.words = QLabel(wordWrap=True, alignment=Qt.AlignmentFlag.AlignTop)
        self.words.setTextFormat(Qt.TextFormat.PlainText)
        self.addWidget(self.picture)
        area = QScrollArea(widgetResizable=True)
        area.setProperty("role", "reader")  # the focus shows
        area.setFrameShape(QScrollArea.Shape.NoFrame)
        area.setWidget(self.words)
        area.setAccessibleName(_("What comes of the choices"))
        self.addWidget(area)
        self.setMinimumWidth(40 * theme.STEP)
        self.setCurrentIndex(1)

    def show_page(self, png: bytes) -> None:
        """Show the sheet's first page."""
        self._page.loadFromData(png)
        self.picture.setAccessibleName(_("First page of the sheet"))
        self._fit()
        self.setCurrentWidget(self.picture)

    def show_checklist(self, source: HandoutSource, options: dict[str, Any]) -> None:
        """Show what show sheets usually ask, as far as it is met."""
        items = checklist(
            length=source.length,
            limit=limit_of(source),
            ending=str(options["format"]),
            labelled=any(options[key] for key in ("name", "number", "division")),
            silence=float(options["silence"]),
        )
        lines = [f"{_MARKS[item.met]}:  {item.text}." for item in items]
        self.say("\n".join(lines))

    def say(self, words: str) -> None:
        """Show words."""
        self.words.setText(words)
        self.words.setAccessibleName(words)
        self.setCurrentIndex(1)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the whole page in sight."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        if self._page.isNull():
            return
        ratio = self.devicePixelRatioF()
        room = QSize(round(self.width() * ratio), round(self.height() * ratio))
        shown = self._page.scaled(
            room, Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
        )
        shown.setDevicePixelRatio(ratio)
        self.picture.setPixmap(shown)
