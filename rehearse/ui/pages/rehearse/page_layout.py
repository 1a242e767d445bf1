"""What the Rehearse page is made of, and which part of it stands in front.

The stage is on the screen first, with room kept free for the rest; list, form, buttons and keys
follow once the workspace is at work.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QStackedWidget, QVBoxLayout, QWidget

from rehearse.ui import theme
from rehearse.ui.actions import ASSIGNABLE
from rehearse.ui.bindings import Bindings
from rehearse.ui.pages.rehearse.rehearsal_host import RehearsalHost
from rehearse.ui.stage.stage_view import StageView
from rehearse.ui.workspace import Workspace

if TYPE_CHECKING:
    from rehearse.ui.awake import Awake
    from rehearse.ui.pages.rehearse.clicker import Clicker
    from rehearse.ui.pages.rehearse.controller import RehearseController
    from rehearse.ui.pages.rehearse.drill_panel import DrillPanel
    from rehearse.ui.pages.rehearse.footer import Footer
    from rehearse.ui.pages.rehearse.loglook import LogLook
    from rehearse.ui.pages.rehearse.setup import Setup

#: The size of side and foot, kept free for them until they are there; two lines fit in the foot.
_SIDE, _FOOT = 42 * theme.STEP, 14 * theme.STEP + theme.STEP // 2


class RehearseLayout(QWidget):
    """The parts in their places.

    Attributes:
        furnished: whether `keys`, `look`, `side`, `footer`, `controller`, `clicker` and `awake` are
        there.

    Signals:
        alone: the stage wants the whole screen, or gives it back.
    """

    alone = Signal(bool)

    keys: Bindings
    look: LogLook
    side: DrillPanel
    footer: Footer
    controller: RehearseController
    clicker: Clicker
    awake: Awake

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self._setup: Setup | None = None
        self.is_alone = self._alone_again = self.furnished = False
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.host = RehearsalHost(workspace)
        self.stage = StageView(self.host.look)
        self.missing = QLabel(wordWrap=True)
        self.missing.setProperty("role", "title")
        self.missing.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._lay_out()

    def _lay_out(self) -> None:
        self._front = QStackedWidget()
        self._front.addWidget(self.stage)
        self._front.addWidget(self.missing)
        self._free = QWidget(), QWidget()
        self._free[0].setFixedWidth(_SIDE)
        self._free[1].setFixedHeight(_FOOT)
        self._column = QVBoxLayout()
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(0)
        self._column.addWidget(self._front, 1)
        self._column.addWidget(self._free[1])
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(2 * theme.STEP)
        self._row.addWidget(self._free[0])
        self._row.addLayout(self._column, 1)

    def furnish(self) -> None:
        """Put everything beside the stage in its place."""
        from rehearse.ui.awake import Awake
        from rehearse.ui.pages.rehearse.clicker import Clicker
        from rehearse.ui.pages.rehearse.controller import RehearseController
        from rehearse.ui.pages.rehearse.drill_panel import DrillPanel
        from rehearse.ui.pages.rehearse.footer import Footer
        from rehearse.ui.pages.rehearse.loglook import LogLook

        self.keys = Bindings(self, ASSIGNABLE, settings=self._workspace.settings)
        self.look = LogLook(self._workspace, self)
        self.side = DrillPanel(self._workspace, self.keys, self.look)
        self.footer = Footer(self._workspace, self.keys)
        self.footer.setMinimumHeight(_FOOT)
        self.controller = RehearseController(self._workspace, self.host, self.side)
        self.clicker = Clicker(self.keys, self.host, self.controller, self.footer.question)
        self._workspace.stopAsked.connect(self.clicker.forget)
        self.awake = Awake(self)
        self._row.replaceWidget(self._free[0], self.side)
        self._column.replaceWidget(self._free[1], self.footer)
        for widget in self._free:
            widget.hide()
            widget.deleteLater()
        self.furnished = True

    @property
    def is_set_up(self) -> bool:
        """Whether the set-up stands in front."""
        return self._setup is not None and self._front.currentWidget() is self._setup

    @Slot()
    def toggle_alone(self) -> None:
        """Give the stage the whole screen, or take it back."""
        self.set_alone(not self.is_alone)

    def set_alone(self, alone: bool) -> None:
        """Nothing but the stage, or everything."""
        self.close_setup()
        self.is_alone, self._alone_again = alone, False
        self.side.setVisible(not alone)
        self.footer.set_alone(alone)
        self.alone.emit(alone)
        self.setFocus()

    @Slot()
    def toggle_setup(self) -> None:
        """Bring the set-up to the front, or the stage again."""
        if self.is_alone:
            return
        if self._setup is None:
            from rehearse.ui.pages.rehearse.setup import Setup

            self._setup = Setup(self._workspace, self.keys)
            self._setup.closed.connect(self.close_setup)
            self._front.addWidget(self._setup)
        if self.is_set_up:
            self.close_setup()
        else:
            self.host.leave_view()
            self._front.setCurrentWidget(self._setup)

    @Slot()
    def close_setup(self) -> None:
        """Bring the stage to the front, or what it lacks."""
        if self._setup is not None and self.is_set_up:
            self._setup.delay.leave()
        self._front.setCurrentWidget(self.missing if self.lack else self.stage)
        self.setFocus()

    @property
    def lack(self) -> str:
        """What the stage lacks: something of the routine, or the song that was asked for."""
        wish = self._workspace.wish
        if self.furnished and self.side.rounds:
            return ""
        return self.host.missing or (wish.state if wish.waits else "")

    @Slot()
    def show_missing(self) -> None:
        """Say what the stage lacks; the set-up stays where it is up."""
        self.missing.setText(self.lack)
        if not self.is_set_up:
            self._front.setCurrentWidget(self.missing if self.lack else self.stage)
