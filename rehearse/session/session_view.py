"""What is going on in a rehearsal right now, for whoever shows it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from rehearse.cueing.count_in import count_length
from rehearse.cueing.cue_state import CueState
from rehearse.cueing.cues import CueSheet
from rehearse.playback.segment import Now
from rehearse.practice.passes import Verdict
from rehearse.practice.passplan import PassPlan
from rehearse.practice.running import Phase, Running
from rehearse.session.rehearsal_context import RehearsalContext

State = Literal["idle", "count-in", "music", "rest", "paused", "over"]


_STATES: dict[Phase, State] = {
    Phase.REST: "rest",
    Phase.COUNT_IN: "count-in",
    Phase.MUSIC: "music",
    Phase.OVER: "over",
}


@dataclass(frozen=True)
class Coming:
    """The pass that follows the one in progress.

    Args:
        lead: seconds of output heard before its music. rests: a rest comes before it.
    """

    plan: PassPlan
    lead: float
    rests: bool = False


@dataclass(frozen=True)
class SessionView:
    """One look at the rehearsal.

    Args:
        state: "idle" before anything was started, "over" when all is done or stopped.
        cue_state: what the music is doing and which pose comes; None while nothing is open.
        plan: the pass in progress, or the next one.
        rest: seconds of rest left.
        verdict: the verdict taken for the pass in progress, or in rest and count-in for the last.
        asks: "where did you lose it?" waits for an answer.
        heard: second of the track that is heard now.
        lead: seconds of output until the music of the pass begins; 0 once it has.
        sentence: why the sound stopped, if it did; empty otherwise.
        unwell: it was stopped for dizziness, cramp or pain; nothing is to be prompted.
        coming: what follows the pass in progress; None: nothing.
        counted: in a comparison round, which has no plan, the call under way ("3/14").
    """

    state: State = "idle"
    cue_state: CueState | None = None
    plan: PassPlan | None = None
    rest: float = 0.0
    verdict: Verdict | None = None
    asks: bool = False
    heard: float = 0.0
    lead: float = 0.0
    sentence: str = ""
    unwell: bool = False
    coming: Coming | None = None
    counted: str = ""


def view_of(
    running: Running, context: RehearsalContext, now: Now | None, coming: Coming | None = None
) -> SessionView:
    """What is going on in `running`, heard as `now` says (None: nothing of it heard yet)."""
    plan, sheet = running.upcoming, context.sheet
    last = running.results[-1] if running.results else None
    in_music = running.phase is Phase.MUSIC
    view = SessionView(
        state=_STATES[running.phase],
        plan=plan,
        verdict=running.verdict if in_music else last.verdict if last else None,
        asks=bool(running.open_question),
        heard=now.source if now else plan.start if plan else 0.0,
        unwell=running.unwell,
    )
    if plan is None:
        return view
    if in_music:
        cue_state = music_state(sheet, plan, view.heard, coming)
        return replace(view, cue_state=cue_state, coming=coming)
    if running.phase is Phase.COUNT_IN:
        unheard = -(plan.count_in + 1) * count_length(sheet.beatmap, plan.start) / plan.tempo
        # In output of the pass's own tempo: just after a change the old one is still heard.
        elapsed = min(now.elapsed * now.tempo / plan.tempo, 0.0) if now else unheard
        return replace(view, cue_state=lead_in_state(sheet, plan, elapsed), lead=-elapsed)
    rested = now.elapsed - last.plan.scope.length / last.plan.tempo if now and last else 0.0
    rest = max(0.0, context.rest(last.plan) - rested) if last else 0.0
    return replace(view, rest=rest, cue_state=sheet.ready(plan.start))


def lead_in_state(sheet: CueSheet, plan: PassPlan, elapsed: float) -> CueState:
    """The moment `elapsed` (< 0) seconds of output before the music of a pass begins."""
    interval = count_length(sheet.beatmap, plan.start)
    left = -elapsed * plan.tempo / interval
    cue_state = sheet.before(plan.start, left, interval)
    if math.ceil(left - 0.02) <= plan.count_in:
        return cue_state
    # Something is announced before the count-in: a countdown shown here would jump.
    return replace(cue_state, count_in="", numeral="", rim=0.0)


def music_state(sheet: CueSheet, plan: PassPlan, time: float, coming: Coming | None) -> CueState:
    """The moment at second `time` of the track in the music of a pass.

    Behind its last pose it speaks of the first one of the pass that follows, with the counts left
    through the end, the count-in and up to its hit. Before a rest nothing counts down to it yet;
    where nothing follows nothing is announced.
    """
    cue_state = sheet.at(time, sheet.closes(plan.end))
    if cue_state.next is not None or coming is None:
        return cue_state
    following = coming.plan
    first = sheet.ready(following.start)
    if coming.rests:
        return replace(cue_state, next=first.next)
    interval = count_length(sheet.beatmap, following.start)
    left = sheet.beatmap.counts_between(time, plan.end)
    if left is None:  # no beat leads through the end: as long in the counts of the start
        left = (plan.end - time) / plan.tempo * following.tempo / interval
    left += coming.lead * following.tempo / interval
    first = sheet.before(following.start, left, interval)
    return replace(
        cue_state,
        next=first.next,
        counts=first.counts,
        seconds=first.seconds,
        numeral=first.numeral,
        travel=first.travel,
        rim=first.rim,
    )
