"""The composition root: from the first line of the process to the last.

What happens, in order:

1. `run` makes the application, registers the bundled face and sets the style sheet.
2. A `Workspace` is made: the settings are read, nothing heavy is loaded.
3. The routine folder is read – two small files – and the window is shown with its page.
4. Then the song is decoded in a worker process; `trackChanged` brings it.
5. Once the first picture is on the screen the rest of the page and the logbook follow. Then the
   garbage collector is frozen and tamed: what lives now lives to the end, and a full collection
   in mid-pose would stall the window.
6. On leaving, by key or by the system: the routine is saved, the page stops asking the clock, the
   workspace stops the stream and joins the render thread, ends the workers, closes the logbook and
   forgets the undo steps; the windows go last.

Exceptions in slots reach only `sys.excepthook`; `ExceptionHook` shows each once and logs it.
"""

from __future__ import annotations

import gc
import sys
from pathlib import Path

# Qt's import hook slows down every import after it, so that what is needed anyway comes first.
import rehearse.early_imports  # isort: skip  # noqa: F401

from PySide6.QtCore import QObject, Qt, QTimer, Slot
from PySide6.QtWidgets import QApplication

from rehearse.ui.crash import ExceptionHook
from rehearse.ui.ending import Ending
from rehearse.ui.growth import style
from rehearse.ui.key_repeat import KeyRepeat
from rehearse.ui.window import Window
from rehearse.ui.workspace import Workspace


def make_application(arguments: list[str]) -> QApplication:
    """The application in the project's face and colours."""
    there = QApplication.instance()
    application = there if isinstance(there, QApplication) else QApplication(arguments)
    application.setApplicationName("rehearse")
    application.setApplicationDisplayName("Rehearse")
    application.setStyle("Fusion")
    application.setStyleSheet(style())
    if application.platformName() == "xcb":
        KeyRepeat(application)
    return application


#: Objects and collections of each generation from which on it is collected, and how often in
#: milliseconds it is looked.
_MANY, _LOOK = (50_000, 50, 1000), 1000


class Collector(QObject):
    """Collects garbage in the window's thread and in no other.

    Python collects in whichever thread happens to ask for memory; a widget taken apart in the
    logbook's thread takes the program with it.
    """

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        gc.disable()
        timer = QTimer(self, interval=_LOOK)
        timer.timeout.connect(self.look)
        timer.start()

    @Slot()
    def look(self) -> None:
        """Collect the oldest generation that is due."""
        counts = gc.get_count()
        for generation in (2, 1, 0):
            if counts[generation] > _MANY[generation]:
                gc.collect(generation)
                return


def tame_collector() -> Collector:
    """Keep what lives now out of every collection, and make the others seldom and here."""
    gc.collect()
    gc.freeze()
    application = QApplication.instance()
    assert application is not None
    return Collector(application)


def run(folder: Path | None = None) -> int:
    """Open the window, with `folder` or the routine opened last; returns the exit status."""
    gc.disable()  # nothing is thrown away before the window is up
    application = make_application(sys.argv[:1])
    workspace = Workspace(deferred=True)
    hook = ExceptionHook(workspace)
    hook.install()
    window = Window(workspace)
    ending = Ending()
    ending.asked.connect(window.leave)
    # Log out and shut down: it is saved, or kept on this machine, before the system goes on.
    application.commitDataRequest.connect(workspace.save)
    chosen = folder or _last(workspace)
    if chosen is not None:
        workspace.open(chosen)
    window.painted.connect(workspace.finish_start, Qt.ConnectionType.QueuedConnection)
    workspace.startFinished.connect(hook.begin_log)
    workspace.startFinished.connect(lambda: QTimer.singleShot(0, tame_collector))
    window.show()
    try:
        return application.exec()
    finally:
        window.leave()
        workspace.close()
        ending.stop()
        hook.remove()


def _last(workspace: Workspace) -> Path | None:
    """The routine opened last, if its folder is there."""
    last = workspace.settings.get("folder")
    return Path(last) if last and Path(last).is_dir() else None
