"""What the page's keys, buttons and the clicker do: begin, judge, change the tempo, mark, stop.

A presentation clicker's two buttons are obeyed by what is going on (`key_list.CLICKER_TABLE`). Most
clickers send Page Down and Page Up; other keys of any device can be assigned. The back button held
for a second stops everything (`stopkey`), so that "missed" shows when it is let go.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtWidgets import QAbstractButton

from rehearse.files.user_error import UserError
from rehearse.practice.drill import Drill, moves_drill
from rehearse.practice.scope import marks_scope
from rehearse.routine.rounds import RoundWish
from rehearse.ui.bindings import Bindings
from rehearse.ui.key_list import CLICKER_TABLE, clicker_words
from rehearse.ui.mainkey import in_form
from rehearse.ui.pages.rehearse.drill_panel import DrillPanel
from rehearse.ui.pages.rehearse.prompts import RunQuestion
from rehearse.ui.pages.rehearse.rehearsal_host import RehearsalHost
from rehearse.ui.workspace import Workspace
from rehearse.words import _


class RehearseController(QObject):
    """The actions that go to the rehearsal.

    Signals:
        begun: this `Work` is to be rehearsed now. called: this `RoundWish` is to be called now.
        marked: the first of two marks was set.
    """

    begun = Signal(object)  # a protocol, which is no type for Qt
    called = Signal(RoundWish)
    marked = Signal()

    def __init__(self, workspace: Workspace, host: RehearsalHost, drill_panel: DrillPanel) -> None:
        super().__init__(drill_panel)
        self._workspace, self._host, self._drill_panel = workspace, host, drill_panel
        self._mark: float | None = None
        self._tell = workspace.notice.say
        workspace.leaving.connect(self._forget_mark)
        workspace.stopAsked.connect(self._forget_mark)

    @property
    def has_mark(self) -> bool:
        """Whether the first of two marks is set."""
        return self._mark is not None

    @Slot()
    def main_action(self) -> None:
        """Space: begin what is chosen, pause it, let it go on.

        A box or button of the set-up, a form in front of the page, keeps Space for itself.
        """
        focus = self._drill_panel.window().focusWidget()
        if isinstance(focus, QAbstractButton) and in_form(focus):
            focus.click()
        elif self._host.busy:
            self._host.pause_or_resume()
        else:
            self.begin_chosen()

    @Slot()
    def next_section(self) -> None:
        """Choose the next line; while something plays, go on with it at once."""
        self._step(1)

    @Slot()
    def section_before(self) -> None:
        """Choose the line before; while something plays, go back to it at once."""
        self._step(-1)

    def _step(self, by: int) -> None:
        self._drill_panel.step(by)
        if self._host.busy:
            self.begin_chosen()

    @Slot()
    def begin_chosen(self) -> None:
        """Begin what is chosen in the list and the form."""
        if self._drill_panel.rounds:
            self.called.emit(self._drill_panel.round_form.wish)
            return
        drill_settings = self._drill_panel.form.drill_settings
        if drill_settings.way == "run" and self._drill_panel.line is not None:
            self._drill_panel.list.choose(0)  # a run-through is of the whole
        line = self._drill_panel.line
        if line is None or self._host.missing:
            self._tell(self._host.missing or _("Choose what to rehearse first."))
            return
        work = drill_settings.work(line.scope)
        routine, beatmap = self._workspace.routine, self._workspace.beatmap
        if line.scope.kind == "moves" and isinstance(work, Drill) and routine and beatmap:
            work = moves_drill(routine, beatmap, line.scope.item, work)
        self.begun.emit(work)

    @Slot()
    def clean(self) -> None:
        """The pass was clean."""
        self._host.judge("clean")

    @Slot()
    def missed(self) -> None:
        """The pass was missed."""
        self._host.judge("missed")

    @Slot()
    def slower(self) -> None:
        """Five percent slower."""
        self._change_tempo(-5)

    @Slot()
    def faster(self) -> None:
        """Five percent faster."""
        self._change_tempo(5)

    def _change_tempo(self, by: int) -> None:
        if self._drill_panel.rounds:
            self._change_hold(by)
            return
        form, plan = self._drill_panel.form, self._host.view.plan
        if not self._host.busy or plan is None:
            form.set_drill_settings(form.drill_settings.stepped(by))
            return
        percent = min(105, max(40, plan.percent + by))
        self._host.set_percent(percent)
        way = "run" if plan.kind == "run" else "loop"
        if not plan.line and form.drill_settings.way == way:  # what runs was begun from the form
            form.set_drill_settings(replace(form.drill_settings, percent=percent))

    def _change_hold(self, by: int) -> None:
        """A second more or less, between two rounds."""
        if self._host.busy:
            self._tell(_("Holds are changed between two rounds."))
        else:
            self._drill_panel.round_form.step_hold(1 if by > 0 else -1)

    @Slot()
    def mark_here(self) -> None:
        """The first mark is remembered, the second drills what lies between."""
        heard, beatmap = self._host.view.heard, self._workspace.beatmap
        if not self._host.busy or beatmap is None or self._host.rounds.run is not None:
            self._tell(_("Marks are set while the music plays."))
            return
        if self._mark is None:
            self._mark = heard
            self.marked.emit()
            return
        first, self._mark = self._mark, None
        try:
            scope = marks_scope(beatmap, first, heard)
        except UserError as error:
            self._tell(error.sentence)
            return
        way_settings = self._drill_panel.form.way_settings
        self.begun.emit(
            way_settings.of("steps" if way_settings.way == "steps" else "loop").work(scope)
        )

    @Slot()
    def _forget_mark(self) -> None:
        """Another routine is opened, where this place means nothing, or all is stopped."""
        self._mark = None


class Clicker(QObject):
    """Turns forward and back into actions.

    Signals:
        pointed: the question points at another pose.
    """

    pointed = Signal()

    def __init__(
        self,
        keys: Bindings,
        host: RehearsalHost,
        controller: RehearseController,
        question: RunQuestion,
    ) -> None:
        super().__init__(controller)
        self._keys, self._host = keys, host
        self._controller, self._question = controller, question
        self._is_missed = False
        self._acts: dict[str, Callable[[], object]] = {
            "begin": controller.main_action,
            "back": controller.section_before,
            "clean": controller.clean,
            "missed": self._wait_for_release,
            "next": controller.next_section,
            "stop": host.stop,
        }

    @property
    def _state(self) -> str:
        """A state of the table."""
        if not self._host.busy:
            return "nothing plays"
        return "a judged drill plays" if self._host.judged else "anything else plays"

    def words(self) -> str:
        """What the two buttons do now, for the foot of the page."""
        on, back = self._keys.label("clicker_on"), self._keys.label("clicker_back")
        forward, backward = clicker_words(self._state)
        return _(
            "Clicker: {on} {forward}, {back} {backward}, {back} held stops everything.",
            on=on,
            forward=forward,
            back=back,
            backward=backward,
        )

    @Slot()
    def on(self) -> None:
        """The forward button."""
        if self._question.asking:
            self._question.confirm()
        elif self._host.paused:
            self._acts["begin"]()
        else:
            self._acts[CLICKER_TABLE[self._state][0]]()

    @Slot()
    def back(self) -> None:
        """The back button."""
        if self._question.asking:
            self._question.point_back()
            self.pointed.emit()
        else:
            self._acts[CLICKER_TABLE[self._state][1]]()

    def _wait_for_release(self) -> None:
        """Whether it is a press or held shows when it is let go."""
        self._is_missed = True

    def released(self) -> None:
        """A button was let go: a short press says missed."""
        if self._is_missed:
            self._is_missed = False
            self._controller.missed()

    @Slot()
    def forget(self) -> None:
        """It was held: everything has stopped, and nothing is said to be missed."""
        self._is_missed = False
