"""The window as it is started by anyone, and a card to drag: both answer on request where they are.

    python tests/bench/hour_window.py [--language de]
    python tests/bench/hour_window.py --card SONG

Run by `first_hour`, which presses and drags through the X server. Each line read from standard
input is an expression over `window` and `workspace`, answered by one line of JSON; it only looks.
"""

from __future__ import annotations

import itertools
import json
import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from PySide6.QtCore import QMimeData, QObject, QPoint, QSocketNotifier, Qt, QUrl
from PySide6.QtGui import QDrag, QMouseEvent
from PySide6.QtWidgets import QApplication, QLabel, QWidget

from rehearse.ui.window import Window
from rehearse.ui.workspace import Workspace


def centre(widget: QWidget) -> list[int]:
    """Where the middle of a widget is on the screen."""
    return list(widget.mapToGlobal(widget.rect().center()).toTuple())


def row(view, number: int) -> list[int]:
    """Where the middle of a list's row is on the screen."""
    rect = view.visualRect(view.model().index(number, 0))
    return list(view.viewport().mapToGlobal(rect.center()).toTuple())


def free_one(page) -> list[int]:
    """Where the first 1 of an eight in view is that no pose has anything of."""
    beatmap, scale = page.workspace.beatmap, page.wave.scale
    stage = page.workspace.routine.stage
    last = min(stage.end if stage else beatmap.duration, scale.end) - 3.0
    for count, time in zip(beatmap.counts, beatmap.beats, strict=True):
        taken = any(s.start - 1.0 < time < s.end + 1.5 for s in page.timings.all)
        if count.count == 1 and 2.0 < time < last and not taken:
            place = QPoint(round(scale.x(time)) + 2, round(scale.wave.center().y()))
            return list(page.wave.mapToGlobal(place).toTuple())
    return []


def farthest(workspace: Workspace) -> float:
    """Seconds from the hit that is farthest from a count or its half to that."""
    beatmap = workspace.beatmap
    beats = beatmap.beats
    halves = [(a + b) / 2 for a, b in itertools.pairwise(beats)]
    hits = [beatmap.time_of(placed.hit) for placed in workspace.routine.poses]
    return max(min(abs(hit - time) for time in (*beats, *halves)) for hit in hits)


class Answering(QObject):
    """Answers the lines of standard input."""

    def __init__(self, **names: object) -> None:
        super().__init__()
        self._names = {
            **names,
            "centre": centre,
            "row": row,
            "free_one": free_one,
            "farthest": farthest,
        }
        self._notifier = QSocketNotifier(sys.stdin.fileno(), QSocketNotifier.Type.Read, self)
        self._notifier.activated.connect(self._asked)

    def _asked(self) -> None:
        line = sys.stdin.readline()
        if not line:
            self._notifier.setEnabled(False)
            return
        try:
            answer = eval(line, dict(self._names))
        except (AttributeError, IndexError, KeyError, TypeError) as error:
            answer = {"fault": f"{type(error).__name__}: {error}"}
        print(json.dumps(answer, default=str), flush=True)


class TellingWindow(Window):
    """The window, answering."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._answering = Answering(window=self, workspace=workspace)


class Card(QLabel):
    """A file as a desktop shows it: pressed and moved it goes along with the pointer."""

    def __init__(self, path: Path) -> None:
        super().__init__(path.name)
        self._path, self.dropped = path, False
        self.setWindowTitle("card")
        self.setWindowFlag(Qt.WindowType.X11BypassWindowManagerHint)
        self.setFixedSize(160, 40)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Drag the file."""
        drag, data = QDrag(self), QMimeData()
        data.setUrls([QUrl.fromLocalFile(str(self._path))])
        drag.setMimeData(data)
        self.dropped = drag.exec(Qt.DropAction.CopyAction) == Qt.DropAction.CopyAction


def main() -> int:
    """Show the card, or start the program."""
    if "--card" in sys.argv:
        application = QApplication([])
        card = Card(Path(sys.argv[-1]))
        card.move(0, 0)
        card.show()
        card.raise_()
        answering = Answering(card=card)
        assert answering
        return application.exec()
    os.environ.pop("QT_QPA_PLATFORMTHEME", None)
    import rehearse.app
    from rehearse.cli import main as run

    rehearse.app.Window = TellingWindow
    sys.argv[0] = "rehearse"
    return run(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())
