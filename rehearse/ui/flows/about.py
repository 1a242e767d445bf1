"""About the program: its version, and every part of it with its version and licence."""

from __future__ import annotations

import platform

from PySide6 import __version__ as qt_version
from PySide6.QtCore import Slot
from PySide6.QtWidgets import QHBoxLayout, QListWidget, QPlainTextEdit

from rehearse import __version__
from rehearse.files.components import Component, components
from rehearse.ui import theme
from rehearse.ui.flows.flow import Flow
from rehearse.ui.workspace import Workspace
from rehearse.words import _


class About(Flow):
    """The parts to the left, the licence of the one chosen to the right."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace, _("Rehearse {version}", version=__version__))
        self.parts = components()
        self.list = QListWidget()
        self.list.setAccessibleName(_("Parts of the program, with version and licence"))
        for part in self.parts:
            self.list.addItem(_line(part))
        self.text = QPlainTextEdit(readOnly=True)
        self.text.setAccessibleName(_("The licence of the part chosen"))
        self.text.setTabChangesFocus(True)
        row = QHBoxLayout()
        row.setSpacing(3 * theme.STEP)
        row.addWidget(self.list, 2)
        row.addWidget(self.text, 3)
        self.body.addLayout(row, 1)
        self.say(
            _(
                "A rehearsal player for free posing. Free software under "
                "GPL-3.0-or-later, without any warranty. Python {python_version}, Qt "
                "{qt_version}. The computer's own camera: tried on none of Linux, Windows and "
                "macOS.",
                python_version=platform.python_version(),
                qt_version=qt_version,
            )
        )
        self.offer(_("OK"))
        self.list.currentRowChanged.connect(self._show)
        self.list.setCurrentRow(0)
        self.setFocusProxy(self.list)

    @Slot(int)
    def _show(self, row: int) -> None:
        if 0 <= row < len(self.parts):
            self.text.setPlainText(self.parts[row].text)

    def do_main(self) -> None:
        """Back to the page."""
        self.leave()


def _line(part: Component) -> str:
    """A part in a line: name, version, licence."""
    return f"{' '.join(filter(None, (part.name, part.version)))}\n{part.licence}"
