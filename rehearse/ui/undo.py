"""One undo command for everything: it swaps whole documents."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from zlib import crc32

from PySide6.QtGui import QUndoCommand

from rehearse.music.beatmap import BeatMap
from rehearse.routine.model import Routine


@dataclass(frozen=True)
class Documents:
    """What can be edited and undone: the routine and the beat map of its track."""

    routine: Routine | None = None
    beatmap: BeatMap | None = None


class Swap(QUndoCommand):
    """Puts `after` in place of `before`, and back; drags with the same `merge` become one."""

    def __init__(
        self,
        words: str,
        before: Documents,
        after: Documents,
        show: Callable[[Documents], None],
        merge: str = "",
    ) -> None:
        super().__init__(words)
        self.before, self.after, self.merge = before, after, merge
        self._show = show

    def id(self) -> int:
        """Commands of one drag share a number; −1 never merges."""
        return crc32(self.merge.encode()) & 0x7FFFFFFF if self.merge else -1

    def mergeWith(self, other: QUndoCommand) -> bool:
        """Take over the end state of the same drag's next step."""
        if not isinstance(other, Swap) or other.merge != self.merge:
            return False
        self.after = other.after
        self.setObsolete(self.after == self.before)
        return True

    def redo(self) -> None:
        """Show the documents after the edit."""
        self._show(self.after)

    def undo(self) -> None:
        """Show the documents before the edit."""
        self._show(self.before)
