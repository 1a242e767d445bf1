"""What the Rehearse page shows of the logbook, read on the logbook's own thread."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from rehearse.practice.scope import spots_of
from rehearse.practice.summary import Summary, summarise
from rehearse.ui.workspace import Workspace

if TYPE_CHECKING:
    from rehearse.practice.logbook import Logbook

Called = dict[str, tuple[int, datetime]]
Found = tuple[Summary | None, dict[str, int], Called]

_CALLED = "SELECT kind, count(*), max(started) FROM rounds WHERE NOT dry_run GROUP BY kind"


class LogLook(QObject):
    """The standings of the open routine as they were at the last answer.

    Attributes:
        summary: None until the first answer. drilled: complete drills of each section today, by id.
        called: how often each kind of round was called, and when last.

    Signals:
        changed: the logbook has answered.
    """

    changed = Signal()

    def __init__(self, workspace: Workspace, parent: QObject) -> None:
        super().__init__(parent)
        self._workspace = workspace
        self._number = 0
        self.summary: Summary | None = None
        self.drilled: dict[str, int] = {}
        self.called: Called = {}
        workspace.leaving.connect(self.forget)

    @Slot()
    def refresh(self) -> None:
        """Ask the logbook; only the newest question is answered."""
        workspace = self._workspace
        routine, beatmap, keeper = workspace.routine, workspace.beatmap, workspace.logbook
        self._number += 1
        if routine is None or keeper is None:
            return
        number, today = self._number, datetime.now().astimezone().date()

        def read(book: Logbook) -> Found | None:
            if number != self._number:
                return None
            called = {
                str(kind): (int(count), datetime.fromtimestamp(last).astimezone())
                for kind, count, last in book.db.execute(_CALLED)
            }
            if beatmap is None or not beatmap.duration:
                return None, {}, called
            summary = summarise(book, routine, spots_of(routine, beatmap), today)
            rows = book.db.execute(
                "SELECT item, sum(passes) FROM tally WHERE kind = 'section' AND day = ?"
                " GROUP BY item",
                (today.isoformat(),),
            )
            return summary, {str(item): int(passes) for item, passes in rows}, called

        keeper.ask(read, lambda found: self._take(number, found))

    def _take(self, number: int, found: Found | None) -> None:
        if found is not None and number == self._number:
            self.summary, self.drilled, self.called = found
            self.changed.emit()

    @Slot()
    def forget(self) -> None:
        """Nothing is known any more, and no answer under way is taken."""
        self._number += 1
        self.summary, self.drilled, self.called = None, {}, {}
