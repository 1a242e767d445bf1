"""A suggestion seen and heard in its place before it is applied; the routine stays as it is."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Slot
from PySide6.QtWidgets import QWidget

from rehearse.files.user_error import UserError
from rehearse.routine.suggest import Suggestion, accept
from rehearse.ui.pages.routine.choreography import Choreography
from rehearse.ui.pages.routine.notes import Note
from rehearse.ui.pages.routine.pose_timings import PoseTimings
from rehearse.ui.pages.routine.routine_music import RoutineMusic
from rehearse.ui.workspace import Workspace

#: Seconds of music before the transition and after the hold.
LEAD, AFTER = 2.0, 1.0
#: Stands for the pose that is not in the routine.
_TRIED = "tried"


class Trial(QObject):
    """Lane and figure show the routine with one suggestion in it while the music plays there.

    It is over when the music stops, something is edited or clicked, or another is marked.

    Args:
        views: what shows the poses, painted again; a press on one of them ends the trial first.
    """

    def __init__(
        self,
        workspace: Workspace,
        choreography: Choreography,
        timings: PoseTimings,
        playing: RoutineMusic,
        views: tuple[QWidget, ...],
    ) -> None:
        super().__init__()
        self._workspace, self._choreography = workspace, choreography
        self._timings, self._playing, self._views = timings, playing, views
        self._until, self._heard = 0.0, False
        playing.ticked.connect(self._follow)
        playing.changed.connect(self._follow)
        for view in views:
            view.installEventFilter(self)

    @property
    def on(self) -> bool:
        """Whether a suggestion is being tried."""
        return self._timings.previews

    @Slot(Note)
    def begin(self, note: Note) -> None:
        """Show and play what a note suggests."""
        suggestion, do = note.data, self._choreography
        if not isinstance(suggestion, Suggestion) or do.say_if_missing():
            return
        self._playing.stop()
        pose_id = suggestion.pose_id or _TRIED
        try:
            routine = accept(do.routine, do.beatmap, suggestion, pose_id=pose_id)
        except UserError as error:
            self._workspace.notice.say(error.sentence)
            return
        self._timings.preview(routine)
        shown = self._timings.find(pose_id)
        start = shown.start if shown else suggestion.start
        self._until = max(suggestion.end, shown.end if shown else 0.0) + AFTER
        self._heard = False
        do.editor.select("")
        self._playing.go(max(self._playing.bounds()[0], start - LEAD))
        self._show()
        self._playing.begin()

    @Slot()
    def end(self) -> None:
        """Show the routine as it is."""
        if self.on:
            self._timings.preview(None)
            self._playing.stop()
            self._show()

    @Slot()
    def _follow(self) -> None:
        if not self.on:
            return
        self._heard = self._heard or self._playing.on
        if self._heard and (not self._playing.on or self._playing.now() > self._until):
            self.end()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """A click is meant for the routine as it is."""
        if event.type() in (QEvent.Type.MouseButtonPress, QEvent.Type.MouseButtonDblClick):
            self.end()
        return super().eventFilter(watched, event)

    def _show(self) -> None:
        for view in self._views:
            view.update()
