"""A drill: a stretch repeated, from slow to full tempo, so often or until it is clean."""

from __future__ import annotations

from dataclasses import dataclass, field

from rehearse.music.position import Length
from rehearse.practice.passes import Cueing, Effort
from rehearse.practice.passplan import NO_REST, PassPlan, Result, complete
from rehearse.practice.scope import Scope
from rehearse.practice.tempo_steps import Step, TempoSteps


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

    def step_after(self, results: tuple[Result, ...]) -> Step:
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

    def _announce(self, results: tuple[Result, ...], step: Step, named: bool) -> str:
        if named:
            return f"{self.scope.name.replace('→', 'to')}, {step.percent} percent"
        before = results[-1].plan.percent if results else step.percent
        if step.percent == before:
            return ""
        return f"{'up' if step.percent > before else 'down'} to {step.percent} percent"
