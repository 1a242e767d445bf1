"""The window: four pages under the keys 1–4, the line of work, the line of faults.

A page's module is imported when the page is first shown, so that the window is painted before
anything is loaded that only another page needs.
"""

from __future__ import annotations

import importlib
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, cast

from PySide6.QtCore import QEvent, Qt, QTimer, Signal, Slot
from PySide6.QtGui import (
    QCloseEvent,
    QDragEnterEvent,
    QDropEvent,
    QHelpEvent,
    QKeyEvent,
)
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from rehearse.ui.actions import KEYS, MENU, WINDOW, When, key
from rehearse.ui.bindings import Bindings, Slots
from rehearse.ui.empty import EmptyState
from rehearse.ui.flows.opening import is_film, is_remarks, is_routine, open_routine
from rehearse.ui.growth import Growth, Pages
from rehearse.ui.mainkey import press_focused, presses, space_is
from rehearse.ui.questions import Answer, Question, QuestionLine
from rehearse.ui.status import BusyLine, ErrorLine
from rehearse.ui.stopkey import StopKey
from rehearse.ui.walk import Walk, WalkBand
from rehearse.ui.widgets import mirror_margins
from rehearse.ui.window_flows import MUSIC, REHEARSE, ROUTINE, FlowWindow
from rehearse.ui.window_header import WindowHeader
from rehearse.ui.workspace import Workspace
from rehearse.words import _, shown

if TYPE_CHECKING:
    from rehearse.ui.pages.rehearse.page import RehearsePage

#: The pages in the order of the job: key, word, module and class.
PAGES = (
    (_("Music"), "rehearse.ui.pages.music.page", "MusicPage"),
    (_("Routine"), "rehearse.ui.pages.routine.page", "RoutinePage"),
    (_("Rehearse"), "rehearse.ui.pages.rehearse.page", "RehearsePage"),
    (_("Logbook"), "rehearse.ui.pages.logbook.page", "LogbookPage"),
)
_IN_WINDOW = Qt.ShortcutContext.WindowShortcut


