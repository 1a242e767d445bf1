"""What the stage display must know of screen, settings and song."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QWidget

from rehearse.ui.stage.stage_options import StageOptions
from rehearse.ui.stage.viewing_distance import USUAL_PIXEL_MM, ViewingDistance
from rehearse.ui.workspace import Workspace

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

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
