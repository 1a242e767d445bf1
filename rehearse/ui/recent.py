"""The routines opened last: picture, show and the days left, and the list that shows them."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from PySide6.QtCore import QSize, QTimer, Signal, Slot
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QListWidget, QListWidgetItem

from rehearse.routine.anatomy import WINDOW
from rehearse.routine.glance import Glance, glance
from rehearse.routine.model import FIGURES, SKINS, OwnPose, Routine
from rehearse.routine.pose import Pose
from rehearse.routine.poses import load_catalogue
from rehearse.ui import theme
from rehearse.ui.figure.pose_thumbs import Thumbs
from rehearse.ui.settings import Settings
from rehearse.words import _, day_field, low

#: Height of the pictures in pixels of a small window, and the width of one a pixel high.
_TALL, _WIDE = 72, WINDOW[0] / WINDOW[1]
#: The pose shown for a routine without any.
_FIRST = "front stance"


def days_left(show: str, today: date) -> str:
    """How far away the show is, in words; empty for no date or none that can be read."""
    try:
        days = (date.fromisoformat(show) - today).days
    except ValueError:
        return ""
    if days < 0:
        return _("The show is over.")
    return {0: _("The show is today."), 1: _("One day left.")}.get(
        days, _("{days} days left.", days=days)
    )


def words_of(seen: Glance, today: date) -> str:
    """What stands under a title: show, division, date and how far away it is."""
    left = days_left(seen.show_date, today).rstrip(".")
    told = ", ".join(filter(None, (seen.show, seen.division, day_field(seen.show_date))))
    return " – ".join(filter(None, (told or _("no show yet"), low(left))))


def pose_of(seen: Glance) -> Pose:
    """The pose that stands for a routine: its first one, by its own figure.

    Without poses, or where the first is of another version, the front stance.
    """
    own = (OwnPose(seen.pose, picture=seen.photo),) if seen.photo else ()
    shown_by = Routine(
        *(seen.title, "", seen.show, seen.division),
        own_poses=own,
        figure=seen.figure or FIGURES[0],
        dress=seen.dress,
        skin=seen.skin or SKINS[0],
    )
    poses = load_catalogue().of(shown_by)
    try:
        return poses.find(seen.pose or _FIRST)
    except KeyError:
        return poses.find(_FIRST)


class RecentList(QListWidget):
    """Routines by title, each over its show and beside its first pose; Enter or a click opens one.

    The pictures follow one after the other once the list is there.

    Signals:
        opened: a routine's folder.
    """

    opened = Signal(Path)

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        self._settings = settings
        self.setAccessibleName(_("Routines opened last"))
        self.setSpacing(theme.STEP // 2)
        self.setProperty("role", "body")
        self.setIconSize(QSize(round(_TALL * _WIDE), _TALL))
        self._thumbs: Thumbs | None = None
        self._seen: list[Glance] = []
        self._drawing = QTimer(self, interval=0)
        self._drawing.timeout.connect(self._draw_next)
        self.setStyleSheet("QListView:focus { border-color: transparent; }")
        self.itemActivated.connect(self._open)
        self.itemClicked.connect(self._open)

    def refresh(self, but: Path | None = None) -> None:
        """Look again at what was opened last; folders that are gone are left out.

        Args:
            but: a folder that is open already.
        """
        self.clear()
        self._seen = []
        for folder in self._settings.recent_folders:
            seen = glance(folder) if folder != but else None
            if seen is not None:
                item = QListWidgetItem(f"{seen.title}\n{words_of(seen, date.today())}")
                item.setData(0x0100, str(folder))
                item.setToolTip(theme.tip(str(folder)))
                item.setSizeHint(QSize(0, theme.px(_TALL + 2 * theme.STEP)))
                self.addItem(item)
                self._seen.append(seen)
        if self.count():
            self.setCurrentRow(0)
            self._drawing.start()

    @Slot()
    def _draw_next(self) -> None:
        """Draw the picture of the first routine that has none yet."""
        row = next((k for k in range(self.count()) if self.item(k).icon().isNull()), None)
        if row is None:
            self._drawing.stop()
            return
        if self._thumbs is None:
            self._thumbs = Thumbs()
        self._thumbs.folder = self._seen[row].folder
        tall, ratio = theme.px(_TALL), self.devicePixelRatioF()
        pose = pose_of(self._seen[row])
        icon = QIcon(picture := self._thumbs.picture(pose, tall, ratio=ratio))
        icon.addPixmap(picture, QIcon.Mode.Selected)  # a row that is chosen is not tinted
        self.item(row).setIcon(icon)

    def open_chosen(self) -> None:
        """Open the routine under the arrows."""
        self._open(self.currentItem())

    @Slot(QListWidgetItem)
    def _open(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            self.opened.emit(Path(item.data(0x0100)))
