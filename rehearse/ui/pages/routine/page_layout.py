"""What the Routine page is made of, and how it fills a window of any size."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QLineEdit,
    QPlainTextEdit,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from rehearse.music.beatmap import BeatMap
from rehearse.ui import theme
from rehearse.ui.actions import KEYS, ON_ROUTINE, TEMPO
from rehearse.ui.bindings import Bindings
from rehearse.ui.figure.pose_thumbs import Thumbs
from rehearse.ui.mainkey import press_focused, presses
from rehearse.ui.pages.routine.askline import AskLine, ToldLine
from rehearse.ui.pages.routine.card import PoseCard
from rehearse.ui.pages.routine.choreography import Choreography
from rehearse.ui.pages.routine.editor_state import EditorState
from rehearse.ui.pages.routine.findings import Findings
from rehearse.ui.pages.routine.lane import PoseLane
from rehearse.ui.pages.routine.movepicker import MovePicker
from rehearse.ui.pages.routine.own_panels import OwnMovePanel, OwnPosePanel
from rehearse.ui.pages.routine.panel_stack import SUGGESTIONS, PanelStack
from rehearse.ui.pages.routine.picker import PosePicker
from rehearse.ui.pages.routine.pose_rows import PoseRows
from rehearse.ui.pages.routine.pose_timings import PoseTimings
from rehearse.ui.pages.routine.routine_music import RoutineMusic
from rehearse.ui.pages.routine.section_strip import SectionStrip
from rehearse.ui.pages.routine.table import PoseTable
from rehearse.ui.pages.routine.topbar import TopBar
from rehearse.ui.pages.routine.trial import Trial
from rehearse.ui.wave.scale import CERTAINTY, PARTS
from rehearse.ui.wave.wave_view import WaveView
from rehearse.ui.workspace import Workspace

#: Below this height of the page the wave goes without parts and certainty.
LOW = 640
#: Below this height the pose lane makes room for the choice of a pose.
ROOMY = 900
#: The window's own keys, which no form takes from it.
_PAGE_KEYS = (Qt.Key.Key_1, Qt.Key.Key_2, Qt.Key.Key_3, Qt.Key.Key_4)


class _Lower(QStackedWidget):
    """What lies under the lane, one at a time; it takes what room there is."""

    def hasHeightForWidth(self) -> bool:
        """Wrapped texts inside never ask the music above to make room."""
        return False


class RoutineLayout(QWidget):
    """The parts of the page in their places; what happens between them is the page's."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self._lean: bool | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.timings, self.thumbs = PoseTimings(workspace), Thumbs()
        self.editor = EditorState(workspace)
        self.choreography = Choreography(workspace, self.editor)
        self.playing = RoutineMusic(workspace, self.editor)
        self.findings = Findings(workspace, self.choreography)
        self.bindings = Bindings(self, (KEYS, *ON_ROUTINE, *TEMPO))
        self.actions_by_name = self.bindings.actions
        self.ask, self.told = AskLine(), ToldLine(self.editor)
        self.bar = TopBar(self.editor, self.playing, self.actions_by_name, self.thumbs)
        self.wave = WaveView()
        self.strip = SectionStrip(self.choreography, self.timings)
        self.lane = PoseLane(self.choreography, self.timings, self.thumbs)
        self.rows = PoseRows(workspace, self.choreography, self.timings, self.thumbs)
        self.table = PoseTable(self.rows, self.editor)
        self.card = PoseCard(self.choreography, self.timings, self.thumbs, workspace.settings)
        self.panels = PanelStack(workspace, self.findings, self.ask)
        self.picker = PosePicker(workspace, self.thumbs)
        self.own, self.own_move = OwnPosePanel(workspace), OwnMovePanel(workspace)
        self.move_picker = MovePicker()
        views = (self.lane, self.card.figure)
        self.trial = Trial(workspace, self.choreography, self.timings, self.playing, views)
        self.panels.suggestions.tried.connect(self.trial.begin)
        self.panels.suggestions.marked.connect(self.trial.end)
        self._lay_out()

    @property
    def workspace(self) -> Workspace:
        """The open routine."""
        return self._workspace

    def _lay_out(self) -> None:
        overview = QWidget()
        row = QHBoxLayout(overview)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(theme.STEP)
        row.addWidget(self.card)
        row.addWidget(self.table, 1)
        row.addWidget(self.panels)
        self.below = _Lower()
        for widget in (overview, self.picker, self.own, self.move_picker, self.own_move):
            self.below.addWidget(widget)
        self._overview = overview
        for widget in (self.card, self.panels, self.lane, self.wave):
            widget.setProperty("fitsItself", True)
        self.below.setMinimumHeight(15 * theme.STEP)
        self.below.currentChanged.connect(self.fit)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        for widget in (self.bar, self.strip, self.wave, self.lane, self.told, self.ask):
            column.addWidget(widget)
        column.addWidget(self.below, 1)

    def show_overview(self) -> None:
        """Bring the table back after a pose was picked, or not."""
        self.below.setCurrentWidget(self._overview)
        self.setFocus()

    def show_offers(self) -> None:
        """Suggestions stand in the lane while their list is up."""
        offers = self.findings.suggestions if self.panels.panel == SUGGESTIONS else ()
        find = self._workspace.catalogue.find
        self.lane.scene.offered = tuple((s.time, find(s.poses[0])) for s in offers if s.poses)
        self.lane.update()

    def show_map(self, beatmap: BeatMap | None) -> None:
        """Show this map over the wave, all of it or what a low page has room for."""
        if beatmap is not None and self._lean:
            beatmap = replace(beatmap, parts=(), confidence=())
        fits = self._workspace.track is not None and not self._workspace.other_song
        self.wave.set_map(beatmap if fits else None)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fill the new size."""
        self.fit()
        super().resizeEvent(event)

    def fit(self) -> None:
        """Share the room out: low pages keep it for the lists, large ones show larger figures."""
        width, height, step = self.width(), self.height(), theme.px(theme.STEP)
        times = theme.scale()
        low, narrow = height < LOW * times, width < 1100 * times
        self.card.setFixedWidth(step * (17 if narrow else max(26, round(width / times) // 60)))
        self.panels.setFixedWidth(step * max(44, round(width / times) // 40))
        lane = 14 if low else max(19, round(height / times) // 48)
        self.lane.setFixedHeight(step * lane)
        self.lane.setVisible(height > ROOMY * times or self.below.currentWidget() is self._overview)
        # The wave keeps its height while a question or sections come and go beneath it.
        rest = (height - 33 * step) * 2 // 5
        self.wave.setFixedHeight(14 * step if low else max(23 * step, rest))
        self.bar.done.setVisible(not narrow)
        self.told.stay(not low)
        # Two bands fewer below a low wave: it begins where they would.
        self.wave.below = -float(CERTAINTY + PARTS) if low else 0.0
        if low is not self._lean:
            self._lean = low
            self.show_map(self._workspace.beatmap)

    def event(self, event: QEvent) -> bool:
        """Where text is written, letters and Return belong to the text, not to the gestures."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            focus = self.window().focusWidget()
            writing = isinstance(focus, QLineEdit | QPlainTextEdit | QComboBox)
            forms = (self.picker, self.own, self.move_picker, self.own_move)
            asked = any(form.isAncestorOf(focus) for form in forms)
            if writing or presses(focus, event) or (asked and event.key() not in _PAGE_KEYS):
                event.accept()
                return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Return presses the button that has the focus."""
        if not press_focused(self, event):
            super().keyPressEvent(event)
