"""Exceptions that no one caught: one calm sentence each, the rest in the log."""

from __future__ import annotations

import logging
import sys
import threading
from types import TracebackType
from typing import Any

from PySide6.QtCore import QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QApplication

from rehearse.files.user_error import UserError
from rehearse.ui.actions import LOG
from rehearse.ui.jobs import Bridge
from rehearse.ui.workspace import Workspace
from rehearse.words import _

log = logging.getLogger("rehearse")

#: Kinds of faults that are told apart; what comes after them is only counted.
_MOST = 50


class ExceptionHook:
    """Shows an exception as one sentence, once, and writes it into the log.

    A fault is the same as another one when it is of the same kind from the same place, whatever
    its text. Nothing is stopped: where the music can go on, it does.
    """

    def __init__(self, workspace: Workspace) -> None:
        self._workspace = workspace
        self._bridge = Bridge(workspace)
        self._times: dict[str, int] = {}
        self._log: logging.Handler | None = None
        self._began = False

    def begin_log(self) -> None:
        """Open the log: once the first picture is on the screen, or at the first fault."""
        from rehearse.files.error_log import start_log  # not needed for the first picture

        if not self._began:
            self._began, self._log = True, start_log()

    def install(self) -> None:
        """Hear of exceptions in slots, in threads and where nobody waits for them."""
        sys.excepthook = self
        threading.excepthook = self._in_thread
        sys.unraisablehook = self._unraisable

    def remove(self) -> None:
        """The window is gone."""
        sys.excepthook = sys.__excepthook__
        threading.excepthook = threading.__excepthook__
        sys.unraisablehook = sys.__unraisablehook__
        if self._began:
            from rehearse.files.error_log import end_log

            end_log(self._log)
            self._began = False

    def __call__(
        self, kind: type[BaseException], error: BaseException, trace: TracebackType | None
    ) -> None:
        """As `sys.excepthook`."""
        if issubclass(kind, KeyboardInterrupt):
            QApplication.quit()
        elif isinstance(error, UserError):
            self._workspace.errorRaised.emit(error.sentence)
        elif self._is_new(error.with_traceback(trace)):
            self._workspace.errorRaised.emit(self._sentence())

    def _is_new(self, error: BaseException) -> bool:
        """Log it, or count it; whether it is the first of its kind."""
        from rehearse.files.error_log import place_of

        self.begin_log()
        place = place_of(error)
        times = self._times.get(place, 0) + 1
        if times == 1 and len(self._times) >= _MOST:
            return False
        self._times[place] = times
        if times == 1:
            log.error("not caught", exc_info=(type(error), error, error.__traceback__))
        elif times & (times - 1) == 0:  # 2, 4, 8 …
            log.error("the same fault for the %s. time", times)
        return times == 1

    def _sentence(self) -> str:
        return _(
            "Something went wrong inside the program. {saved}{keys} opens the "
            "folder with what happened.",
            saved=self._saved(),
            keys=LOG.keys[0],
        )

    def _saved(self) -> str:
        """What has become of the routine: only what was seen."""
        if self._workspace.routine is None:
            return ""
        try:
            self._workspace.save()
        except Exception as error:
            log.error("not saved after it", exc_info=error)
        if self._workspace.saving.saved:
            return _("Your routine is saved. ")
        if self._workspace.saving.unsaved is not None:
            return _("The last change is not saved yet, it is kept on this machine. ")
        return _("The last change is not saved. ")

    def _in_thread(self, arguments: Any) -> None:
        error = arguments.exc_value
        if error is not None and not isinstance(error, SystemExit):
            trace = arguments.exc_traceback
            self._bridge.post(lambda: self(type(error), error, trace))

    def _unraisable(self, told: Any) -> None:
        if told.exc_value is not None:
            self._is_new(told.exc_value)


def open_log(workspace: Workspace) -> None:
    """Show the folder of the log; where nothing can show it, say where it is."""
    from rehearse.files.error_log import log_folder

    folder = log_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        workspace.errorRaised.emit(_("No log can be kept on this machine."))
        return
    if not QDesktopServices.openUrl(QUrl.fromLocalFile(str(folder))):
        workspace.errorRaised.emit(_("The log is in the folder {folder}.", folder=folder))
