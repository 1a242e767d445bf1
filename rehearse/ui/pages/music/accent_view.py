"""How many accents are shown, and the cursor from one to the next of them."""

from __future__ import annotations

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QSlider, QWidget

from rehearse.music.beatmap import GRADES, LIGHT, MEDIUM, STRONG
from rehearse.ui import theme
from rehearse.ui.wave.wave_view import WaveView
from rehearse.ui.workspace import Workspace
from rehearse.words import _

#: Least strength shown at each place of the slider.
LEAST = (STRONG, MEDIUM, LIGHT)
SETTING = "accents_shown"
#: Seconds by which the cursor must be off an accent for it to be the next one.
_SAME = 0.01
#: What `GRADES` are called.
_GRADES = (_("strong"), _("medium"), _("light"))


class AccentView(QWidget):
    """A slider between strong accents alone and all of them, with steps to either side.

    Args:
        before, after: the buttons of the two steps.
    """

    def __init__(
        self, workspace: Workspace, view: WaveView, before: QPushButton, after: QPushButton
    ) -> None:
        super().__init__()
        self._workspace, self._view = workspace, view
        self.words = QLabel()
        self.slider = QSlider(Qt.Orientation.Horizontal)
        self.slider.setRange(0, len(GRADES) - 1)
        self.slider.setPageStep(1)
        self.slider.setMinimumWidth(4 * theme.STEP)
        self.slider.setAccessibleName(_("Accents shown: strong, medium, light"))
        self.slider.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(theme.STEP)
        for widget, share in ((before, 0), (self.slider, 1), (after, 0)):
            row.addWidget(widget, share)
        self.slider.setValue(workspace.settings.get(SETTING))
        self.slider.valueChanged.connect(self._chosen)
        self._show()

    def step(self, way: int) -> None:
        """The cursor on the next accent in view of this grade (before it when negative)."""
        beatmap, cursor = self._workspace.beatmap, self._view.cursor_time
        times = [a.time for a in beatmap.accents if a.strength >= self._least] if beatmap else []
        ahead = [t for t in times if way * (t - cursor) > _SAME]
        if not ahead:
            where = _("after") if way > 0 else _("before")
            more = (
                "" if self.slider.value() == self.slider.maximum() else _(", or show more of them")
            )
            self._workspace.notice.say(
                _(
                    "No accent is {where} the cursor – go the other way{more}.",
                    where=where,
                    more=more,
                )
            )
            return
        self._view.set_cursor(min(ahead) if way > 0 else max(ahead))

    @property
    def _least(self) -> float:
        return LEAST[self.slider.value()]

    @Slot(int)
    def _chosen(self, place: int) -> None:
        self._workspace.settings.put(SETTING, place)
        self._show()

    def _show(self) -> None:
        grades = _GRADES[: self.slider.value() + 1]
        self.words.setText(_("Accents: ") + ", ".join(grades))
        self._view.set_least(self._least)