class Window(FlowWindow):
    """The one window.

    Signals:
        painted: the first picture is on the screen.
    """

    painted = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self._pages: dict[int, QWidget] = {}
        self._was_painted = self._leave_unsaved = False
        self.setWindowTitle("Rehearse")
        self.setAcceptDrops(True)
        self.setMinimumSize(960, 600)
        self.error = ErrorLine()
        self.question = QuestionLine(workspace.questions)
        self._busy = BusyLine(workspace)
        self._empty = EmptyState(self._workspace.settings)
        self._empty.newAsked.connect(self.choose_song)
        self._empty.openAsked.connect(self.choose_folder)
        self._empty.zipAsked.connect(self.choose_zip)
        self._empty.roundsAsked.connect(self.new_rounds)
        self._empty.recentAsked.connect(self._workspace.open)
        self._empty.walkAsked.connect(self.walk_or_not)
        self._stack = QStackedWidget()
        self._stack.addWidget(self._empty)
        Bindings(self._empty, (KEYS,), {KEYS.name: self.show_keys})
        self._bindings = Bindings(self, WINDOW, self._slots(), context=_IN_WINDOW)
        menu = [self._bindings.actions[action.name] for action in MENU]
        self._head = WindowHeader(tuple(word for word, _unused, _unused in PAGES), menu, self._busy)
        self._head.pageAsked.connect(self.show_page)
        self.walk = Walk(self, workspace)
        self._band = WalkBand(self.walk, workspace)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        pages = Pages(self._stack, workspace.settings)
        for widget in (self._head, self._band, pages, self.question, self.error):
            column.addWidget(widget, 1 if widget is pages else 0)
        self._stop_key = StopKey(self, workspace.settings)
        self._stop_key.pressed.connect(workspace.stop_everything)
        workspace.standing.changed.connect(self.error.show_error)
        self.error.cleared.connect(workspace.standing.forget)
        space_is(self.main_action, self._head, self._band, self.error)
        application = QApplication.instance()
        assert isinstance(application, QApplication)
        application.focusChanged.connect(self._focus_changed)
        workspace.documentChanged.connect(self._refresh)
        workspace.workAsked.connect(self._rehearse)
        workspace.stopped.connect(self._say_stopped)
        mirror_margins(self)
        self._place()
        self._growth = Growth(self, workspace.settings)
        self._growth.follow()
        self._refresh()

    @property
    def rehearse_page(self) -> RehearsePage | None:
        """The Rehearse page, once it was shown."""
        return cast("RehearsePage | None", self._pages.get(REHEARSE))

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
        self._drop_help()
        self._drop_flow()
        if index not in self._pages:
            try:
                page = self._make_page(*PAGES[index])
            except ModuleNotFoundError as error:
                self.error.show_error(
                    _("This installation is incomplete ({name}).", name=error.name)
                )
                return
            self._pages[index] = page
            self._stack.addWidget(page)
        self._growth.follow()
        self._stack.setCurrentWidget(self._pages[index])
        self._head.mark(index)
        self._pages[index].setFocus()

    def _make_page(self, word: str, module: str, name: str) -> QWidget:
        page: QWidget = getattr(importlib.import_module(module), name)(self._workspace)
        page.setAccessibleName(_("{word} page", word=word))
        page.setProperty("page", True)
        if hasattr(page, "fullScreenWanted"):
            page.fullScreenWanted.connect(self._show_full_screen)
        if not hasattr(page, "bindings") or KEYS.name not in page.bindings.actions:
            Bindings(page, (KEYS,), {KEYS.name: self.show_keys})
        if hasattr(page, "cutAsked"):
            page.cutAsked.connect(self.cut_song)
        if hasattr(page, "counted"):
            page.counted.connect(self._go_on_from_taps)
        mirror_margins(page)
        return page

    def _size_text(self, steps: int) -> None:
        size = self._growth.wish(steps)
        self._workspace.notice.say(_("Text at {size:.0f} % of its first size.", size=size * 100))

    @Slot()
    def show_log(self) -> None:
        """Show the folder with what went wrong inside the program."""
        from rehearse.ui.crash import open_log

        open_log(self._workspace)

    @Slot()
    def _show_made(self) -> None:
        """A new routine is open: its poses come next, or its counts where none were found."""
        beatmap = self._workspace.beatmap
        if beatmap is not None and not beatmap.has_counts:
            self.show_page(MUSIC)
        else:
            self._show_routine()

    @Slot()
    def _go_on_from_taps(self) -> None:
        """The song has counts now, and no pose yet."""
        self._show_routine()
        self._workspace.notice.say(
            _(
                "Counted as tapped. {undo} takes it back, {music} shows the counts.",
                undo=key("undo"),
                music=key("page 1"),
            )
        )

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
            "new": self.choose_song,
            "new rounds": self.new_rounds,
            "recent": self.recent_routines,
            "another show": self.another_show,
            "open": self.choose_folder,
            "open zip": self.choose_zip,
            "show": self.show_and_rules,
            "take along": self.take_along,
            "own voice": self.own_voice,
            "film": self.film_of_a_run,
            "walk": self.walk_or_not,
            "help": self.show_help,
            "about": self.show_about,
            "log": self.show_log,
            "larger": partial(self._size_text, 1),
            "smaller": partial(self._size_text, -1),
            "first size": partial(self._size_text, 0),
        }

    @Slot()
    def _say_stopped(self) -> None:
        """After the emergency stop: what helps whoever needed it."""
        page = self.page
        if page is None or not hasattr(page, "say_stopped") or not page.say_stopped():
            from rehearse.practice.cautions import stopped

            self._workspace.notice.say(shown(stopped().text))

    def _show_recent(self) -> None:
        if self._workspace.routine is None:  # a routine may have been opened meanwhile
            self._empty.show_recent()

    @Slot()
    def _refresh(self) -> None:
        routine = self._workspace.routine
        self._head.setVisible(not self.isFullScreen())
        self._head.offer_pages(routine is not None)
        for action in WINDOW:
            if action.when is When.ROUTINE:
                self._bindings.allow(action.name, routine is not None)
        if self._behind is self._empty and routine is not None:
            self._drop_help()
        if routine is None:
            self._head.title.setText("Rehearse")
            self._stack.setCurrentWidget(self._empty)
            self._empty.setFocus()
            QTimer.singleShot(0, self, self._show_recent)
            return
        self._head.title.setText(routine.title)
        self.setWindowTitle(f"{routine.title} – Rehearse")
        if self.page is None:
            rehearse = not routine.track or (self._workspace.beatmap and routine.poses)
            self.show_page(REHEARSE if rehearse else MUSIC)

    @Slot(object)
    def _rehearse(self, work: object) -> None:
        self.show_page(REHEARSE)
        page = self._pages.get(REHEARSE)
        if page is not None and hasattr(page, "begin"):
            page.begin(work)

    @Slot(bool)
    def _show_full_screen(self, on: bool) -> None:
        """Give the whole screen to the page, or take it back."""
        self._workspace.standing.put_away(on)
        self._head.setVisible(not on)
        self._band.set_full_screen(on)
        if on != self.isFullScreen():
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
        elif is_film(path) and self._workspace.routine is not None and not self.walk.expects_song:
            self.film_of_a_run(path)
        else:
            self.new_routine(path)

    def _take_remarks(self, path: Path) -> None:
        self.show_page(ROUTINE)
        page = self._pages.get(ROUTINE)
        if self._workspace.routine is None:
            self._workspace.errorRaised.emit(
                _("{name}: open the routine it is on first, then drop it again.", name=path.name)
            )
        elif page is not None and hasattr(page, "take_remarks"):
            page.take_remarks(path)

    def event(self, event: QEvent) -> bool:
        """Notice the first picture; Return on a button is the button's."""
        if event.type() == QEvent.Type.ShortcutOverride and presses(self.focusWidget(), event):
            event.accept()
            return True
        if isinstance(event, QHelpEvent) and event.type() == QEvent.Type.ToolTip:
            from rehearse.ui.tips import show_tip

            return show_tip(self, event.globalPos())  # of a control that has none of its own
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
            _("it is kept on this machine and offered at the next start")
            if self._workspace.saving.unsaved
            else _("it will be lost")
        )
        sentence = _("The last change is not saved; {kept}. Leave?", kept=kept)
        self._workspace.questions.ask(
            "leaving",
            Question(
                sentence,
                (Answer(_("Leave"), "L", self.leave), Answer(_("Stay"), "S", self.setFocus)),
            ),
            first=True,
        )

    @Slot()
    def leave(self) -> None:
        """Close, whether the last change could be saved or is only kept on this machine."""
        self._leave_unsaved = True
        self._workspace.save()
        self.close()
