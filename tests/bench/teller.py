"""The window with a routine, telling each second what goes on in it, as a line of JSON.

    python tests/bench/teller.py FOLDER

Run by `session`, which looks on from outside.
"""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from PySide6.QtCore import QObject, QTimer
from PySide6.QtWidgets import QApplication

import rehearse.app
from rehearse.playback.player import Player
from rehearse.playback.segment import PassEnded
from rehearse.ui.window import REHEARSE, Window
from rehearse.ui.workspace import Workspace

#: Seconds between two frames from which one counts as late.
LATE = 0.1


class CountingPlayer(Player):
    """The player, its complete passes counted."""

    passes = 0

    def poll(self):
        """As `Player.poll`."""
        events = super().poll()
        self.passes += sum(isinstance(e, PassEnded) and e.complete for e in events)
        return events


class Frames:
    """Times between two frames of the stage display while the music plays."""

    def __init__(self) -> None:
        self.worst, self.last, self.late, self.count = 0.0, None, 0, 0

    def shown(self, _cue_state: object, at: float) -> None:
        """A frame was handed to the screen."""
        if self.last is not None:
            self.worst = max(self.worst, at - self.last)
            self.late += at - self.last > LATE
        self.last, self.count = at, self.count + 1


class Teller(QObject):
    """Looks each second and prints what it sees."""

    def __init__(self, window: Window, workspace: Workspace) -> None:
        super().__init__(window)
        self._window, self._workspace = window, workspace
        self._page, self._frames = None, Frames()
        self._dialogues, self._errors = 0, []
        self._begun = time.time()
        workspace.errorRaised.connect(self._error)
        self._timer = QTimer(self, interval=1000)
        self._timer.timeout.connect(self._tell)
        self._timer.start()

    def _error(self, sentence: str) -> None:
        if sentence:
            self._errors.append(sentence)

    def _moved(self) -> None:
        if not self._page.host.busy:
            self._frames.last = None

    def _find(self) -> None:
        self._page = self._window._pages.get(REHEARSE)
        if self._page is not None:
            self._page.stage.shown.connect(self._frames.shown)
            self._page.host.moved.connect(self._moved)

    def _tell(self) -> None:
        if self._page is None:
            self._find()
        if self._page is None:
            return
        in_the_way = QApplication.activeModalWidget() or QApplication.activePopupWidget()
        self._dialogues += in_the_way is not None
        print(json.dumps({**self._of_the_page(), **self._of_the_sound()}), flush=True)
        self._frames.worst = 0.0

    def _of_the_page(self) -> dict[str, object]:
        host, plan = self._page.host, self._page.host.view.plan
        return {
            "ready": self._workspace.track is not None,
            "busy": host.busy,
            "begun": self._begun,
            "dialogues": self._dialogues,
            "worst": self._frames.worst,
            "late": self._frames.late,
            "limit_ms": 1000 * LATE,
            "frames": self._frames.count,
            "awake": self._page.awake.held,
            "faults": self._errors,
            "playing": f"{plan.scope.name} {plan.percent} %" if plan else host.view.state,
        }

    def _of_the_sound(self) -> dict[str, object]:
        player = self._workspace.__dict__.get("player")
        return {
            "passes": player.passes if player else 0,
            "underruns": player.underruns if player else 0,
            "missing": player.missing if player else 0,
        }


class TellingWindow(Window):
    """The window with a teller in it."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self.teller = Teller(self, workspace)


if __name__ == "__main__":
    os.environ.pop("QT_QPA_PLATFORMTHEME", None)
    rehearse.playback.player.Player = CountingPlayer
    rehearse.app.Window = TellingWindow
    sys.exit(rehearse.app.run(Path(sys.argv[1])))
