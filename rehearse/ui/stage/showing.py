"""From what a rehearsal says to what the stage display shows."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from rehearse.ui.actions import key
from rehearse.ui.stage.stage_options import StageOptions, State
from rehearse.words import _, low

if TYPE_CHECKING:
    from rehearse.practice.passplan import PassPlan
    from rehearse.session.session_view import SessionView

_STATES: dict[str, State] = {
    "idle": "ready",
    "count-in": "count-in",
    "music": "playing",
    "rest": "rest",
    "paused": "paused",
    "over": "done",
}


#: All that is shown after a stop for dizziness, cramp or pain, read from afar.
STOPPED = _("STOPPED – get help if it lasts")
#: What Space does, where nothing else says so.
_KEYS = {"idle": _("Space: start"), "paused": _("Space: resume"), "over": _("Space: start again")}


def options_for(view: SessionView, base: StageOptions) -> StageOptions:
    """`base` with everything that follows from `view`; equal views give equal options."""
    plan = view.plan
    is_round = base.is_round or bool(view.counted)
    return replace(
        base,
        loudness=None if is_round else base.loudness,
        state=_state(view),
        words="" if view.asks else _words(view),
        cause=cause_of(view.sentence),
        question=(base.question or _("Where did you lose it?")) if view.asks else "",
        cueing=plan.cueing if plan else base.cueing,
        tempo=plan.tempo if plan else base.tempo,
        passes=_passes(view),
        is_round=is_round,
        verdict=(view.verdict or "") if view.state in ("music", "rest", "count-in") else "",
        rest=float(math.ceil(view.rest)),
    )


def _state(view: SessionView) -> State:
    if view.unwell:
        return "stopped"
    return "no sound" if view.sentence else _STATES[view.state]


def _words(view: SessionView) -> str:
    if view.unwell:
        return STOPPED
    if view.sentence:
        return _(
            "{key_begin}: try again, {key_silent}: continue in silence",
            key_begin=key("begin"),
            key_silent=key("silent"),
        )
    return _KEYS.get(view.state, "")


def _passes(view: SessionView) -> str:
    if view.state in ("idle", "over"):
        return ""
    return view.counted or passes_of(view.plan)


def cause_of(sentence: str) -> str:
    """What is wrong, of a sentence that says what to do about it, too; a clause for the stage."""
    what = sentence.splitlines()[0].partition(" – ")[0].strip(" .") if sentence else ""
    return low(what)


def passes_of(plan: PassPlan | None) -> str:
    """Which pass this is: "3/8", or "3" where no number was set; a single one needs none."""
    if plan is None or plan.of == 1:
        return ""
    return f"{plan.number}/{plan.of}" if plan.of else str(plan.number)
