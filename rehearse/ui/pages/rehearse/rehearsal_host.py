"""Between workspace and rehearsal: the score follows the document, the log follows the passes.

The rehearsal itself knows neither Qt nor where its music comes from. The player, and with it the
sound device, is opened when something is first begun.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from rehearse.files.user_error import UserError
from rehearse.ui.empty import NO_POSE, missing
from rehearse.ui.pages.rehearse.round_host import RoundHost
from rehearse.ui.pages.rehearse.speech_renderer import SpeechRenderer, speech_choice
from rehearse.ui.status import SOUND
from rehearse.ui.workspace import Workspace
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.practice.passes import Verdict
    from rehearse.practice.passplan import Result, Work
    from rehearse.routine.rounds import RoundWish
    from rehearse.session.rehearsal import Rehearsal
    from rehearse.session.round_run import RoundRun
    from rehearse.session.session_view import SessionView


#: Milliseconds of quiet after which the voice is prepared.
_QUIET = 200


class RehearsalHost(QObject):
    """Begins and steers the rehearsal of the open routine.

    Signals:
        moved: something began, paused, went on or ended. logged: a pass was written.
    """

    moved = Signal()
    logged = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self._rehearsal: Rehearsal | None = None
        self._stale = True
        self._last: SessionView | None = None
        self._voice = SpeechRenderer(workspace)
        self._voice.ready.connect(self._say_more)
        self.rounds = RoundHost(workspace, self._voice)
        self.rounds.began.connect(self._round_began)
        # One look behind the edits and the reading of the song.
        self._preparing = QTimer(self, singleShot=True, interval=_QUIET)
        self._preparing.timeout.connect(self._voice.prepare)
        if workspace.is_started:
            self._preparing.start()
        else:
            workspace.startFinished.connect(self._preparing.start)
        self.judged = self._is_silent_for_now = self.was_left = False
        workspace.leaving.connect(self.stop)
        workspace.musicAsked.connect(self._give_way)
        workspace.stopAsked.connect(self.stop_unwell)
        workspace.documentChanged.connect(self.rounds.forget)
        workspace.documentChanged.connect(self._forget)
        workspace.trackChanged.connect(self._forget)

    @property
    def view(self) -> SessionView:
        """What was going on at the last look."""
        from rehearse.session.session_view import SessionView

        if self._last is None:
            self._last = SessionView()
        return self._last

    @property
    def _going(self) -> Rehearsal | RoundRun | None:
        """The round, or what is rehearsed of the routine, whichever was begun last."""
        return self.rounds.run or self._rehearsal

    @property
    def busy(self) -> bool:
        """Whether something is under way; paused counts."""
        return self._going is not None and self._going.busy

    @property
    def paused(self) -> bool:
        """Whether it waits to go on."""
        return self._going is not None and self._going.paused

    @property
    def closes(self) -> bool:
        """Whether the pass in progress is a run-through, or may be the last of its drill."""
        return self._rehearsal is not None and self.rounds.run is None and self._rehearsal.closes

    @property
    def last(self) -> Result | None:
        """The pass of the routine that ended last."""
        return self._rehearsal.last if self._rehearsal is not None else None

    @property
    def waits(self) -> bool:
        """Whether the next pass waits until something was looked at."""
        return self._rehearsal is not None and self._rehearsal.waits and self.busy

    def wait_after(self, on: bool = True) -> None:
        """What follows the pass in progress waits until something was looked at, or no longer."""
        if self._rehearsal is not None:
            self._rehearsal.wait_after(on)

    @property
    def missing(self) -> str:
        """What must be there before anything can be rehearsed, as one sentence; empty: nothing."""
        if said := missing(self._workspace):
            return said
        return "" if self._workspace.sheet and self._workspace.sheet.cues else NO_POSE

    def look(self) -> SessionView:
        """What is going on now; called before each frame."""
        if self._going is None:
            return self.view
        before, self._last = self.view, self._going.tick()
        self._voice.form_wanted()
        if before.state != self._last.state or before.plan != self._last.plan:
            if before.state == "music" and _is_over(before, self._last):
                self.logged.emit()
            self.moved.emit()
        return self._last

    def begin(self, work: Work) -> None:
        """Rehearse `work`; what was under way is broken off first.

        While the song is still being read it waits for that.
        """
        if self.missing:
            self._workspace.notice.say(self.missing)
            return
        if self._workspace.track is None:
            self._workspace.wish.ask(_("It begins"), lambda: self.begin(work))
            return
        self.was_left = False
        self.rounds.forget()
        self.judged = _is_judged(work)
        self._workspace.notice.drop()
        self._workspace.standing.mend(SOUND)
        self._workspace.musicAsked.emit(self)
        if self._is_silent_for_now:
            self._is_silent_for_now = False
            self._workspace.set_sound()
        try:
            self._ready().start(work)
        except UserError as error:
            self._workspace.errorRaised.emit(error.sentence)
            return
        self.look()
        self.moved.emit()

    def begin_round(self, wish: RoundWish, *, background: bool = False) -> None:
        """Call a comparison round; what was under way is broken off first."""
        self.stop()
        self.was_left = False
        self._workspace.notice.drop()
        self._workspace.standing.mend(SOUND)
        self._workspace.musicAsked.emit(self)
        if self._is_silent_for_now:
            self._is_silent_for_now = False
            self._workspace.set_sound()
        self.rounds.begin(wish, background=background)

    def rest(self) -> None:
        """Something else is chosen: what was begun last is over, and shown no more."""
        self.rounds.forget()
        self._last = None

    @Slot()
    def _round_began(self) -> None:
        self.judged = True
        self.look()
        self.moved.emit()

    @Slot()
    def pause_or_resume(self) -> None:
        """Hold the music, or let it go on."""
        going = self._going
        if going is None:
            return
        if going.paused:
            self.was_left = False
            self._workspace.errorRaised.emit("")
            going.resume()
        else:
            going.pause()
        self.look()

    @Slot()
    def leave_view(self) -> None:
        """The stage is not seen any more: nothing is played or counted until Space goes on."""
        self._workspace.wish.drop()
        self.rounds.forget_wish()
        if self.busy and not self.paused:
            self.was_left = True
            self.pause_or_resume()

    @Slot()
    def stop(self) -> None:
        """End it; a pass in progress is logged as broken off."""
        self.was_left = False
        self.rounds.forget_wish()
        if self._going is not None:
            self._going.stop()
            self.look()
            self.logged.emit()

    @Slot(QObject)
    def _give_way(self, other: QObject) -> None:
        """Another page is about to play."""
        if other is not self and self.busy:
            self.stop()

    @Slot()
    def stop_unwell(self) -> None:
        """Dizzy, cramp or pain: silence at once, nothing marked, nothing asked."""
        self.was_left = False
        self._workspace.wish.drop()
        if self._going is not None:
            self._going.stop_unwell()
            self.look()
            self.logged.emit()

    @Slot()
    def go_on_silently(self) -> None:
        """Keep time without a sound device while the sound is lost; the next begin tries again."""
        if self._going is not None and self.view.sentence:
            player = self._workspace.round_player if self.rounds.run else self._workspace.player
            player.silent = self._is_silent_for_now = True
            self.pause_or_resume()

    def judge(self, verdict: Verdict) -> None:
        """Clean or missed."""
        if self._going is not None:
            self._going.judge(verdict)
            self.look()
            self.logged.emit()

    def broke(self, at: float | None) -> None:
        """Where the run broke, in seconds of the track; None for nowhere."""
        if self._rehearsal is not None and self.rounds.run is None:
            self._rehearsal.broke(at)
            self.look()
            self.logged.emit()

    def set_percent(self, percent: int) -> None:
        """Another tempo at once."""
        if self._rehearsal is not None and self.rounds.run is None and self.busy:
            self._rehearsal.set_percent(percent)
            self.look()

    def _ready(self) -> Rehearsal:
        from rehearse.session.rehearsal import Rehearsal
        from rehearse.session.rehearsal_context import RehearsalContext

        workspace = self._workspace
        if self._rehearsal is None:
            self._rehearsal = Rehearsal(workspace.player, on_error=workspace.errorRaised.emit)
        if self._stale:
            assert workspace.track is not None
            assert workspace.routine is not None
            assert workspace.sheet is not None
            speech_engine = self._voice.speech_engine()
            speech = speech_choice(workspace.settings)
            context = RehearsalContext(
                workspace.track, workspace.routine, workspace.sheet, speech_engine, speech
            )
            self._rehearsal.open(context, workspace.logbook)
            self._stale = False
        return self._rehearsal

    @Slot()
    def _forget(self) -> None:
        """The document or the song is another one: stop, and make the score anew when asked."""
        self._stale = True
        if self._rehearsal is not None:
            self._rehearsal.open(None, None)
        if self.rounds.run is None:  # a round needs no song
            self._last = None
        self._preparing.start()
        self.moved.emit()

    @Slot()
    def forget_speech(self) -> None:
        """Voice or loudness was set anew; used from the next begin on."""
        self._stale = True
        self._preparing.start()

    @Slot()
    def _say_more(self) -> None:
        if self._rehearsal is not None and not self._stale:
            self._rehearsal.say_more()


def _is_over(before: SessionView, after: SessionView) -> bool:
    """Whether the pass of the look before has ended since; another tempo does not end it."""
    if after.state not in ("music", "paused") or after.plan is None or before.plan is None:
        return True
    return after.plan.number != before.plan.number or after.plan.scope != before.plan.scope


def _is_judged(work: Work) -> bool:
    """Whether clean and missed change what comes next: not in a loop at one tempo."""
    from rehearse.practice.drill import Drill

    return not isinstance(work, Drill) or work.steps.first != work.steps.top
