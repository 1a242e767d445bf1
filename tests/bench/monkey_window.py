"""The window under the monkey: tells on request what it shows, and all that went wrong in it.

    python tests/bench/monkey_window.py FOLDER [LONGEST]

Run by `monkey`, which sends keys and clicks through the X server. Each line read from standard
input is one request, answered by one line of JSON; LONGEST is the freeze in seconds from which
one is reported, with what the main thread was doing.
"""

from __future__ import annotations

import dataclasses
import json
import logging
import os
import sys
import threading
import time
import traceback
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from PySide6.QtCore import QObject, QSocketNotifier, Qt, QTimer, QtMsgType, qInstallMessageHandler
from PySide6.QtWidgets import QAbstractSpinBox, QApplication, QLineEdit, QPlainTextEdit, QTextEdit

import rehearse.app
from rehearse.ui.window import Window
from rehearse.ui.workspace import Workspace

#: Seconds between two beats of the heart that the watcher looks for.
BEAT = 0.01
EDITORS = (QLineEdit, QPlainTextEdit, QTextEdit, QAbstractSpinBox)


def differences(one: object, other: object) -> list[str]:
    """The fields in which two documents differ, each with both values."""
    if one == other:
        return []
    if type(one) is not type(other) or not dataclasses.is_dataclass(one):
        return [f"{one!s:.200} | {other!s:.200}"]
    found = []
    for field in dataclasses.fields(one):
        a, b = getattr(one, field.name), getattr(other, field.name)
        if isinstance(a, tuple) and isinstance(b, tuple) and len(a) == len(b):
            pairs = [(x, y) for x, y in zip(a, b, strict=True) if x != y]
        else:
            pairs = [(a, b)] if a != b else []
        found += [f"{field.name}: {x!s:.200} | {y!s:.200}" for x, y in pairs[:3]]
    return found


class Faults(logging.Handler):
    """Every log record of level error, with its traceback; every warning of Qt."""

    def __init__(self) -> None:
        super().__init__(logging.ERROR)
        self.told: list[str] = []
        logging.getLogger().addHandler(self)
        qInstallMessageHandler(self._qt)

    def emit(self, record: logging.LogRecord) -> None:
        """As `logging.Handler`."""
        trace = "".join(traceback.format_exception(*record.exc_info)) if record.exc_info else ""
        self.told.append(f"{record.getMessage()}\n{trace}")

    def _qt(self, kind: QtMsgType, _context: object, text: str) -> None:
        if kind in (QtMsgType.QtCriticalMsg, QtMsgType.QtFatalMsg):
            self.told.append(f"Qt: {text}")


def _commonest(stacks: list[str]) -> str:
    """The three stacks seen most often, each with its share of the looks."""
    return "".join(
        f"{count} of {len(stacks)} looks:\n{stack}"
        for stack, count in Counter(stacks).most_common(3)
    )


class Watcher(threading.Thread):
    """Notices from outside the main thread when its heart stops for longer than `longest` s.

    A stall in which this thread could not run either is the machine's, not the window's: only
    the time over which the watcher itself was awake counts, less what the main thread stood in
    the processors' queue, ready to run (Linux: `schedstat`).
    """

    def __init__(self, longest: float) -> None:
        super().__init__(daemon=True)
        self.longest, self.beat, self.freezes = longest, time.perf_counter(), []
        self._main = threading.get_ident()
        self._queue = Path(f"/proc/self/task/{threading.get_native_id()}/schedstat")

    def run(self) -> None:
        """Look every 20 ms; note what the main thread does while it stands."""
        before, slept, queued, used, seen = time.perf_counter(), 0.0, 0.0, 0.0, list[str]()
        lost = 0.0
        while True:
            time.sleep(0.02)
            now = time.perf_counter()
            slept += max(0.0, now - before - 0.1)
            before = now
            if now - self.beat < 0.1:
                if lost > self.longest:
                    busy = self._ran() - used
                    self.freezes.append(f"{lost:.2f} s, {busy:.2f} s busy\n{_commonest(seen)}")
                slept, queued, used, seen, lost = 0.0, self._queued(), self._ran(), [], 0.0
            else:
                lost = now - self.beat - slept + queued - self._queued()
                # Not held any longer than this: what a frame holds would be let go of here, in
                # the wrong thread.
                stack = traceback.format_stack(sys._current_frames().get(self._main))
                seen.append("".join(stack[-8:]))

    def _ran(self) -> float:
        """Seconds that the main thread has run."""
        return int(self._queue.read_text().split()[0]) / 1e9 if self._queue.exists() else 0.0

    def _queued(self) -> float:
        """Seconds that the main thread has stood in the queue since it began."""
        return int(self._queue.read_text().split()[1]) / 1e9 if self._queue.exists() else 0.0


