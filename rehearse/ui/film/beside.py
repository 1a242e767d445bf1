"""A second take beside the one that is shown: both at the same moment of the music."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, Qt, Signal, Slot
from PySide6.QtGui import QImage

from rehearse.practice.takelog import PoseRead, TakeDone
from rehearse.ui.film.feeder import Feeder


class Beside(QObject):
    """The other take: its film is asked for the moment of the music that the first one shows.

    Each film was laid on the music by its own sound, so that every hit of one is that of the
    other, whatever tempo either was danced at.

    Attributes:
        earlier: filmed before the first one: it stands at the left.
        over: laid over the first one, half seen through, instead of beside it.
        image, second: its picture of now and that picture's own second of the film; an empty
            picture until there is one.

    Signals:
        changed: another picture. failed: one sentence.
    """

    changed = Signal()
    failed = Signal(str)

    def __init__(self, take: TakeDone, film: Path, *, earlier: bool = True) -> None:
        super().__init__()
        self.take, self.earlier, self.over = take, earlier, False
        self.image, self.second = QImage(), 0.0
        self._feeder = Feeder(film)
        self._feeder.shown.connect(self._shown, Qt.ConnectionType.QueuedConnection)
        self._feeder.failed.connect(self.failed, Qt.ConnectionType.QueuedConnection)

    @property
    def filmed(self) -> str:
        """When it was filmed."""
        return f"{self.take.filmed:%d %b %Y, %H:%M}"

    def read(self, pose_id: str) -> PoseRead | None:
        """What it says of a pose; None: the pose was not in it."""
        return next((read for read in self.take.poses if read.pose == pose_id), None)

    def ask(self, music_second: float, width: int, tempo: float = 0.0) -> None:
        """Show its picture of this moment of the music, which plays at `tempo`; 0: it stands."""
        second = (music_second - self.take.offset) / self.take.rate
        if not tempo:
            self._feeder.ask(second, width)
        elif (found := self._feeder.play(second, width, tempo)) is not None:
            self._shown(*found)

    @Slot(float, QImage)
    def _shown(self, own: float, image: QImage) -> None:
        self.image, self.second = image, own
        self.changed.emit()

    def close(self) -> None:
        """End it."""
        self._feeder.close()
