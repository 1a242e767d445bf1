"""A drill: a stretch repeated, from slow to full tempo, so often or until it is clean.

A change of tempo under about 3–6 % is hard to notice (Drake & Botte 1993, Perception &
Psychophysics 54, 277–286; from memory), so a step is 5 % unless set otherwise. Whole percents,
so that steps add up exactly. The moves of one section are a drill too: each of its transitions
that has any, in turn, until each is clean.

"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Length
from rehearse.practice.passes import Cueing, Effort, Verdict
from rehearse.practice.passplan import NO_REST, PassPlan, Result, complete
from rehearse.practice.scope import Scope, section_scope, shown_scope, spots_of, transition_scope
from rehearse.routine.model import Routine
from rehearse.words import _

SLOWEST, FASTEST = 40, 105


@dataclass(frozen=True)
class TempoStep:
    """Where the steps stand: the tempo in percent, and clean passes in a row at it."""

    percent: int
    row: int = 0


@dataclass(frozen=True)
class TempoSteps:
    """When the tempo goes up and down; all tempos in percent of the music's own.

    Args:
        first: tempo of the first pass. top: the goal.
        up: how far up after `after` clean passes in a row. down: how far back after a miss.
        floor: never slower than this.
        unjudged: also count passes nobody judged toward going up (practice with no button).

    Raises:
        ValueError: not 40 ≤ floor ≤ first ≤ top ≤ 105, or a step or count below 1.
    """

    first: int = 60
    up: int = 5
    after: int = 2
    down: int = 5
    top: int = 100
    floor: int = SLOWEST
    unjudged: bool = False

    def __post_init__(self) -> None:
        if not SLOWEST <= self.floor <= self.first <= self.top <= FASTEST:
            raise ValueError(f"tempos must rise from {SLOWEST} to {FASTEST} percent")
        if self.up < 1 or self.after < 1 or self.down < 0:
            raise ValueError("steps and passes must be at least 1")

    def begin(self) -> TempoStep:
        """The first pass."""
        return TempoStep(self.first)

    def follow(self, step: TempoStep, verdict: Verdict | None) -> TempoStep:
        """The next pass after one with this verdict."""
        if verdict == "missed":
            return TempoStep(max(self.floor, step.percent - self.down))
        if verdict is None and not self.unjudged:
            return step
        row = step.row + 1
        if row >= self.after and step.percent < self.top:
            return TempoStep(min(self.top, step.percent + self.up))
        return TempoStep(step.percent, row)


def fixed(percent: int) -> TempoSteps:
    """One tempo throughout."""
    return TempoSteps(first=percent, top=percent, floor=percent)


@dataclass(frozen=True)
class Drill:
    """The definition of a drill; what comes next follows from the results alone.

    Args:
        scope: the stretch.
        steps: the tempo and its steps.
        count_in: counts before each pass. rest: pause after each, up to 30 s or in counts.
        passes: complete passes after which it ends; None: no limit.
        clean: clean passes in a row, at the top tempo, after which it ends; None: never.
    """

    scope: Scope
    steps: TempoSteps = field(default_factory=TempoSteps)
    count_in: int = 4
    rest: Length = NO_REST
    passes: int | None = None
    clean: int | None = None
    cueing: Cueing = "all"
    effort: Effort = "full out"

    def upcoming(
        self,
        results: tuple[Result, ...],
        *,
        earlier: tuple[Result, ...] = (),
        named: bool | None = None,
    ) -> PassPlan | None:
        """The next pass; None when the drill is done.

        A late verdict is simply a changed result: the tempo is worked out from all of them.

        Args:
            earlier: passes at the same stretch whose tempo this drill goes on from.
            named: whether its name is announced; None: before the first pass only.
        """
        done = complete(results)
        if self.passes is not None and len(done) >= self.passes:
            return None
        step = self.step_after((*earlier, *results))
        if self.clean is not None and self._clean_in_row(done) >= self.clean:
            return None
        return PassPlan(
            kind="drill",
            scope=self.scope,
            percent=step.percent,
            cueing=self.cueing,
            effort=self.effort,
            count_in=self.count_in,
            rest=self.rest,
            say=self._announce(results, step, not results if named is None else named),
            number=len(done) + 1,
            of=self.passes if self.clean is None else None,
        )

    def step_after(self, results: tuple[Result, ...]) -> TempoStep:
        """Where the tempo stands after these passes; broken-off and torn ones count when judged."""
        step = self.steps.begin()
        for result in results:
            if result.torn and result.verdict is None:
                continue
            if result.complete or result.verdict == "missed":
                step = self.steps.follow(step, result.verdict)
        return step

    def _clean_in_row(self, done: tuple[Result, ...]) -> int:
        row = 0
        for result in reversed(done):
            if result.verdict != "clean" or result.plan.percent < self.steps.top:
                break
            row += 1
        return row

    def _announce(self, results: tuple[Result, ...], step: TempoStep, named: bool) -> str:
        if named:
            return _(
                "{name}, {percent} percent",
                name=shown_scope(self.scope).replace("→", _("to")),
                percent=step.percent,
            )
        before = results[-1].plan.percent if results else step.percent
        if step.percent == before:
            return ""
        if step.percent > before:
            return _("up to {percent} percent", percent=step.percent)
        return _("down to {percent} percent", percent=step.percent)


@dataclass(frozen=True)
class MovesDrill:
    """Transitions drilled by turns, one pass each; only the names of moves are said.

    Args:
        drills: one a transition, in the order of the music; each keeps its own tempo steps.
    """

    drills: tuple[Drill, ...]

    def upcoming(self, results: tuple[Result, ...]) -> PassPlan | None:
        """The next pass: of the transition after the last one that is not done; None: all are."""
        scopes = [drill.scope for drill in self.drills]
        last = results[-1].plan.scope if results else None
        first = scopes.index(last) + 1 if last in scopes else 0
        for k in range(len(self.drills)):
            drill = self.drills[(first + k) % len(self.drills)]
            own = tuple(r for r in results if r.plan.scope == drill.scope)
            plan = drill.upcoming(own, named=True)
            if plan is not None:
                return replace(plan, said="moves")
        return None


def ways_with_moves(routine: Routine, beatmap: BeatMap, section_id: str) -> tuple[Scope, ...]:
    """The transitions of a section that have moves, each with the way into it.

    Raises:
        KeyError: there is no such section, or the map lacks a count.
    """
    section = section_scope(routine, beatmap, section_id)
    moving = {p.id for p in routine.poses if p.moves}
    return tuple(
        transition_scope(routine, beatmap, spot.pose)
        for spot in spots_of(routine, beatmap)
        if spot.pose in moving and section.start <= spot.hit < section.end
    )


def moves_scope(routine: Routine, beatmap: BeatMap, section_id: str) -> Scope | None:
    """What the drill of a section's moves is listed as; None where it has no moves.

    Raises:
        KeyError: as `ways_with_moves`.
    """
    ways = ways_with_moves(routine, beatmap, section_id)
    if not ways:
        return None
    name = _("the moves of {name}", name=routine.section(section_id).name)
    return Scope("moves", section_id, name, ways[0].start, ways[-1].end)


def moves_drill(routine: Routine, beatmap: BeatMap, section_id: str, like: Drill) -> MovesDrill:
    """The drill of a section's moves, each transition with the steps and passes of `like`."""
    ways = ways_with_moves(routine, beatmap, section_id)
    return MovesDrill(tuple(replace(like, scope=scope) for scope in ways))
