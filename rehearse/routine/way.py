"""What is done between two poses, in seconds: the moves, the turn, the places on the stage.

`routine.motion` says where the body is at each moment of it. Nothing here needs NumPy: the window
opens before that is loaded.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from rehearse.routine.bones import Figure
from rehearse.routine.model import Facing, Level, Move, Place, Placed, Side
from rehearse.routine.moves import MoveCatalogue, MoveKind
from rehearse.routine.pose import Pose


@dataclass(frozen=True)
class Done:
    """A move as it is done, from `start` to `end` seconds."""

    kind: MoveKind
    start: float
    end: float
    side: Side | None = None
    direction: str = ""


@dataclass(frozen=True)
class Way:
    """The way from one pose into the next, in seconds.

    Args:
        before: the body at `start`; None: off the stage, where a walk on begins.
        after: the body at `end`; None: the way off after the last pose.
        moves: in order. turn: which way round it turns into the pose; None: the shorter way.
        place, goal: where on the stage it begins and ends.
    """

    before: Figure | None
    after: Figure | None
    start: float
    end: float
    moves: tuple[Done, ...] = ()
    turn: Side | None = None
    place: Place = Place.CENTRE
    goal: Place = Place.CENTRE


@dataclass(frozen=True)
class Moved:
    """A body on the stage.

    Args:
        figure: the body. x, z: where the middle of its picture is, from the middle of the stage
            to the viewer's right and toward the judges, in body heights.
    """

    figure: Figure
    x: float
    z: float


class Arrival(Protocol):
    """A placed pose with its times in seconds: a cue, or a pose on the Routine page."""

    @property
    def placed(self) -> Placed:
        """What stands in the routine."""

    @property
    def pose(self) -> Pose:
        """The pose."""

    @property
    def facing(self) -> Facing:
        """As placed, else the pose's own."""

    @property
    def level(self) -> Level:
        """As placed, else the pose's own."""

    @property
    def start(self) -> float:
        """When its transition begins."""

    @property
    def hit(self) -> float:
        """When it is hit."""


def way_into(
    last: Arrival | None,
    coming: Arrival,
    moves: Iterable[tuple[Move, float, float]],
    catalogue: MoveCatalogue,
    places: tuple[Place, Place] = (Place.CENTRE, Place.CENTRE),
) -> Way:
    """The way from one pose, or from off the stage, into the next.

    Args:
        moves: those of the transition with their start and end in seconds.
        catalogue: with the athlete's own moves; a move it lacks is left out.
        places: where the two poses are held.
    """
    before = None if last is None else last.pose.seen(last.facing, last.level)
    begin = coming.start if last is None else max(coming.start, last.hit)
    return Way(
        before,
        coming.pose.seen(coming.facing, coming.level),
        min(begin, coming.hit),
        coming.hit,
        done(moves, catalogue),
        coming.placed.turn,
        *places,
    )


def done(moves: Iterable[tuple[Move, float, float]], catalogue: MoveCatalogue) -> tuple[Done, ...]:
    """Moves with their kinds; one the catalogue lacks is left out."""
    result = []
    for move, start, end in moves:
        try:
            kind = catalogue.find(move.move)
        except KeyError:
            continue
        result.append(Done(kind, start, end, move.side, move.direction))
    return tuple(result)


def places_of(arrivals: Sequence[Arrival]) -> tuple[Place, ...]:
    """Where each pose of a routine is held: where it says, else where the one before was."""
    places, here = [], Place.CENTRE
    for arrival in arrivals:
        here = arrival.placed.place or here
        places.append(here)
    return tuple(places)
