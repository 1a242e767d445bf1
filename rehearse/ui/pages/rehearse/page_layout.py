"""What the Rehearse page is made of, what stands in front, and what the stage display must know.

The stage is on the screen first, with room kept free for the rest; list, form, buttons and keys
follow once the first picture is there (`ui/startup.py`).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QStackedWidget, QVBoxLayout, QWidget

from rehearse.ui import theme
from rehearse.ui.actions import ASSIGNABLE
from rehearse.ui.bindings import Bindings
from rehearse.ui.film.camera_sign import CameraSign
from rehearse.ui.pages.rehearse.rehearsal_host import RehearsalHost
from rehearse.ui.stage.stage_options import USUAL_PIXEL_MM, StageOptions, ViewingDistance
from rehearse.ui.stage.stage_view import StageView
from rehearse.ui.workspace import Workspace

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from rehearse.ui.awake import Awake
    from rehearse.ui.film.hit_review import LookView
    from rehearse.ui.pages.rehearse.camera_host import CameraHost
    from rehearse.ui.pages.rehearse.controller import Clicker, RehearseController
    from rehearse.ui.pages.rehearse.drill_panel import DrillPanel
    from rehearse.ui.pages.rehearse.drill_rows import StandingsReader
    from rehearse.ui.pages.rehearse.footer import Footer
    from rehearse.ui.pages.rehearse.mirror_host import MirrorHost
    from rehearse.ui.pages.rehearse.setup import Setup

#: Settings that change how the stage looks.
SEEN = ("distance_m", "screen_mm", "reduced_motion", "reduced_flash", "mirrored")
#: Widths a screen may truthfully report, in millimetres; others are taken for unknown.
_BELIEVED = (120.0, 3000.0)
_USUAL_MM = 309.4


class Screen:
    """Makes the options that do not follow from the rehearsal.

    Args:
        widget: the display, whose screen is asked for its size.
    """

    def __init__(self, workspace: Workspace, widget: QWidget) -> None:
        self._workspace, self._widget = workspace, widget
        self._shaped: tuple[object, ...] = ()
        self._shape: npt.NDArray[np.float32] | None = None

    def options(self, before: StageOptions, drilled: dict[str, int]) -> StageOptions:
        """`before` with screen, settings and song as they are now."""
        settings = self._workspace.settings
        return replace(
            before,
            viewing=ViewingDistance(settings.get("distance_m"), self.pixel_mm()),
            loudness=self._loudness(),
            drilled=drilled,
            reduced_motion=settings.get("reduced_motion"),
            reduced_flash=settings.get("reduced_flash"),
            mirrored=settings.get("mirrored"),
            folder=self._workspace.folder,
        )

    def pixel_mm(self) -> float:
        """Millimetres of a logical pixel: as set, as the screen says, or of a usual laptop."""
        screen = self._widget.screen()
        if screen is None or screen.size().width() == 0:
            return USUAL_PIXEL_MM
        told = self._workspace.settings.get("screen_mm") or screen.physicalSize().width()
        width = told if _BELIEVED[0] <= told <= _BELIEVED[1] else _USUAL_MM
        return width / screen.size().width()

    def _loudness(self) -> npt.NDArray[np.float32] | None:
        sheet, track = self._workspace.sheet, self._workspace.track
        if sheet is None or track is None:
            return None
        shaped = (track, sheet.start, sheet.end)
        if shaped != self._shaped:
            from rehearse.music.silhouette import silhouette

            self._shaped = shaped
            self._shape = silhouette(track, sheet.start, sheet.end)
        return self._shape


#: The size of side and foot, kept free for them until they are there; two lines fit in the foot.
_SIDE, _FOOT = 42 * theme.STEP, 14 * theme.STEP + theme.STEP // 2


class RehearseLayout(QWidget):
    """The parts in their places.

    Attributes:
        has_controls: whether `keys`, `standings`, `drill_panel`, `footer`, `controller`, `clicker`,
        `awake`, `look`, `camera` and `mirror` are there.

    Signals:
        fullScreenWanted: the stage wants the whole screen, or gives it back.
    """

    fullScreenWanted = Signal(bool)

    keys: Bindings
    standings: StandingsReader
    drill_panel: DrillPanel
    footer: Footer
    controller: RehearseController
    clicker: Clicker
    awake: Awake
    look: LookView
    camera: CameraHost
    mirror: MirrorHost

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self._setup: Setup | None = None
        self.is_full_screen = self._full_screen_again = self.has_controls = False
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.host = RehearsalHost(workspace)
        self.stage = StageView(self.host.look)
        self.missing = QLabel(wordWrap=True)
        self.missing.setProperty("role", "title")
        self.missing.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._lay_out()

    def _lay_out(self) -> None:
        self._front = QStackedWidget()
        self.camera_sign = CameraSign()
        self._front.addWidget(self.stage)
        self._front.addWidget(self.missing)
        self._free = QWidget(), QWidget()
        self._free[0].setFixedWidth(_SIDE)
        self._free[1].setFixedHeight(_FOOT)
        self._column = QVBoxLayout()
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(0)
        self._column.addWidget(self.camera_sign)
        self._column.addWidget(self._front, 1)
        self._column.addWidget(self._free[1])
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(2 * theme.STEP)
        self._row.addWidget(self._free[0])
        self._row.addLayout(self._column, 1)

    def build_controls(self) -> None:
        """Put everything beside the stage in its place."""
        from rehearse.ui.awake import Awake
        from rehearse.ui.film.hit_review import LookView
        from rehearse.ui.pages.rehearse.camera_host import CameraHost
        from rehearse.ui.pages.rehearse.controller import Clicker, RehearseController
        from rehearse.ui.pages.rehearse.drill_panel import DrillPanel
        from rehearse.ui.pages.rehearse.drill_rows import StandingsReader
        from rehearse.ui.pages.rehearse.footer import Footer
        from rehearse.ui.pages.rehearse.mirror_host import MirrorHost

        self.keys = Bindings(self, ASSIGNABLE, settings=self._workspace.settings)
        self.standings = StandingsReader(self._workspace, self)
        self.drill_panel = DrillPanel(self._workspace, self.keys, self.standings)
        self.footer = Footer(self._workspace, self.keys)
        self.footer.setMinimumHeight(_FOOT)
        self.controller = RehearseController(self._workspace, self.host, self.drill_panel)
        self.clicker = Clicker(self.keys, self.host, self.controller, self.footer.question)
        self._workspace.stopAsked.connect(self.clicker.forget)
        self.look = LookView()
        self._front.addWidget(self.look)
        self.camera = CameraHost(self._workspace, self.host, self.look)
        self.mirror = MirrorHost(self._workspace, self.host, self.camera)
        self._front.addWidget(self.mirror.view)
        self.awake = Awake(self)
        self._row.replaceWidget(self._free[0], self.drill_panel)
        self._column.replaceWidget(self._free[1], self.footer)
        for widget in self._free:
            widget.hide()
            widget.deleteLater()
        self.has_controls = True

    @property
    def is_set_up(self) -> bool:
        """Whether the set-up stands in front."""
        return self._setup is not None and self._front.currentWidget() is self._setup

    @Slot()
    def toggle_full_screen(self) -> None:
        """Give the stage the whole screen, or take it back."""
        self.set_full_screen(not self.is_full_screen)

    def set_full_screen(self, on: bool) -> None:
        """Nothing but the stage, or everything."""
        self.close_setup()
        self.is_full_screen, self._full_screen_again = on, False
        self.drill_panel.setVisible(not on)
        self.footer.set_full_screen(on)
        self.fullScreenWanted.emit(on)
        self.setFocus()

    @Slot()
    def toggle_setup(self) -> None:
        """Bring the set-up to the front, or the stage again."""
        if self.is_full_screen:
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
        self._front.setCurrentWidget(self._in_front)
        self.setFocus()

    @property
    def _in_front(self) -> QWidget:
        """What stands in front while the set-up does not."""
        if self.has_controls and self.look.on:
            return self.look
        if self.has_controls and self.mirror.view.on:
            return self.mirror.view
        return self.missing if self.lack else self.stage

    @Slot()
    def show_camera(self) -> None:
        """Its sign, and what is to be looked at."""
        self.camera_sign.show_state(self.camera.state)
        self.look.viewing = self.mirror.view.viewing = self.stage.base.viewing
        if not self.is_set_up:
            self._front.setCurrentWidget(self._in_front)

    @property
    def lack(self) -> str:
        """What the stage lacks: something of the routine, or the song that was asked for."""
        wish = self._workspace.wish
        if self.has_controls and self.drill_panel.rounds:
            return ""
        return self.host.missing or (wish.state if wish.waits else "")

    @Slot()
    def show_missing(self) -> None:
        """Say what the stage lacks; the set-up stays where it is up."""
        self.missing.setText(self.lack)
        if not self.is_set_up:
            self._front.setCurrentWidget(self._in_front)
