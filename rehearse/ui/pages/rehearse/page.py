"""The Rehearse page: the list and its numbers on the left, the stage on the right.

One main action, under Space: start, pause, resume. With F the stage takes the whole screen and
everything else goes on working by its key. This module only joins the parts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer, Slot
from PySide6.QtGui import QHideEvent, QKeyEvent

from rehearse.files.user_error import UserError
from rehearse.ui.actions import LEAVE_FRONT
from rehearse.ui.bindings import Bindings
from rehearse.ui.pages.rehearse.page_layout import SEEN, RehearseLayout, Screen
from rehearse.ui.workspace import Workspace
from rehearse.words import _, shown

if TYPE_CHECKING:
    from rehearse.practice.passplan import Work
    from rehearse.routine.rounds import RoundWish
    from rehearse.session.session_view import SessionView


class RehearsePage(RehearseLayout):
    """Chooses what to rehearse and shows it."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._screen = Screen(workspace, self.stage)
        workspace.documentChanged.connect(self._refresh)
        workspace.trackChanged.connect(self._refresh)
        if workspace.is_started:
            self._finish_start()
        else:
            workspace.startFinished.connect(self._finish_start)
            self._refresh()

    @Slot()
    def _finish_start(self) -> None:
        if not self.has_controls:
            self.build_controls()
            self._connect()
            self._connect_keys()
            self._refresh()

    def _connect(self) -> None:
        self._workspace.settings.changed.connect(self._setting_changed)
        self._workspace.wish.changed.connect(self.show_missing)
        self.host.moved.connect(self._moved)
        self.host.logged.connect(self.standings.refresh)
        self.standings.changed.connect(self._refresh_log)
        self.stage.looked.connect(self._looked)
        self.stage.pointed.connect(self._pointed)
        self.footer.question.lostAt.connect(self._answered)
        self.footer.question.clean.connect(self._answered_clean)
        self.drill_panel.changed.connect(self._show_choice)
        self.drill_panel.changed.connect(self._round_changed)
        self.drill_panel.chosen.connect(self._chosen)
        self.drill_panel.turned.connect(self._turned)
        self.drill_panel.list.activated.connect(self.controller.begin_chosen)
        self.keys.changed.connect(self._notice)
        self.controller.begun.connect(self.begin)
        self.controller.called.connect(self.begin_round)
        self.host.rounds.began.connect(self._round_began)
        self.controller.marked.connect(self._notice)
        self.clicker.pointed.connect(self._show_question)
        self.stage.looked.connect(self.camera.watch)
        self.camera.changed.connect(self.show_camera)
        self.mirror.changed.connect(self.show_camera)
        self.camera.prepare()
        self.show_camera()

    def _connect_keys(self) -> None:
        slots: dict[str, Callable[[], object]] = {
            "begin": self.controller.main_action,
            "stop": self.host.stop,
            "clean": self.controller.clean,
            "missed": self.controller.missed,
            "next": partial(self._step, 1),
            "back": partial(self._step, -1),
            "slower": self.controller.slower,
            "faster": self.controller.faster,
            "mark": self.controller.mark_here,
            "silent": self.host.go_on_silently,
            "full": self.toggle_full_screen,
            "setup": self.toggle_setup,
            "rounds": self.toggle_rounds,
            "camera": self.camera.toggle,
            "late_mirror": self.mirror.toggle,
            "mirror_later": self.mirror.step,
            "clicker_on": self.clicker.on,
            "clicker_back": self.clicker.back,
        }
        self.keys.connect_slots(slots)
        Bindings(self, (LEAVE_FRONT,), {LEAVE_FRONT.name: self._escape})

    def _step(self, by: int) -> None:
        """The next section, or the one before; while hits are looked at, another one of those."""
        if self.look.on:
            self.look.step(by)
        elif by > 0:
            self.controller.next_section()
        else:
            self.controller.section_before()

    # -- what it does ------------------------------------------------------------------------

    @Slot(object)
    def begin(self, work: Work | RoundWish) -> None:
        """Rehearse `work` now, on the whole screen where it had that before a page came between."""
        from rehearse.routine.rounds import RoundWish

        if isinstance(work, RoundWish):
            self.drill_panel.offer_rounds()
            self.drill_panel.round_form.set_wish(work)
            self.begin_round(work)
            return
        self.drill_panel.offer_rounds(False)
        self.stage.set_sheet(self._workspace.sheet)
        self.close_setup()
        if self._full_screen_again and self.isVisible():
            self.set_full_screen(True)
        self.host.begin(work)
        self.stage.run()

    @Slot(object)  # a RoundWish, whose room is loaded after the first picture
    def begin_round(self, wish: RoundWish) -> None:
        """Call a round now."""
        self.close_setup()
        if self._full_screen_again and self.isVisible():
            self.set_full_screen(True)
        self.host.begin_round(wish, background=self.drill_panel.round_form.background)

    @Slot()
    def _round_began(self) -> None:
        run = self.host.rounds.run
        if run is not None:
            self.stage.set_sheet(run.timeline.sheet)
            self.stage.run()

    @Slot()
    def toggle_rounds(self) -> None:
        """The comparison rounds, or the routine again; what is under way goes on."""
        if not self.host.busy:
            self.drill_panel.toggle_rounds()

    @Slot()
    def _turned(self) -> None:
        """Rounds instead of the routine, or the other way round."""
        if not self.host.busy:
            self.host.rest()
            self._show_sheet()
            self._show_choice()
        self._tell_round()
        self.show_missing()

    @Slot()
    def _round_changed(self) -> None:
        if self.drill_panel.rounds and not self.host.busy:
            self._show_sheet()
            self._tell_round()

    def _tell_round(self) -> None:
        """Caution and sources of the round that is chosen."""
        form = self.drill_panel.round_form
        self.footer.caution.round_hold = form.wish.most_held if self.drill_panel.rounds else None
        self.footer.refresh()
        self._notice()

    def _show_sheet(self) -> None:
        """The routine's cue sheet, or the round that is chosen, from its first call."""
        if self.has_controls and self.drill_panel.rounds and self._workspace.routine is not None:
            preview = self.host.rounds.preview(self.drill_panel.round_form.wish)
            self.stage.set_sheet(preview.sheet if preview else None)
        else:
            self.stage.set_sheet(self._workspace.sheet)

    def say_stopped(self) -> bool:
        """Say at the foot what helps after the emergency stop; False where that is not there."""
        from rehearse.practice.cautions import stopped

        if self.has_controls:
            self.footer.say(shown(stopped().text))
        return self.has_controls

    @Slot()
    def main_action(self) -> None:
        """Space: start, pause, resume."""
        if self.has_controls:
            self.controller.main_action()

    def leave(self) -> None:
        """The window closes: ask the clock no more."""
        self.stage.rest()
        self.host.stop()
        if self.has_controls:
            self.standings.forget()
            self.awake.set_wanted(False)
            self.camera.leave()

    @Slot()
    def _escape(self) -> None:
        if self.is_full_screen:
            self.set_full_screen(False)
        elif self.is_set_up:
            self.close_setup()
        elif self.look.on:
            self.camera.end_look()
        elif self.mirror.view.on:
            self.mirror.show(False)
        else:
            self._workspace.errorRaised.emit("")
            self.setFocus()

    # -- what it shows -----------------------------------------------------------------------

    @Slot()
    def _refresh(self) -> None:
        """Another document or another track."""
        if self.has_controls:
            self.standings.refresh()
            self.drill_panel.refresh()
            if self._workspace.routine is not None and not self._workspace.routine.track:
                self.drill_panel.offer_rounds()  # there is nothing else
        if self.host.rounds.run is None or not self.host.busy:
            self._show_sheet()
        self.show_missing()
        self._refresh_base()
        if self.has_controls:
            self.footer.refresh()

    @Slot()
    def _refresh_log(self) -> None:
        self.drill_panel.refresh()
        self._refresh_base()

    def _refresh_base(self) -> None:
        drilled = self.standings.drilled if self.has_controls else {}
        self.stage.set_base(self._screen.options(self.stage.base, drilled))
        if self.has_controls:
            self._show_choice()

    @Slot(str)
    def _setting_changed(self, name: str) -> None:
        if name.startswith("say_") or name == "voice":
            self.host.forget_speech()
        elif name in SEEN:
            self._refresh_base()

    @Slot()
    def _show_choice(self) -> None:
        if not self.host.busy and self.drill_panel.rounds:
            wish = self.drill_panel.round_form.wish
            hold = _("{hold:g}", hold=wish.hold) + (
                _("–{longest:g}", longest=wish.longest) if wish.longest > wish.hold else ""
            )
            self.stage.set_base(replace(self.stage.base, cueing="all", is_round=True))
            self.footer.transport.tempo.setText(f"{hold} s")
        elif not self.host.busy:
            self.stage.set_base(replace(self.stage.base, is_round=False))
            drill_settings = self.drill_panel.form.drill_settings
            percent = (
                drill_settings.first if drill_settings.way == "steps" else drill_settings.percent
            )
            self.stage.set_base(replace(self.stage.base, cueing="all", tempo=percent / 100))
            self.footer.transport.tempo.setText(f"{percent} %")

    @Slot()
    def _chosen(self) -> None:
        line = self.drill_panel.line
        if line is not None and not self.host.busy and not self.drill_panel.rounds:
            self.stage.set_start(line.scope.start)

    @Slot(object)
    def _looked(self, view: SessionView) -> None:
        self.drill_panel.show_view(view, busy=self.host.busy)
        if self.footer.show_view(view, busy=self.host.busy):
            self.setFocus()

    @Slot()
    def _moved(self) -> None:
        busy = self.host.busy
        playing = busy and self.host.view.state != "paused"
        self.awake.set_wanted(playing)
        if playing:
            self.camera.end_look()
            self.stage.run()
        elif not busy:
            QTimer.singleShot(0, self, self._come_to_rest)
        self._notice()

    def _come_to_rest(self) -> None:
        if not self.host.busy:
            self.stage.rest()
            self.stage.refresh()
            self.camera.rest()
            if not self.drill_panel.rounds:
                self._show_choice()
            elif not self.host.view.unwell and (words := self.host.rounds.words()):
                self.footer.say(words)

    @Slot()
    def _show_question(self) -> None:
        """Show on the stage what is asked, with the pose pointed at."""
        question = self.footer.question
        at = question.pointed
        words = question.words if at is None else _("Lost at {at}?", at=at + 1)
        self.stage.set_base(replace(self.stage.base, question=words, pointed=at))

    @Slot(float)
    def _pointed(self, time: float) -> None:
        if self.footer.question.asking:
            self._answered(time)

    @Slot()
    def _answered_clean(self) -> None:
        self._answered(None)

    @Slot(float)
    def _answered(self, at: float | None) -> None:
        self.host.broke(at)
        self.stage.set_base(replace(self.stage.base, question="", pointed=None))
        self.stage.refresh()

    @Slot()
    def _notice(self) -> None:
        words = self.clicker.words()
        if self.host.was_left:
            key = self.keys.label("begin")
            words = _(
                "Paused when you left the stage: {key} resumes, nothing was counted meanwhile.",
                key=key,
            )
        if self.controller.has_mark:
            words = _(
                "First mark set: press {key_mark} again to drill from there.",
                key_mark=self.keys.label("mark"),
            )
        if self.drill_panel.rounds and not self.host.busy:
            words = self._sources()
        self.footer.notice.setText(words)

    def _sources(self) -> str:
        """Where order and words of the chosen round come from, or why there is none."""
        try:
            return " ".join(self.host.rounds.make(self.drill_panel.round_form.wish).notes)
        except UserError as error:
            return error.sentence

    def hideEvent(self, event: QHideEvent) -> None:
        """Another page comes up: nothing goes on unseen, and the whole screen is given back."""
        super().hideEvent(event)
        self.host.leave_view()
        if self.has_controls:
            self.mirror.show(False)
        if self.is_full_screen and self.window().isVisible():
            self.set_full_screen(False)
            self._full_screen_again = True

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        """The clicker's button is let go."""
        if self.has_controls and not event.isAutoRepeat():
            self.clicker.released()
        super().keyReleaseEvent(event)
