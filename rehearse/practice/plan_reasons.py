"""The lines a plan is made of, each with its reason in words."""

from __future__ import annotations

from rehearse.music.position import Length
from rehearse.practice.drill import Drill, TempoSteps
from rehearse.practice.history import BeforeShow
from rehearse.practice.passes import Cueing
from rehearse.practice.planline import COMMON, Group, PlanLine
from rehearse.practice.runthrough import RunThrough
from rehearse.practice.scope import Scope
from rehearse.practice.transition_evidence import NEVER, SOUND, Evidence
from rehearse.words import _, ngettext, shown

#: Seconds a count-in takes about, and the pauses after a drilled pass and after a run.
COUNT_IN = 2.5
REST, RUN_REST = Length(6.0, in_counts=False), Length(45.0, in_counts=False)
#: Passes that a new transition is expected to need, and at most gets.
_NEW_EXPECTED, _NEW_MOST = 4, 6

_RECALL = "Roediger & Karpicke 2006, on memory for prose"
_TURNS = "Shea & Morgan 1979"
_NIGHT = "Simmons 2012"
_PARTS = "Fontana et al. 2009"


def first_look(whole: Scope) -> PlanLine:
    """The first session ever: the whole is watched once, then walked."""
    reason = _("The first session: watch it once, then walk it marked with all cues.")
    work = RunThrough(whole, effort="marked", cueing="all", rest=RUN_REST, runs=2, asks=False)
    seconds = _seconds(whole, 1.0, 2, RUN_REST)
    title = _("Whole routine, watch it, then walk it")
    return PlanLine("open", "open", title, reason, COMMON, work, seconds)


def opening(whole: Scope, show: BeforeShow, *, marked: bool) -> PlanLine:
    """The run from memory that opens every session but the first."""
    reason = _("A run without cues shows what has stayed.")
    if show.days is not None and 0 < show.days <= 60:
        reason = _("{days} to the show. {reason}", days=_days(show.days), reason=reason)
    return _run("open", whole, "memory", reason, _RECALL, marked)


def closing(whole: Scope, last: str, *, marked: bool) -> PlanLine:
    """The whole at full tempo; with all cues and without in turn."""
    cueing: Cueing = "memory" if last == "all" else "all"
    words = _("without cues") if cueing == "memory" else _("with all cues")
    reason = _(
        "End with the whole at full tempo, this time {words}: runs with and without alternate.",
        words=words,
    )
    return _run("close", whole, cueing, reason, f"{COMMON}; {_RECALL}", marked)


def between(whole: Scope, show: BeforeShow) -> PlanLine:
    """A run in the middle of the session."""
    reason = _("A run between keeps the parts in the whole.")
    if show.days is not None and 0 < show.days <= 14:
        reason = _(
            "{days} to the show: one more run, names only on the hit.", days=_days(show.days)
        )
    return _run("run", whole, "names", reason, COMMON, False)


def new(evidence: Evidence, scope: Scope, unjudged: bool) -> PlanLine:
    """A new transition: about three sound passes in a row, ending at full tempo."""
    steps = TempoSteps(first=70, up=15, after=1, down=10, floor=50, unjudged=unjudged)
    drill = Drill(scope, steps, rest=REST, passes=_NEW_MOST, clean=1)
    sound = round(evidence.clean)
    times = ngettext("{sound} clean pass", "{sound} clean passes", sound, sound=sound)
    reason = _(
        "New, {times} so far: about {many} clean passes in a row, then in turn with the rest.",
        times=times if sound else _("no clean passes"),
        many=SOUND,
    )
    seconds = _seconds(scope, 0.85, _NEW_EXPECTED, REST)
    return PlanLine(f"new {scope.item}", "new", scope.name, reason, COMMON, drill, seconds)


def turn(evidence: Evidence, scope: Scope, number: int, passes: int, unjudged: bool) -> PlanLine:
    """A weak or cold transition that takes turns with others (`number`: of the block)."""
    first = starting_tempo(evidence)
    steps = TempoSteps(first=first, up=5, after=1, down=5, floor=50, unjudged=unjudged)
    drill = Drill(scope, steps, rest=REST, passes=passes)
    reason, source = why(evidence)
    seconds = _seconds(scope, first / 100, passes, REST)
    line_id = f"turn {scope.kind} {scope.item} {number}"
    return PlanLine(line_id, "rotate", scope.name, reason, source, drill, seconds)


def part(scope: Scope, waited: int, number: int, passes: int, unjudged: bool) -> PlanLine:
    """A whole part at full tempo, with the ways into and out of it, in turn with others."""
    steps = TempoSteps(first=100, up=5, after=1, down=5, floor=50, unjudged=unjudged)
    drill = Drill(scope, steps, rest=REST, passes=passes)
    if waited >= NEVER:
        reason = _("Never drilled as a part so far; with the ways into and out of it.")
    elif waited == 0:
        reason = _("Once more in one piece, in turn with the weak ones.")
    elif waited == 1:
        reason = _("Drilled yesterday: kept warm, in turn with the weak ones.")
    else:
        reason = _(
            "Something in it was last drilled {days} ago; five is the most.", days=_days(waited)
        )
    line_id = f"turn {scope.kind} {scope.item} {number}"
    seconds = _seconds(scope, 1.0, passes, REST)
    return PlanLine(line_id, "rotate", scope.name, reason, f"{COMMON}; {_PARTS}", drill, seconds)


def starting_tempo(evidence: Evidence) -> int:
    """Percent to begin at: full where it is mostly clean there, else a little under the best.

    What comes late or early on film begins at 80 %.
    """
    if evidence.filmed:
        return 80
    if evidence.full_share is not None and evidence.full_share >= 0.7:
        return 100
    best = 0.7 if evidence.best is None else evidence.best
    return max(60, min(90, round((best - 0.1) * 20) * 5))


def why(evidence: Evidence) -> tuple[str, str]:
    """The reason a transition takes its turn, and what the rule rests on."""
    if evidence.filmed:
        return _("On film {filmed}.", filmed=evidence.filmed), COMMON
    if evidence.missed_lately:
        missed = evidence.judged_last - evidence.clean_last
        told = _(
            "Missed {missed:.0f} of {judged_last:.0f} last time",
            missed=missed,
            judged_last=evidence.judged_last,
        )
        return _("{told}; after a night it comes back first.", told=told), _NIGHT
    share = evidence.full_share
    if share is None:
        best = (
            _("best clean {best} %", best=round((evidence.best or 0) * 100))
            if evidence.best
            else _("not clean")
        )
        return _("Not yet clean at full tempo ({best} lately).", best=best), _TURNS
    return _(
        "Among the weakest: {share} % clean at full tempo lately.", share=round(share * 100)
    ), _TURNS


def _run(
    group: Group, whole: Scope, cueing: Cueing, reason: str, source: str, marked: bool
) -> PlanLine:
    effort = "marked" if marked else "full out"
    work = RunThrough(
        whole, effort="marked" if marked else "full out", cueing=cueing, rest=RUN_REST
    )
    words = {"memory": _("from memory"), "all": _("all cues"), "names": _("names on the hit")}
    title = _("Whole routine, {effort}, {words}", effort=shown(effort), words=words[cueing])
    return PlanLine(group, group, title, reason, source, work, _seconds(whole, 1.0, 1, RUN_REST))


def _seconds(scope: Scope, tempo: float, passes: int, rest: Length) -> float:
    return passes * (scope.length / tempo + COUNT_IN / tempo + rest.value)


def _days(number: int) -> str:
    return ngettext("1 day", "{number} days", number, number=number)
