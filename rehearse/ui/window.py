"""The window: four pages under the keys 1–4, the line of work, the line of faults.

A page's module is imported when the page is first shown, so that the window is painted before
anything is loaded that only another page needs.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, Qt, QTimer, Signal, Slot
from PySide6.QtGui import (
    QCloseEvent,
    QDragEnterEvent,
    QDropEvent,
    QKeyEvent,
)
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QFileDialog,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from rehearse.ui.actions import KEYS, MENU, WINDOW, When
from rehearse.ui.bindings import Bindings, Slots
from rehearse.ui.empty import EmptyState
from rehearse.ui.flows.opening import (
    downloads_folder,
    is_film,
    is_remarks,
    is_routine,
    open_routine,
    place_of,
)
from rehearse.ui.growth import Growth
from rehearse.ui.mainkey import press_focused, presses, space_is
from rehearse.ui.questions import Answer, Question, QuestionLine
from rehearse.ui.status import BusyLine, ErrorLine
from rehearse.ui.stopkey import StopKey
from rehearse.ui.window_header import WindowHeader
from rehearse.ui.workspace import Workspace

if TYPE_CHECKING:
    from rehearse.ui.flows.flow import Flow

#: The pages in the order of the job: key, word, module and class.
PAGES = (
    ("Music", "rehearse.ui.pages.music.page", "MusicPage"),
    ("Routine", "rehearse.ui.pages.routine.page", "RoutinePage"),
    ("Rehearse", "rehearse.ui.pages.rehearse.page", "RehearsePage"),
    ("Logbook", "rehearse.ui.pages.logbook.page", "LogbookPage"),
)
MUSIC, ROUTINE, REHEARSE = 0, 1, 2
_IN_WINDOW = Qt.ShortcutContext.WindowShortcut


class Window(QWidget):
    """The one window.

    Signals:
        painted: the first picture is on the screen.
    """

    painted = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self._pages: dict[int, QWidget] = {}
        self._flow: Flow | None = None
        self._was_painted = self._leave_unsaved = False
        self.setWindowTitle("Rehearse")
        self.setAcceptDrops(True)
        self.setMinimumSize(960, 600)
        self.error = ErrorLine()
        self.question = QuestionLine(workspace.questions)
        self._busy = BusyLine(workspace)
        self._empty = EmptyState(self._workspace.settings)
        self._empty.newAsked.connect(self.new_routine)
        self._empty.openAsked.connect(self.choose_folder)
        self._empty.zipAsked.connect(self.choose_zip)
        self._empty.roundsAsked.connect(self.new_rounds)
        self._empty.recentAsked.connect(self._workspace.open)
        self._stack = QStackedWidget()
        self._stack.addWidget(self._empty)
        self._bindings = Bindings(self, WINDOW, self._slots(), context=_IN_WINDOW)
        menu = [self._bindings.actions[action.name] for action in MENU]
        self._head = WindowHeader(tuple(word for word, _, _ in PAGES), menu)
        self._head.pageAsked.connect(self.show_page)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        for widget in (self._head, self._stack, self._busy, self.question, self.error):
            column.addWidget(widget, 1 if widget is self._stack else 0)
        self._stop_key = StopKey(self, workspace.settings)
        self._stop_key.pressed.connect(workspace.stop_everything)
        workspace.standing.changed.connect(self.error.show_error)
        self.error.cleared.connect(workspace.standing.forget)
        space_is(self.main_action, self._head, self._busy, self.error)
        application = QApplication.instance()
        assert isinstance(application, QApplication)
        application.focusChanged.connect(self._focus_changed)
        workspace.documentChanged.connect(self._refresh)
        workspace.workAsked.connect(self._rehearse)
        workspace.stopped.connect(self._say_stopped)
        self._place()
        self._growth = Growth(self)
        self._growth.follow()
        self._refresh()

    @property
    def page(self) -> QWidget | None:
        """The page shown; None in the empty state."""
        widget = self._stack.currentWidget()
        return None if widget is self._empty else widget

    @Slot()
    def main_action(self) -> None:
        """Do what Space does on the page that is shown."""
        shown = self._stack.currentWidget()
        if shown is not None and hasattr(shown, "main_action"):
            shown.main_action()

    @Slot(QWidget, QWidget)
    def _focus_changed(self, old: QWidget | None, now: QWidget | None) -> None:
        """The page has it, not a button, when what had it is gone or the window is active anew."""
        if now is None or now.window() is not self:
            return
        if old is None:
            astray = self._head.isAncestorOf(now)
        else:
            gone = old.window() is self and not (old.isVisible() and old.isEnabled())
            astray = gone and isinstance(now, QAbstractButton)
        if astray and self.page is not None:
            self.page.setFocus()

    def show_page(self, index: int) -> None:
        """Show page `index` (0–3, in the order of the job)."""
        if self._workspace.routine is None:
            return
        self._workspace.notice.drop()
        self._workspace.wish.drop()
        self._drop_flow()
        if index not in self._pages:
            try:
                page = self._make_page(*PAGES[index])
            except ModuleNotFoundError as error:
                self.error.show_error(f"This installation is incomplete ({error.name}).")
                return
            self._pages[index] = page
            self._stack.addWidget(page)
        self._growth.follow()
        self._stack.setCurrentWidget(self._pages[index])
        self._head.mark(index)
        self._pages[index].setFocus()

    def show_flow(self, flow: Flow) -> None:
        """Fill the window with `flow` until it is done or left."""
        self._drop_flow()
        self._workspace.wish.drop()
        self._flow = flow
        flow.closed.connect(self._end_flow)
        self._stack.addWidget(flow)
        self._stack.setCurrentWidget(flow)
        flow.setFocus()

    @Slot()
    def _end_flow(self) -> None:
        if self._flow is None:
            return
        self._drop_flow()
        index = self._head.marked
        if self._workspace.routine is None:
            self._stack.setCurrentWidget(self._empty)
            self._empty.setFocus()
        else:
            self.show_page(index if index >= 0 else ROUTINE)

    def _drop_flow(self) -> None:
        flow, self._flow = self._flow, None
        if flow is not None:
            flow.leave()
            self._stack.removeWidget(flow)
            flow.deleteLater()

    def _make_page(self, word: str, module: str, name: str) -> QWidget:
        page: QWidget = getattr(importlib.import_module(module), name)(self._workspace)
        page.setAccessibleName(f"{word} page")
        if hasattr(page, "alone"):
            page.alone.connect(self._show_alone)
        if not hasattr(page, "bindings") or KEYS.name not in page.bindings.actions:
            Bindings(page, (KEYS,), {KEYS.name: self.show_keys})
        if hasattr(page, "cutAsked"):
            page.cutAsked.connect(self.cut_song)
        return page

    @Slot()
    def show_keys(self) -> None:
        """Show every key of the page."""
        from rehearse.ui.flows.key_help import KeyHelp

        index = self._head.marked
        if self._workspace.routine is not None and index >= 0:
            self.show_flow(KeyHelp(self._workspace, PAGES[index][0]))

    @Slot()
    def choose_folder(self) -> None:
        """Ask for a routine folder and open it."""
        start = str(
            self._workspace.folder.parent if self._workspace.folder else place_of(self._workspace)
        )
        if folder := QFileDialog.getExistingDirectory(self, "Open a routine folder", start):
            self._workspace.open(Path(folder))

    @Slot()
    def choose_zip(self) -> None:
        """Ask for a zipped routine folder and open it."""
        ask = QFileDialog.getOpenFileName
        name, _ = ask(self, "Open a zipped routine", downloads_folder(), "Zip (*.zip)")
        if name:
            open_routine(self._workspace, Path(name))

    @Slot()
    def new_routine(self, song: Path | None = None) -> None:
        """Begin a new routine, with this song if it is chosen already."""
        from rehearse.ui.flows.new_routine import NewRoutine

        flow = NewRoutine(self._workspace)
        flow.made.connect(self._show_routine)
        self.show_flow(flow)
        if song is not None:
            flow.take_path(song)

    @Slot()
    def new_rounds(self) -> None:
        """Begin a folder for comparison rounds alone."""
        from rehearse.ui.flows.new_rounds import NewRounds

        flow = NewRounds(self._workspace)
        flow.made.connect(partial(self.show_page, REHEARSE))
        self.show_flow(flow)

    @Slot()
    def recent_routines(self) -> None:
        """Show the routines opened last, with their shows and the days left."""
        from rehearse.ui.flows.start_page import StartPage

        self.show_flow(StartPage(self._workspace))

    @Slot()
    def another_show(self) -> None:
        """Copy the open routine for another show."""
        from rehearse.ui.flows.another_show import AnotherShow

        if self._workspace.routine is not None:
            self.show_flow(AnotherShow(self._workspace))

    @Slot()
    def show_and_rules(self) -> None:
        """Change the show the routine is for, and its rule set."""
        from rehearse.ui.flows.show import ShowAndRules

        if self._workspace.routine is not None:
            self.show_flow(ShowAndRules(self._workspace))

    @contextmanager
    def _still(self) -> Iterator[None]:
        """End what goes on behind a flow before its parts are read, which takes a moment.

        Where the flow cannot be made the page is seen again.
        """
        behind = self._stack.currentWidget()
        if self._workspace.routine is not None and self.page is not None and behind is not None:
            behind.hide()
        try:
            yield
        except BaseException:
            if behind is not None:
                behind.show()
            raise

    @Slot()
    def cut_song(self) -> None:
        """Make the stage version of parts of the song."""
        with self._still():
            from rehearse.ui.flows.cut_song import CutSong

            if self._workspace.routine is not None and self._workspace.beatmap is not None:
                self.show_flow(CutSong(self._workspace))

    @Slot()
    def take_along(self) -> None:
        """Make a handout of the open routine."""
        with self._still():
            from rehearse.ui.handout.handout_flow import HandoutFlow

            if self._workspace.routine is not None:
                self.show_flow(HandoutFlow(self._workspace))

    @Slot()
    def own_voice(self) -> None:
        """Record names and counts that are said instead of the voice."""
        with self._still():
            from rehearse.ui.handout.ownvoice import OwnVoice

            if self._workspace.routine is not None:
                self.show_flow(OwnVoice(self._workspace))

    @Slot()
    def film_of_a_run(self, film: Path | None = None) -> None:
        """Show filmed runs, or read this film."""
        with self._still():
            from rehearse.ui.film.film_flow import FilmFlow

            if self._workspace.routine is not None:
                flow = FilmFlow(self._workspace)
                self.show_flow(flow)
                if film is not None:
                    flow.take_path(film)

    @Slot()
    def show_log(self) -> None:
        """Show the folder with what went wrong inside the program."""
        from rehearse.ui.crash import open_log

        open_log(self._workspace)

    @Slot()
    def _show_routine(self) -> None:
        """Show the Routine page with what the music offers."""
        self.show_page(ROUTINE)
        page = self._pages.get(ROUTINE)
        if page is not None and hasattr(page, "actions_by_name"):
            page.actions_by_name["suggestions"].trigger()

    def _slots(self) -> Slots:
        return {
            **{f"page {k + 1}": partial(self.show_page, k) for k in range(len(PAGES))},
            "undo": self._workspace.undo.undo,
            "redo": self._workspace.undo.redo,
            "quit": self.close,
            "new": self.new_routine,
            "new rounds": self.new_rounds,
            "recent": self.recent_routines,
            "another show": self.another_show,
            "open": self.choose_folder,
            "open zip": self.choose_zip,
            "show": self.show_and_rules,
            "take along": self.take_along,
            "own voice": self.own_voice,
            "film": self.film_of_a_run,
            "log": self.show_log,
        }

    @Slot()
    def _say_stopped(self) -> None:
        """After the emergency stop: what helps whoever needed it."""
        page = self.page
        if page is None or not hasattr(page, "say_stopped") or not page.say_stopped():
            from rehearse.practice.cautions import stopped

            self._workspace.notice.say(stopped().text)

    @Slot()
    def _refresh(self) -> None:
        routine = self._workspace.routine
        self._head.setVisible(routine is not None and not self.isFullScreen())
        for action in WINDOW:
            if action.when is When.ROUTINE:
                self._bindings.allow(action.name, routine is not None)
        if routine is None:
            self._stack.setCurrentWidget(self._empty)
            self._empty.setFocus()
            QTimer.singleShot(0, self._empty, self._empty.show_recent)
            return
        self._head.title.setText(routine.title)
        self.setWindowTitle(f"{routine.title} – Rehearse")
        if self.page is None:
            rehearse = not routine.track or (self._workspace.beatmap and routine.poses)
            self.show_page(REHEARSE if rehearse else 0)

    @Slot(object)
    def _rehearse(self, work: object) -> None:
        self.show_page(REHEARSE)
        page = self._pages.get(REHEARSE)
        if page is not None and hasattr(page, "begin"):
            page.begin(work)

    @Slot(bool)
    def _show_alone(self, alone: bool) -> None:
        """Give the whole screen to the page, or take it back."""
        self._workspace.standing.put_away(alone)
        self._head.setVisible(not alone)
        if alone != self.isFullScreen():
            self.setWindowState(self.windowState() ^ Qt.WindowState.WindowFullScreen)

    def _place(self) -> None:
        if not self.restoreGeometry(self._workspace.settings.get("geometry")):
            self.resize(1280, 720)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """A folder, a zip or a song may be dropped."""
        if any(url.isLocalFile() for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Open what is dropped: a routine, remarks, a film of a run, or a song to begin with."""
        path = Path(event.mimeData().urls()[0].toLocalFile())
        if is_remarks(path):
            self._take_remarks(path)
        elif is_routine(path):
            open_routine(self._workspace, path)
        elif is_film(path) and self._workspace.routine is not None:
            self.film_of_a_run(path)
        else:
            self.new_routine(path)

    def _take_remarks(self, path: Path) -> None:
        self.show_page(ROUTINE)
        page = self._pages.get(ROUTINE)
        if self._workspace.routine is None:
            self._workspace.errorRaised.emit(
                f"{path.name}: open the routine it is on first, then drop it again."
            )
        elif page is not None and hasattr(page, "take_remarks"):
            page.take_remarks(path)

    def event(self, event: QEvent) -> bool:
        """Notice the first picture; Return on a button is the button's."""
        if event.type() == QEvent.Type.ShortcutOverride and presses(self.focusWidget(), event):
            event.accept()
            return True
        handled = super().event(event)
        if hasattr(self, "_growth"):
            self._growth.notice(event)
        if event.type() == QEvent.Type.Paint and not self._was_painted:
            self._was_painted = True
            self.painted.emit()
        return handled

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Return presses the button that has the focus."""
        if not press_focused(self, event):
            super().keyPressEvent(event)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Save first; where that fails ask, and leave when told so."""
        if not self._leave_unsaved and not self._workspace.save():
            self._ask_to_leave()
            event.ignore()
            return
        if not self.isFullScreen():
            self._workspace.settings.put("geometry", self.saveGeometry().data())
        self._drop_flow()
        for page in self._pages.values():
            if hasattr(page, "leave"):
                page.leave()
        super().closeEvent(event)

    def _ask_to_leave(self) -> None:
        kept = (
            "it is kept on this machine and offered at the next start"
            if self._workspace.saving.unsaved
            else "it will be lost"
        )
        sentence = f"The last change is not saved; {kept}. Leave?"
        self._workspace.questions.ask(
            "leaving",
            Question(
                sentence, (Answer("Leave", "L", self.leave), Answer("Stay", "S", self.setFocus))
            ),
            first=True,
        )

    @Slot()
    def leave(self) -> None:
        """Close, whether the last change could be saved or is only kept on this machine."""
        self._leave_unsaved = True
        self._workspace.save()
        self.close()
