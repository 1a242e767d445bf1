"""The composition root: from the first line of the process to the last.

What happens, in order:

1. `run` makes the application, registers the bundled face and sets the style sheet.
2. A `Workspace` is made: the settings are read, nothing else (`ui/startup.py` says why).
3. The routine folder is read – two small files – and the window is shown with its page.
4. Then the song is decoded in a worker process; `trackChanged` brings it.
5. Once the first picture is on the screen the rest of the page and the logbook follow, and the
   garbage collector is tamed.
6. On leaving, by key or by the system: the routine is saved, the page stops asking the clock, the
   workspace stops the stream and joins the render thread, ends the workers, closes the logbook and
   forgets the undo steps; the windows go last.

Exceptions in slots reach only `sys.excepthook`; `ExceptionHook` shows each once and logs it.
"""

from __future__ import annotations

import gc
import sys
from functools import partial
from pathlib import Path

# Before Qt, since it imports what the first picture needs (why is told there).
from rehearse.ui.startup import tame_collector  # isort: skip

from PySide6.QtCore import QEvent, QLibraryInfo, QLocale, Qt, QTimer, QTranslator, Signal
from PySide6.QtGui import QFileOpenEvent
from PySide6.QtWidgets import QApplication

from rehearse.files import quick_start
from rehearse.routine.folder import is_zip
from rehearse.ui.crash import ExceptionHook
from rehearse.ui.ending import Ending
from rehearse.ui.growth import style
from rehearse.ui.walk import SETTING
from rehearse.ui.window import Window
from rehearse.ui.workspace import Workspace
from rehearse.words import LANGUAGE, RIGHT_TO_LEFT, SOURCE


class Application(QApplication):
    """The application; a Mac hands it what was double-clicked as an event.

    Signals:
        fileAsked: open this path.
    """

    fileAsked = Signal(Path)

    def event(self, event: QEvent) -> bool:
        """Open what the desktop asks for."""
        if isinstance(event, QFileOpenEvent) and event.file():
            self.fileAsked.emit(Path(event.file()))
            return True
        return super().event(event)


def speak(application: QApplication) -> None:
    """Qt's own numbers, buttons and dialogues in the language of the texts, and its direction."""
    QLocale.setDefault(QLocale(LANGUAGE))
    if LANGUAGE != SOURCE:
        translator = QTranslator(application)
        folder = QLibraryInfo.path(QLibraryInfo.LibraryPath.TranslationsPath)
        if translator.load(f"qtbase_{LANGUAGE}", folder):
            application.installTranslator(translator)
    if RIGHT_TO_LEFT:
        application.setLayoutDirection(Qt.LayoutDirection.RightToLeft)


def make_application(arguments: list[str]) -> QApplication:
    """The application in the project's face and colours."""
    there = QApplication.instance()
    application = (
        there if isinstance(there, QApplication) else Application([*arguments, "-style", "fusion"])
    )
    application.setApplicationName("rehearse")
    application.setApplicationDisplayName("Rehearse")
    application.setDesktopFileName("org.example.rehearse")
    speak(application)
    application.setStyleSheet(style())
    if application.platformName() == "xcb":
        from rehearse.ui.key_repeat import KeyRepeat

        KeyRepeat(application)
    return application


def run(folder: Path | None = None, *, walk: bool = False) -> int:
    """Open the window; returns the exit status.

    Args:
        folder: a routine's folder, or its zip, unpacked once the window is there; None: the
            routine opened last.
        walk: show around on it, where nobody was shown around on this machine yet.
    """
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
    if chosen is not None and is_zip(chosen):
        workspace.startFinished.connect(partial(_open_path, workspace, chosen))
    elif chosen is not None:
        workspace.open(chosen)
    window.painted.connect(workspace.finish_start, Qt.ConnectionType.QueuedConnection)
    workspace.startFinished.connect(hook.begin_log)
    workspace.startFinished.connect(lambda: QTimer.singleShot(0, tame_collector))
    workspace.startFinished.connect(_show_icon)
    workspace.startFinished.connect(quick_start.end)
    if isinstance(application, Application):
        application.fileAsked.connect(partial(_open_path, workspace))
    if walk and not workspace.settings.get(SETTING, ""):
        workspace.startFinished.connect(window.begin_walk)
    window.show()
    try:
        return application.exec()
    finally:
        window.leave()
        workspace.close()
        ending.stop()
        hook.remove()


def _open_path(workspace: Workspace, path: Path) -> None:
    """Open a folder, a file in one, or a zip, once the window is there."""
    from rehearse.ui.flows.opening import open_routine

    open_routine(workspace, path)


def _show_icon() -> None:
    """The window's icon, which no first picture waits for."""
    from rehearse.ui.menu_entry import window_icon

    QApplication.setWindowIcon(window_icon())


def _last(workspace: Workspace) -> Path | None:
    """The routine opened last, if its folder is there."""
    last = workspace.settings.get("folder")
    return Path(last) if last and Path(last).is_dir() else None
