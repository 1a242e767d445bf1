"""What fills the window in place of a page – forms, lists, handouts, help – and what opens it.

A flow's module is imported when it is first asked for.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QStackedWidget, QWidget

from rehearse.files.user_error import UserError
from rehearse.ui.actions import PAGES as PAGE_WORDS
from rehearse.ui.actions import START
from rehearse.ui.flows.opening import downloads_folder
from rehearse.ui.widgets import mirror_margins
from rehearse.ui.workspace import Workspace
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.ui.empty import EmptyState
    from rehearse.ui.flows.flow import Flow
    from rehearse.ui.walk import Walk
    from rehearse.ui.window_header import WindowHeader

MUSIC, ROUTINE, REHEARSE = 0, 1, 2


class FlowWindow(QWidget):
    """Shows one flow at a time over the pages, and opens each of them."""

    walk: Walk
    _workspace: Workspace
    _stack: QStackedWidget
    _empty: EmptyState
    _head: WindowHeader

    def __init__(self) -> None:
        super().__init__()
        self._flow: Flow | None = None
        self._help: Flow | None = None
        self._behind: QWidget | None = None

    @property
    def page(self) -> QWidget | None:
        """The page or flow shown; None in the empty state."""
        widget = self._stack.currentWidget()
        return None if widget is self._empty else widget

    def show_page(self, index: int) -> None:
        """Show page `index` (0–3, in the order of the job)."""
        raise NotImplementedError

    def _show_made(self) -> None:
        raise NotImplementedError

    def _show_full_screen(self, on: bool) -> None:
        raise NotImplementedError

    def show_flow(self, flow: Flow) -> None:
        """Fill the window with `flow` until it is done or left."""
        self._drop_help()
        self._drop_flow()
        self._workspace.wish.drop()
        self._flow = flow
        mirror_margins(flow)
        flow.closed.connect(self._end_flow)
        flow.fullScreenWanted.connect(self._show_full_screen)
        self._stack.addWidget(flow)
        self._stack.setCurrentWidget(flow)
        flow.setFocus()

    @Slot()
    def _end_flow(self) -> None:
        if self._flow is None:
            return
        self._drop_flow()
        self._show_what_is_there()

    def _show_what_is_there(self) -> None:
        index = self._head.marked
        if self._workspace.routine is None:
            self._stack.setCurrentWidget(self._empty)
            self._empty.setFocus()
        else:
            self.show_page(index if index >= 0 else ROUTINE)

    def _drop_flow(self) -> None:
        flow, self._flow = self._flow, None
        if flow is not None:
            if flow is self._behind:  # it ended by itself while its help was read
                self._behind = None
            flow.leave()
            self._stack.removeWidget(flow)
            flow.deleteLater()

    def _show_help(self, flow: Flow) -> None:
        """Show help over whatever is there, which is as it was when the help is closed."""
        self._drop_help()
        mirror_margins(flow)
        self._help, self._behind = flow, self._stack.currentWidget()
        flow.closed.connect(self._drop_help)
        self._stack.addWidget(flow)
        self._stack.setCurrentWidget(flow)
        flow.setFocus()

    @Slot()
    def _drop_help(self) -> None:
        flow, self._help = self._help, None
        behind, self._behind = self._behind, None
        if flow is None:
            return
        if behind is not None and self._stack.indexOf(behind) >= 0:
            self._stack.setCurrentWidget(behind)
            behind.setFocus()
        elif self._stack.currentWidget() is flow:
            self._show_what_is_there()
        self._stack.removeWidget(flow)
        flow.deleteLater()

    @Slot()
    def show_help(self) -> None:
        """Help for the page or form that is shown."""
        from rehearse.ui.flows.help_page import HelpPage
        from rehearse.ui.help_texts import FLOWS, PAGES

        shown = self._stack.currentWidget()
        if isinstance(shown, HelpPage):
            self._drop_help()
            return
        topic = FLOWS.get(type(shown).__name__) or PAGES[self._place_word]
        self._show_help(HelpPage(self._workspace, topic))

    @property
    def _place_word(self) -> str:
        """The page that is shown, or behind what is shown, as the table of actions calls it."""
        there = self._workspace.routine is not None and self._head.marked >= 0
        return PAGE_WORDS[self._head.marked] if there else START

    @Slot()
    def show_about(self) -> None:
        """The version, and what is bundled under which licence."""
        from rehearse.ui.flows.about import About

        self._show_help(About(self._workspace))

    @Slot()
    def show_keys(self) -> None:
        """Show every key of the page."""
        from rehearse.ui.flows.key_help import KeyHelp

        self._show_help(KeyHelp(self._workspace, self._place_word))

    @Slot()
    def choose_folder(self) -> None:
        """Ask for a routine folder and open it."""
        from rehearse.ui import file_dialog
        from rehearse.ui.flows.opening import place_of

        start = str(
            self._workspace.folder.parent if self._workspace.folder else place_of(self._workspace)
        )
        if folder := file_dialog.open_folder(self, _("Open a routine folder"), start):
            self._workspace.open(Path(folder))

    @Slot()
    def choose_zip(self) -> None:
        """Ask for a zipped routine folder and open it."""
        from rehearse.ui import file_dialog
        from rehearse.ui.flows.opening import open_routine

        start = downloads_folder()
        if name := file_dialog.open_file(self, _("Open a zipped routine"), start, _("Zip (*.zip)")):
            open_routine(self._workspace, Path(name))

    @Slot()
    def choose_song(self) -> None:
        """Ask for a song and begin a new routine with it."""
        from rehearse.ui.flows.new_routine import ask_song

        if song := ask_song(self, self._workspace.settings):
            self.new_routine(song)

    @Slot()
    def new_routine(self, song: Path | None = None) -> None:
        """Begin a new routine, with this song if it is chosen already.

        The first one is made as soon as its counts are found; over an open routine it waits.
        """
        from rehearse.ui.flows.new_routine import NewRoutine

        first = self._workspace.routine is None or self.walk.expects_song
        flow = NewRoutine(self._workspace, goes_on=first)
        flow.made.connect(self._show_made)
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
    def walk_or_not(self) -> None:
        """Open the demo and walk through it, or leave the walk."""
        from rehearse.routine.demo import demo_folder
        from rehearse.ui.flows.opening import place_of

        if self.walk.step is not None:
            self.walk.leave()
            return
        try:
            demo = demo_folder(place_of(self._workspace))
        except UserError as error:
            self._workspace.errorRaised.emit(error.sentence)
            return
        if demo == self._workspace.folder or self._workspace.open(demo):
            self.begin_walk()

    @Slot()
    def begin_walk(self) -> None:
        """Walk through the routine that is open."""
        self.show_page(REHEARSE)
        self.walk.begin()
