"""The start page over an open routine: the routines opened last, one key each way."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Slot

from rehearse.ui.flows.flow import Flow
from rehearse.ui.recent import RecentList
from rehearse.ui.workspace import Workspace
from rehearse.words import _


class StartPage(Flow):
    """Recent routines with show, date and days left; Enter opens the chosen one."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace, _("Recent routines"))
        self.list = RecentList(workspace.settings)
        self.list.refresh(but=workspace.folder)
        self.list.opened.connect(self._open)
        self.body.addWidget(self.list, 1)
        self.setFocusProxy(self.list)
        self.say(
            _("The arrows choose, Enter opens.")
            if self.list.count()
            else _("No other routine was open.")
        )
        self.offer(_("Open the routine"), ready=self.list.count() > 0)

    def do_main(self) -> None:
        """Open the chosen one."""
        self.list.open_chosen()

    @Slot(Path)
    def _open(self, folder: Path) -> None:
        if self.workspace.open(folder):
            self.closed.emit()

    def take_path(self, path: Path) -> None:
        """A folder was dropped: open it."""
        self._open(path if path.is_dir() else path.parent)
