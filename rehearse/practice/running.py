"""Practice under way: count-in, music, rest, verdicts – one immutable state, no clock of its own.

Every change takes the moment it happened from the caller and returns a new state, so the same
code runs live, without a window, and through a simulated month in seconds.

A verdict pressed during the music is for the pass in progress. Pressed in the rest or in the
count-in after it, it is for the pass just ended: in the rest the next pass still changes with it,
in the count-in the next pass stays as announced and the one after follows.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from enum import Enum

from rehearse.practice.passes import Pass, Verdict, new_pass_id
from rehearse.practice.passplan import PassPlan, Result, Work
from rehearse.practice.scope import Spot, taken_in

#: The moment of a pass that is only imagined.
_SOME_DAY = datetime(2000, 1, 1, tzinfo=UTC)


class Phase(Enum):
    """What is going on."""

    REST = "rest"
    COUNT_IN = "count-in"
    MUSIC = "music"
    OVER = "over"


@dataclass(frozen=True)
class Judged:
    """A verdict for a pass already in the logbook."""

    id: str
    verdict: Verdict
    broke_at: float | None = None


@dataclass(frozen=True)
class Running:
    """A drill, a run-through or a whole plan under way.

    Args:
        work: says what comes next. spots: the routine's poses, for the log.
        results: passes that are over. current: the pass counted in or playing.
        open_question: id of the run that still waits for "where did you lose it?", else "".
        stopped: stopped by hand; a late verdict is still taken but opens nothing again.
        unwell: stopped for dizziness, cramp or pain; nothing is prompted after that.
        torn: some of the music of the pass in progress was not heard.
    """

    work: Work
    spots: tuple[Spot, ...]
    results: tuple[Result, ...] = ()
    phase: Phase = Phase.REST
    current: PassPlan | None = None
    started: datetime | None = None
    verdict: Verdict | None = None
    open_question: str = ""
    stopped: bool = False
    unwell: bool = False
    torn: bool = False
    dry_run: bool = False

    @property
    def upcoming(self) -> PassPlan | None:
        """The pass in progress, or the one to play next; None when all is done or stopped."""
        if self.phase is Phase.OVER:
            return None
        return self.current or self.work.upcoming(self.results)

    @property
    def following(self) -> PassPlan | None:
        """What would follow if the pass in progress ended now with the verdict it has.

        Lets the player line up the next pass without a gap; ask again after every verdict.
        """
        if self.phase is not Phase.MUSIC or self.current is None or self.started is None:
            return self.upcoming
        over = self.started + timedelta(seconds=self.current.scope.length / self.current.tempo)
        end = Result("", self.current, self.started, over, True, self.verdict, self.torn)
        return self.work.upcoming((*self.results, end))

    @property
    def closes(self) -> bool:
        """Whether the pass in progress is a run-through, or ends its drill should it be clean."""
        now = self.current
        if now is None or now.kind == "run":
            return now is not None
        at = self.started or (self.results[-1].ended if self.results else _SOME_DAY)
        clean = Result("", now, at, at, True, "clean")
        after = self.work.upcoming((*self.results, clean))
        return after is None or (after.kind, after.line) != (now.kind, now.line)

    def count_in(self) -> Running:
        """The count-in of the next pass begins; the open question lapses.

        Raises:
            ValueError: nothing is left to play, or a pass is in progress.
        """
        plan = self.upcoming
        if plan is None or self.phase is not Phase.REST:
            raise ValueError(f"no count-in in phase {self.phase.value}")
        return replace(self, phase=Phase.COUNT_IN, current=plan, open_question="")

    def music(self, at: datetime) -> Running:
        """The music of the pass begins (with or without a count-in)."""
        state = self if self.phase is Phase.COUNT_IN else self.count_in()
        return replace(state, phase=Phase.MUSIC, started=at, verdict=None, torn=False)

    def ended(
        self, at: datetime, *, complete: bool = True, reached: float | None = None
    ) -> tuple[Running, Pass]:
        """The pass is over; returns it for the logbook.

        Args:
            complete: False when it was broken off. reached: then the second of the track.

        Raises:
            ValueError: no music is playing.
        """
        if self.phase is not Phase.MUSIC or self.current is None or self.started is None:
            raise ValueError(f"no pass to end in phase {self.phase.value}")
        at = max(at, self.started)  # the clock may have been set back
        done = self._pass(self.current, self.started, at, complete, reached)
        result = Result(done.id, self.current, self.started, at, complete, done.verdict, self.torn)
        question = done.id if complete and self.current.asks and done.verdict != "clean" else ""
        state = replace(
            self,
            results=(*self.results, result),
            phase=Phase.REST,
            current=None,
            started=None,
            verdict=None,
            torn=False,
            open_question=question,
        )
        return (replace(state, phase=Phase.OVER) if state.upcoming is None else state), done

    def torn_now(self) -> Running:
        """Some of the music was not heard: of the pass in progress, or at the end of the last."""
        if self.phase is Phase.MUSIC:
            return replace(self, torn=True)
        if not self.results:
            return self
        last = replace(self.results[-1], torn=True)
        return replace(self, results=(*self.results[:-1], last))

    def judge(self, verdict: Verdict) -> tuple[Running, Judged | None]:
        """The button: clean or missed. Returns what to change in the logbook, if anything."""
        if self.unwell:
            return self, None
        if self.phase is Phase.MUSIC:
            return replace(self, verdict=verdict), None
        return self._rejudge(verdict, None)

    def broke(self, at: float | None) -> tuple[Running, Judged | None]:
        """The answer to "where did you lose it?": a second of the track, or None for nowhere."""
        if not self.open_question:
            return self, None
        return self._rejudge("clean" if at is None else "missed", at)

    def stop(self, at: datetime, *, reached: float | None = None) -> tuple[Running, Pass | None]:
        """Stop here; a pass in progress is logged as broken off. Returns it."""
        if self.phase is not Phase.MUSIC:
            return replace(self, phase=Phase.OVER, current=None, stopped=True), None
        state, done = self.ended(at, complete=False, reached=reached)
        return replace(state, phase=Phase.OVER, stopped=True), done

    def stop_unwell(
        self, at: datetime, *, reached: float | None = None
    ) -> tuple[Running, Pass | None]:
        """Dizzy, cramp or pain: stop, mark nothing as missed, ask and announce nothing after."""
        quiet = replace(self, verdict=None, unwell=True)
        if self.phase is Phase.OVER:
            return replace(quiet, open_question=""), None
        state, done = quiet.stop(at, reached=reached)
        return replace(state, open_question=""), done

    def _rejudge(self, verdict: Verdict, broke_at: float | None) -> tuple[Running, Judged | None]:
        if not self.results:
            return self, None
        last = replace(self.results[-1], verdict=verdict)
        state = replace(self, results=(*self.results[:-1], last), open_question="")
        if state.phase in (Phase.REST, Phase.OVER) and not state.stopped:
            # A late miss can reopen a drill that seemed done, a late clean can end one.
            again = self.work.upcoming(state.results) is not None
            state = replace(state, phase=Phase.REST if again else Phase.OVER)
        return state, Judged(last.id, verdict, broke_at)

    def _pass(
        self, plan: PassPlan, started: datetime, at: datetime, complete: bool, reached: float | None
    ) -> Pass:
        scope = plan.scope
        stop = scope.end if complete or reached is None else reached
        last = stop if complete or reached is not None else scope.start
        return Pass(
            kind=plan.kind,
            start=scope.start,
            end=scope.end,
            started=started,
            ended=at,
            tempo=plan.tempo,
            section=scope.item if scope.kind == "section" else None,
            section_name=scope.name if scope.kind in ("section", "whole") else "",
            transition=scope.item.split(">")[1] if scope.kind == "transition" else None,
            transition_name=scope.name if scope.kind == "transition" else "",
            cueing=plan.cueing,
            effort=plan.effort,
            complete=complete,
            reached=None if complete else last,
            verdict=self.verdict,
            dry_run=self.dry_run,
            taken=taken_in(self.spots, scope.start, last),
            plan=plan.plan,
            line=plan.line,
            id=new_pass_id(),
        )
