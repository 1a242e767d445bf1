"""The composition root: from the first line of the process to the last.

What happens, in order:

1. `run` makes the application, registers the bundled face and sets the style sheet.
2. A `Desk` is made: the settings are read, nothing heavy is loaded.
3. The routine folder is read – two small files – and the window is shown with its page.
4. Then the song is decoded in a worker process; `trackChanged` brings it.
5. Once the first picture is on the screen the rest of the page and the logbook follow. Then the
   garbage collector is frozen and tamed: what lives now lives to the end, and a full collection
   in mid-pose would stall the window.
6. On leaving: the page stops asking the clock, the desk stops the stream and joins the render
   thread, ends the workers, closes the logbook and forgets the undo steps; the windows go last.

Exceptions in slots reach only `sys.excepthook`; `FaultHook` shows each once and logs it.
"""

from __future__ import annotations

import gc
import logging
import signal
import sys
from pathlib import Path
from types import TracebackType

# Qt's import hook slows down every import after it, so that what is needed anyway comes first.
import rehearse.prelude  # isort: skip  # noqa: F401

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication

from rehearse.files.fault import Fault
from rehearse.files.resources import resource
from rehearse.ui import theme
from rehearse.ui.desk import Desk
from rehearse.ui.fonts import load_fonts
from rehearse.ui.window import Window

log = logging.getLogger("rehearse")


class FaultHook:
    """Shows an exception that no one caught as one sentence, once, and logs it every time."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._told: set[str] = set()

    def __call__(
        self, kind: type[BaseException], error: BaseException, trace: TracebackType | None
    ) -> None:
        """As `sys.excepthook`."""
        if issubclass(kind, KeyboardInterrupt):
            QApplication.quit()
            return
        if isinstance(error, Fault):
            self._desk.faultRaised.emit(error.sentence)
            return
        log.error("not caught", exc_info=(kind, error, trace))
        where = f"{kind.__name__}: {error}"
        if where not in self._told:
            self._told.add(where)
            self._desk.faultRaised.emit(
                f"Something went wrong inside the program ({where}) – your routine is saved; "
                "go on, or start again if it does not respond."
            )


def make_application(arguments: list[str]) -> QApplication:
    """The application in the project's face and colours."""
    application = QApplication.instance() or QApplication(arguments)
    application.setApplicationName("rehearse")
    application.setApplicationDisplayName("Rehearse")
    application.setStyle("Fusion")
    application.setStyleSheet(
        theme.style_sheet(load_fonts(), resource("icons/down.svg").as_posix())
    )
    return application


def tame_collector() -> None:
    """Keep what lives now out of every collection, and make the others seldom."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 50, 1000)
    gc.enable()


def run(folder: Path | None = None) -> int:
    """Open the window, with `folder` or the routine opened last; returns the exit status."""
    gc.disable()  # nothing is thrown away before the window is up
    application = make_application(sys.argv[:1])
    desk = Desk(hold_back=True)
    sys.excepthook = FaultHook(desk)
    # Ctrl-C in the terminal ends the program; Python sees signals only between its own steps.
    signal.signal(signal.SIGINT, lambda *_: application.quit())
    awake = QTimer(interval=250)
    awake.timeout.connect(lambda: None)
    awake.start()
    window = Window(desk)
    last = desk.settings.get("folder")
    chosen = folder or (Path(last) if last and Path(last).is_dir() else None)
    if chosen is not None:
        desk.open(chosen)
    window.painted.connect(desk.begin_work, Qt.ConnectionType.QueuedConnection)
    desk.workBegun.connect(lambda: QTimer.singleShot(0, tame_collector))
    window.show()
    try:
        return application.exec()
    finally:
        window.close()
        desk.close()
        sys.excepthook = sys.__excepthook__
