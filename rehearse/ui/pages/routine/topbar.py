"""The line over the music: play, where we are, tempo, grid, the pose in hand."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QAction, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QWidget

from rehearse.routine.snapping import Snap
from rehearse.ui import theme
from rehearse.ui.actions import key as key_of
from rehearse.ui.actions import printed
from rehearse.ui.figure.pose_thumbs import Thumbs, width_of
from rehearse.ui.pages.routine.editor_state import EditorState
from rehearse.ui.pages.routine.routine_music import RoutineMusic
from rehearse.ui.widgets import LastStep
from rehearse.words import _, shown

_HAND = 5 * theme.STEP
#: Letters of a pose's name that fit its button; a longer one is called by its spoken form.
_LONGEST = 22
#: Letters by which its short form may be longer than that.
_OVER = 4
#: Pixels of the bar below which there is less room for them.
_NARROW = 1100
_GRIDS = {grid: _("Snap: {grid}", grid=shown(grid)) for grid in Snap} | {
    Snap.NOTHING: _("Snap: off")
}


class TopBar(QWidget):
    """One main action under Space; beside it what the next gesture would do."""

    def __init__(
        self,
        editor: EditorState,
        playing: RoutineMusic,
        actions: dict[str, QAction],
        thumbs: Thumbs,
    ) -> None:
        super().__init__()
        self._editor, self._playing, self._thumbs = editor, playing, thumbs
        self.play = self._button(actions["play"], main=True)
        self.put = self._button(actions["put"])
        self.grid = self._button(actions["grid"])
        self.hand = self._button(actions["hand"])
        self.slower = self._button(actions["slower"])
        self.faster = self._button(actions["faster"])
        self.slower.setText(key_of("slower"))
        self.faster.setText(key_of("faster"))
        self.place, self.tempo = QLabel(), QLabel()
        self.place.setProperty("role", "body")
        self.place.setMinimumWidth(22 * theme.STEP)
        self.tempo.setAccessibleName(_("Tempo"))
        self.hand.setIconSize(QSize(width_of(_HAND), _HAND))  # grown with the window
        row = QHBoxLayout(self)
        row.setContentsMargins(3 * theme.STEP, theme.STEP // 2, 3 * theme.STEP, theme.STEP // 2)
        row.setSpacing(theme.STEP)
        for widget in (self.play, self.place, self.slower, self.tempo, self.faster):
            row.addWidget(widget)
        self.done = LastStep()
        self.mirror = QLabel(_("Mirror view"))
        self.mirror.hide()
        row.addSpacing(2 * theme.STEP)
        row.addWidget(self.done, 1)
        row.addWidget(self.mirror)
        for widget in (self.grid, self.hand, self.put):
            row.addWidget(widget)
        self.play.setMinimumWidth(15 * theme.STEP)
        editor.cursorChanged.connect(self.show_place)
        editor.gridChanged.connect(self.refresh)
        editor.handChanged.connect(self.refresh)
        playing.changed.connect(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """Show the words as they are now."""
        self.play.setText(f"{_('Stop') if self._playing.on else _('Play')}   {key_of('play')}")
        self.tempo.setText(f"{self._playing.tempo * 100:.0f} %")
        self.grid.setText(f"{_GRIDS[self._editor.grid]}   {key_of('grid')}")
        self.put.setText(_("Add a pose   {key_put}", key_put=key_of("put")))
        pose = self._editor.hand
        longest = _LONGEST if self.width() >= theme.px(_NARROW) else _LONGEST // 2
        words = shown(pose.name)
        words = words if len(words) <= longest else shown(pose.say)
        # Where even the short form is too long its figure stands for it.
        words = f"{words}   " if len(words) <= longest + _OVER else ""
        self.hand.setText(f"{words}{key_of('beat')}")
        self.hand.setIcon(self._thumbs.icon(pose, theme.px(_HAND)))
        self.hand.setAccessibleName(_("Current pose: {name}", name=shown(pose.name)))
        self.show_place()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """In a narrow window the current pose is told by its short form."""
        super().resizeEvent(event)
        self.refresh()

    def show_place(self) -> None:
        """Show the count and the seconds at the cursor."""
        time = self._editor.cursor
        seconds = _("{time}:{time2:05.2f}", time=int(time // 60), time2=time % 60)
        count = ""
        if self._editor.ready:
            beatmap = self._editor.beatmap
            index = beatmap.beat_at(time + 0.012)
            count = str(beatmap.counts[index]) if index is not None else _("free")
        self.place.setText(f"{count}   {seconds}" if count else seconds)
        self.place.setAccessibleName(_("Place in the music: {text}", text=self.place.text()))

    def _button(self, action: QAction, *, main: bool = False) -> QPushButton:
        button = QPushButton()
        button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        button.setAccessibleName(action.text())
        key = printed(action.shortcuts()[0].toString())
        button.setToolTip(f"{action.text()} ({key})")
        if main:
            button.setProperty("role", "main")
        button.clicked.connect(action.trigger)
        return button
