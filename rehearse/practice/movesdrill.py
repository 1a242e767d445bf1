"""The moves of one section: each of its transitions that has any, in turn, until each is clean."""

from __future__ import annotations

from dataclasses import dataclass, replace

from rehearse.music.beatmap import BeatMap
from rehearse.practice.drill import Drill
from rehearse.practice.passplan import PassPlan, Result
from rehearse.practice.scope import Scope, section_scope, spots_of, transition_scope
from rehearse.routine.model import Routine


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
    name = f"the moves of {routine.section(section_id).name}"
    return Scope("moves", section_id, name, ways[0].start, ways[-1].end)


def moves_drill(routine: Routine, beatmap: BeatMap, section_id: str, like: Drill) -> MovesDrill:
    """The drill of a section's moves, each transition with the steps and passes of `like`."""
    ways = ways_with_moves(routine, beatmap, section_id)
    return MovesDrill(tuple(replace(like, scope=scope) for scope in ways))
