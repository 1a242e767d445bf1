"""Comparison rounds on the page: made, spoken for, and played on a player of their own.

A round needs no song, so that the routine's player keeps its music. It begins once all its words
are formed: a judge's call that is only clicked would teach nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from rehearse.files.user_error import UserError
from rehearse.ui.pages.rehearse.speech_renderer import SpeechRenderer
from rehearse.ui.workspace import Workspace
from rehearse.words import _, shown

if TYPE_CHECKING:
    from rehearse.music.track import Track
    from rehearse.practice.roundlog import CallDone
    from rehearse.routine.rounds import Round, RoundWish
    from rehearse.session.round_run import RoundRun
    from rehearse.session.round_timeline import RoundTimeline


class RoundHost(QObject):
    """Makes and begins rounds of the open routine.

    Attributes:
        run: the round under way or just over; None: none since something else was begun.

    Signals:
        began: `run` is another one.
    """

    began = Signal()

    def __init__(self, workspace: Workspace, voice: SpeechRenderer) -> None:
        super().__init__()
        self._workspace, self._voice = workspace, voice
        self.run: RoundRun | None = None
        self._wanted: tuple[RoundTimeline, Round, bool] | None = None
        self._loaded: Track | None = None
        self._silence: Track | None = None
        voice.ready.connect(self._begin_wanted)
        workspace.leaving.connect(self.forget)
        workspace.stopAsked.connect(self.forget_wish)

    def make(self, wish: RoundWish) -> Round:
        """The round of the open routine's rules, division and figure.

        Raises:
            UserError: the rule set is damaged, or the division has no such round.
        """
        from rehearse.routine.rounds import make_round
        from rehearse.routine.rules import load_rules

        workspace = self._workspace
        assert workspace.routine is not None
        return make_round(
            load_rules(workspace.routine.rules, workspace.folder),
            wish,
            workspace.catalogue,
            division=workspace.routine.division,
            figure=workspace.routine.figure,
        )

    def preview(self, wish: RoundWish) -> RoundTimeline | None:
        """The round as the stage shows it before it begins; None where there is no such round."""
        from rehearse.session.round_timeline import lay_out

        try:
            return lay_out(self.make(wish), lambda _text: 1.0)
        except UserError:
            return None

    def begin(self, wish: RoundWish, *, background: bool) -> None:
        """Begin a round as soon as it can be spoken.

        Args:
            background: with the routine's song, where that has been read.
        """
        from rehearse.session.round_timeline import lay_out, measure_with

        try:
            made = self.make(wish)
        except UserError as error:
            self._workspace.errorRaised.emit(error.sentence)
            return
        speech_engine = self._voice.speech_engine()
        timeline = lay_out(made, measure_with(speech_engine))
        track = self._track(background)
        if speech_engine is not None and speech_engine.wanted and not self._voice.has_failed:
            self._wanted = timeline, made, background
            self._voice.form_wanted(track.sample_rate)
            return
        self._start(timeline, track)

    @Slot()
    def forget(self) -> None:
        """The round is over for good: another routine, or something else was begun."""
        self.forget_wish()
        if self.run is not None:
            self.run.stop()
            self.run = None

    @Slot()
    def forget_wish(self) -> None:
        """Nothing begins any more."""
        self._wanted = None

    def words(self) -> str:
        """What became of the last round, for the foot of the page."""
        return summary(self.run.calls) if self.run is not None else ""

    @Slot()
    def _begin_wanted(self) -> None:
        if self._wanted is None or self._voice.is_forming:
            return
        from rehearse.session.round_timeline import lay_out, measure_with

        (_unused, made, background), self._wanted = self._wanted, None
        timeline = lay_out(made, measure_with(self._voice.speech_engine()))
        self._start(timeline, self._track(background))

    def _start(self, timeline: RoundTimeline, track: Track) -> None:
        from rehearse.session.round_run import RoundRun

        workspace = self._workspace
        player = workspace.round_player
        if track is not self._loaded:
            player.load(track)
            self._loaded = track
        speech_engine = self._voice.speech_engine()
        tell = workspace.errorRaised.emit
        self.run = RoundRun(
            player, timeline, track, speech_engine, workspace.logbook, on_error=tell
        )
        self.began.emit()

    def _track(self, background: bool) -> Track:
        if background and self._workspace.track is not None:
            return self._workspace.track
        if self._silence is None:
            from rehearse.session.round_timeline import silent_track

            self._silence = silent_track()
        return self._silence


def summary(calls: tuple[CallDone, ...]) -> str:
    """What became of a round, in a sentence or two."""
    if not calls:
        return ""
    clean = sum(call.verdict == "clean" for call in calls)
    missed = [call for call in calls if call.verdict == "missed"]
    held = sum(call.tension for call in calls)
    words = _(
        "{number} calls, {held:.0f} s under tension, {clean} clean",
        number=len(calls),
        held=held,
        clean=clean,
    )
    if missed:
        first = missed[0]
        at = _(" at {lost_at:.0f} s", lost_at=first.lost_at) if first.lost_at is not None else ""
        words += _(
            ", {number} missed ({said}{at})", number=len(missed), said=shown(first.said), at=at
        )
    return f"{words}."
