"""How the form for cutting is laid out: limit and versions above, the wave, what can be done."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QListWidget, QVBoxLayout

from rehearse.music.proposals import LEAST, MOST
from rehearse.ui import actions, theme
from rehearse.ui.flows.cut_layer import BAND
from rehearse.ui.flows.flow import Flow
from rehearse.ui.pages.music.controls import Controls
from rehearse.ui.wave.wave_view import WaveView
from rehearse.ui.widgets import NumberField
from rehearse.ui.workspace import Workspace
from rehearse.words import _


class CutForm(Flow):
    """The form's fields; what they do is `CutSong`'s.

    `limit`: seconds. `versions`: a row each. `view`: the wave. `length`: of the cut, in words.
    """

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace, _("Cut the song"))
        self.limit = NumberField(minimum=int(LEAST), maximum=int(MOST), suffix=" s")
        self.limit.setKeyboardTracking(False)
        self.versions = QListWidget()
        self.view = WaveView()
        self.view.below = BAND
        self.length = QLabel(wordWrap=True)
        self._lay_out()
        self.setFocusProxy(self.versions)

    def show_controls(self, controls: Controls) -> None:
        """Put the buttons under the wave, in two rows."""
        foot = QHBoxLayout()
        foot.addLayout(controls.grid(actions.ON_CUT, -(-len(actions.ON_CUT) // 2)))
        foot.addStretch(1)
        self.body.addLayout(foot)

    def _lay_out(self) -> None:
        edge = 3 * theme.STEP
        self.column.setContentsMargins(edge, theme.STEP, edge, theme.STEP)
        self.body.setSpacing(theme.STEP)
        # Heading and sentence share a line: the wave needs the height.
        for label in (self.heading, self.sentence):
            self.column.removeWidget(label)
        top = QHBoxLayout()
        top.setSpacing(3 * theme.STEP)
        top.addWidget(self.heading)
        top.addWidget(self.sentence, 1)
        self.column.insertLayout(0, top)
        self.limit.setAccessibleName(_("Limit in seconds"))
        self.versions.setAccessibleName(_("Versions of the song"))
        self.versions.setWordWrap(True)
        # A bar that comes and goes with the width of the other's rows never settles.
        self.versions.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.versions.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOn)
        self.versions.setFixedHeight(theme.px(13 * theme.STEP))
        self.length.setAccessibleName(_("Length of the cut and its joins"))
        words = QLabel(_("Limit"))
        words.setProperty("role", "dim")
        row = QHBoxLayout()
        row.setSpacing(theme.STEP)
        left = QVBoxLayout()
        left.addWidget(words)
        left.addWidget(self.limit)
        left.addStretch(1)
        row.addLayout(left)
        row.addWidget(self.versions, 1)
        self.body.addLayout(row)
        self.body.addWidget(self.view, 1)
        self.foot.insertWidget(1, self.length, 1)
