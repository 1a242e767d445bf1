"""The routines opened last, with their shows and the days left, and the list that shows them."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QListWidget, QListWidgetItem

from rehearse.routine.glance import Glance, glance
from rehearse.ui import theme
from rehearse.ui.settings import Settings


def days_left(show: str, today: date) -> str:
    """How far away the show is, in words; empty for no date or none that can be read."""
    try:
        days = (date.fromisoformat(show) - today).days
    except ValueError:
        return ""
    if days < 0:
        return "The show is over."
    return {0: "The show is today.", 1: "One day left."}.get(days, f"{days} days left.")


def words_of(seen: Glance, today: date) -> str:
    """What stands under a title: show, division, date and how far away it is."""
    left = days_left(seen.show_date, today).rstrip(".")
    told = ", ".join(filter(None, (seen.show, seen.division, seen.show_date)))
    return " – ".join(filter(None, (told or "no show yet", left[:1].lower() + left[1:])))


class RecentList(QListWidget):
    """Routines by title, each over its show; Enter or a click opens one.

    Signals:
        opened: a routine's folder.
    """

    opened = Signal(Path)

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        self._settings = settings
        self.setAccessibleName("Routines opened last")
        self.setSpacing(theme.STEP // 2)
        self.setStyleSheet("QListView:focus { border-color: transparent; }")
        self.itemActivated.connect(self._open)
        self.itemClicked.connect(self._open)

    def refresh(self, but: Path | None = None) -> None:
        """Look again at what was opened last; folders that are gone are left out.

        Args:
            but: a folder that is open already.
        """
        self.clear()
        for folder in self._settings.recent_folders:
            seen = glance(folder) if folder != but else None
            if seen is not None:
                item = QListWidgetItem(f"{seen.title}\n{words_of(seen, date.today())}")
                item.setData(0x0100, str(folder))
                item.setToolTip(str(folder))
                self.addItem(item)
        if self.count():
            self.setCurrentRow(0)

    def open_chosen(self) -> None:
        """Open the routine under the arrows."""
        self._open(self.currentItem())

    @Slot(QListWidgetItem)
    def _open(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            self.opened.emit(Path(item.data(0x0100)))
