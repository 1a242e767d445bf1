"""One pose resolved in time, and everything that can be shown at one moment of the music."""

from __future__ import annotations

from dataclasses import dataclass, field

from rehearse.music.position import Count
from rehearse.routine.model import Facing, Level, Placed, Section
from rehearse.routine.pose import Pose
from rehearse.routine.way import Way
from rehearse.words import shown


@dataclass(frozen=True)
class TimedMove:
    """A move with its times in seconds of the track, [start, end), and how it is called.

    Args:
        short: the same in fewer words, left and right among them; empty where there are none.
    """

    text: str
    start: float
    end: float
    short: str = ""


@dataclass(frozen=True)
class Cue:
    """One pose to hit, resolved: name, facing, level and its times in seconds of the track.

    Args:
        moves: what fills the transition from its start. again: further hits inside the hold.
        moved_to: where on the stage it is hit, as a word, where that differs from before.
        way: how the body comes into it.
    """

    index: int
    placed: Placed
    pose: Pose
    facing: Facing
    level: Level
    start: float
    hit: float
    end: float
    moves: tuple[TimedMove, ...] = ()
    again: tuple[float, ...] = ()
    moved_to: str = ""
    way: Way | None = field(default=None, compare=False, repr=False)

    @property
    def name(self) -> str:
        """The pose's name as shown."""
        return shown(self.pose.name)


@dataclass(frozen=True)
class TimedSection:
    """A section with its times in seconds of the track, [start, end)."""

    section: Section
    start: float
    end: float


@dataclass(frozen=True)
class CueState:
    """Everything that can be shown at one moment.

    Args:
        time: seconds of the track.
        next: the pose to hit next; None after the last.
        held: the pose hit last, until the transition to the next begins.
        counts: counts left to the next hit, with fraction; None where seconds are counted.
        seconds: seconds of music at full tempo left to the next hit; None after the last.
        numeral: the huge numeral: whole counts left ("4"), or seconds in free time ("2.3").
        travel: 0..1 through the transition to the next pose.
        count: count of the eight sounding now; None in free time.
        beat_phase: 0..1 through the present count; None in free time.
        interval: seconds of the present count at full tempo; None in free time.
        rim: 0..1, how far the edge light is filled; whole on the hit.
        hit: a pose was hit within the last quarter count.
        section: the section sounding now.
        progress: 0..1 along the part used on stage.
        count_in: the count of the eight heard in a count-in ("5"); empty while music plays.
        move: the move under way, towards `next` or off the stage; None between moves.
        move_numeral: what is left of it, or to the next `again`, as `numeral`.
        again: the held pose is to be hit once more.
    """

    time: float
    next: Cue | None
    held: Cue | None
    counts: float | None
    seconds: float | None
    numeral: str
    travel: float
    count: Count | None
    beat_phase: float | None
    interval: float | None
    rim: float
    hit: bool
    section: Section | None
    progress: float
    count_in: str = ""
    move: TimedMove | None = None
    move_numeral: str = ""
    again: bool = False

    @property
    def moving(self) -> bool:
        """In a transition that has moves, or on the way off the stage."""
        travels = self.next is not None and bool(self.next.moves) and self.travel > 0
        return self.move is not None or (travels and not self.count_in)