class Probe(QObject):
    """Answers the driver's requests."""

    def __init__(self, window: Window, workspace: Workspace) -> None:
        super().__init__(window)
        self._window, self._workspace = window, workspace
        self._start: tuple[object, object, object] | None = None
        self._watcher = Watcher(float(sys.argv[2]) if len(sys.argv) > 2 else 0.5)
        self._errors = Faults()
        heart = QTimer(self, interval=int(1000 * BEAT), timerType=Qt.TimerType.PreciseTimer)
        heart.timeout.connect(self._beat)
        heart.start()
        self._watcher.start()
        self._notifier = QSocketNotifier(sys.stdin.fileno(), QSocketNotifier.Type.Read, self)
        self._notifier.activated.connect(self._asked)
        os.set_blocking(sys.stdin.fileno(), False)

    def _beat(self) -> None:
        self._watcher.beat = time.perf_counter()

    def _asked(self) -> None:
        for line in sys.stdin.read().split():
            print(json.dumps(getattr(self, f"do_{line}")()), flush=True)

    def do_state(self) -> dict[str, object]:
        """Where the window is, and what went wrong since the last request."""
        focus = QApplication.focusWidget()
        errors, self._errors.told = self._errors.told, []
        freezes, self._watcher.freezes = self._watcher.freezes, []
        page = self._window.page
        return {
            "ready": self._workspace.track is not None,
            "page": type(page).__name__ if page is not None else "",
            "editing": isinstance(focus, EDITORS) and not getattr(focus, "isReadOnly", bool)(),
            "modal": QApplication.activeModalWidget() is not None,
            "popup": QApplication.activePopupWidget() is not None,
            "same": self._start is not None and self._workspace.folder == self._start[0],
            "steps": self._workspace.undo.index(),
            "faults": errors,
            "freezes": freezes,
        }

    def do_begin(self) -> dict[str, object]:
        """Remember what is shown as the start."""
        self._start = (self._workspace.folder, self._workspace.routine, self._workspace.beatmap)
        return {"folder": str(self._workspace.folder)}

    def do_home(self) -> dict[str, object]:
        """Close menus and dialogues, as repeated Escapes would."""
        for _ in range(9):
            widget = QApplication.activePopupWidget() or QApplication.activeModalWidget()
            if widget is None:
                break
            widget.close()
        return {}

    def do_compare(self) -> dict[str, object]:
        """Whether the files on disk hold what is shown."""
        from rehearse.routine.folder import open_folder

        opened = open_folder(self._workspace.folder)
        return {
            "routine": differences(opened.routine, self._workspace.routine),
            "beatmap": differences(opened.beatmap, self._workspace.beatmap),
        }

    def do_undo(self) -> dict[str, object]:
        """Undo all; whether that gives the start."""
        steps = 0
        while self._workspace.undo.canUndo():
            self._workspace.undo.undo()
            steps += 1
        _, routine, beatmap = self._start
        return {
            "steps": steps,
            "routine": differences(routine, self._workspace.routine),
            "beatmap": differences(beatmap, self._workspace.beatmap),
        }


class ProbedWindow(Window):
    """The window with a probe in it."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self.probe = Probe(self, workspace)


if __name__ == "__main__":
    os.environ.pop("QT_QPA_PLATFORMTHEME", None)
    rehearse.app.Window = ProbedWindow
    sys.exit(rehearse.app.run(Path(sys.argv[1])))
