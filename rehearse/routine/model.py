"""The routine as data: frozen, with tuples; every edit makes a new one.

Conventions: positions are `Count` or `Seconds` (see `music.position`); left and right are the
athlete's own; a facing is where the athlete looks, seen from the judges.
"""

from __future__ import annotations

import math
import os
from dataclasses import dataclass, field
from enum import StrEnum

from rehearse.music.beatmap import BeatMap
from rehearse.music.cut import Cut
from rehearse.music.position import Length, Position

#: The version of routine.yaml written by this program; a higher one is refused.
FORMAT = 2
#: Poses of one routine, moves of one transition and characters of a note: far beyond any, and
#: still read at once.
MOST_POSES, MOST_MOVES, LONGEST_NOTE = 2000, 64, 20_000
#: The figures that can show a routine; the first is meant where none is written.
FIGURES = ("man", "woman")
#: Competition dress where it is not the division's own, and skins; the first skin is meant.
DRESSES = ("briefs", "board shorts", "two-piece", "one-piece")
SKINS = ("light", "dark")


class Facing(StrEnum):
    """Which of the athlete's sides the judges see, in the order of a turn to the own right."""

    FRONT = "front"
    LEFT_FRONT = "left front"
    LEFT = "left side"
    LEFT_BACK = "left back"
    BACK = "back"
    RIGHT_BACK = "right back"
    RIGHT = "right side"
    RIGHT_FRONT = "right front"

    @property
    def turned(self) -> float:
        """Degrees the athlete is turned to the own right, 0 to 315."""
        return 45.0 * list(Facing).index(self)

    @property
    def looks(self) -> tuple[float, float]:
        """Where the face looks in a plan with the judges below: to the right, and down."""
        angle = math.radians(self.turned)
        return -math.sin(angle), math.cos(angle)

    @property
    def other_side(self) -> Facing:
        """The same facing seen in a mirror."""
        return list(Facing)[-list(Facing).index(self)]

    def quarter_turned(self) -> Facing:
        """The facing after a quarter turn to the athlete's right."""
        return list(Facing)[(list(Facing).index(self) + 2) % 8]


class Side(StrEnum):
    """The athlete's own left or right: an arm, a leg, the way round of a turn."""

    LEFT = "left"
    RIGHT = "right"


class Place(StrEnum):
    """Where on the stage, as the athlete sees it: front is toward the judges."""

    CENTRE = "centre"
    LEFT = "left"
    RIGHT = "right"
    FRONT = "front"
    FRONT_LEFT = "front left"
    FRONT_RIGHT = "front right"
    BACK = "back"
    BACK_LEFT = "back left"
    BACK_RIGHT = "back right"


class Level(StrEnum):
    """How high the body is."""

    STANDING = "standing"
    LUNGE = "lunge"
    KNEELING = "kneeling"


def new_id() -> str:
    """A stable name for a placed pose or section: eight hex digits, random."""
    return os.urandom(4).hex()


@dataclass(frozen=True)
class Move:
    """One movement between two poses.

    Args:
        id: stable, never shown.
        move: key in the catalogue of moves ("gather") or of an own move.
        length: how long it takes, in counts or, in free time, in seconds.
        side: the arm, leg or way it is done with; None where it has none.
        direction: where it goes, one of the directions its catalogue entry lists, or empty.
        note: the coach's word on it.
    """

    id: str
    move: str
    length: Length
    side: Side | None = None
    direction: str = ""
    note: str = ""


@dataclass(frozen=True)
class Placed:
    """One pose at its place in the music.

    Args:
        id: stable, never shown; history and takeovers hang on it.
        pose: key in the pose catalogue ("front double biceps") or of an own pose.
        hit: where the pose is hit.
        hold: how long it stays after the hit.
        transition: how long the travel before the hit takes.
        facing, level: when they differ from the pose's own; None takes the pose's.
        note: the coach's word on it, up to `LONGEST_NOTE` characters; shown small.
        say: a short form for the spoken cue; empty: the pose's own.
        pinned: whether it keeps its place when others are put in or taken out; None: as the music
            says, which is that a hit on an accent does (see `accents.is_pinned`).
        moves: what fills the transition from its start, in order; what is left of the transition
            is the way into the pose.
        turn: which way round the body turns into the pose; None: the shorter way.
        again: where inside the hold the same pose is hit once more, in order.
        place: where on the stage the pose is held; None: where the one before was.
    """

    id: str
    pose: str
    hit: Position
    hold: Length = field(default_factory=lambda: Length(4))
    transition: Length = field(default_factory=lambda: Length(2))
    facing: Facing | None = None
    level: Level | None = None
    note: str = ""
    say: str = ""
    pinned: bool | None = None
    moves: tuple[Move, ...] = ()
    turn: Side | None = None
    again: tuple[Position, ...] = ()
    place: Place | None = None

    def times(self, beatmap: BeatMap) -> tuple[float, float, float]:
        """Seconds at which the transition begins, the pose is hit and the hold ends.

        Raises:
            KeyError: the map has no such count.
        """
        hit = beatmap.time_of(self.hit)
        back = Length(-self.transition.value, self.transition.in_counts)
        return max(0.0, beatmap.shift(hit, back)), hit, beatmap.shift(hit, self.hold)


@dataclass(frozen=True)
class Section:
    """A named stretch of the routine that is drilled by itself, [start, end)."""

    id: str
    name: str
    start: Position
    end: Position


@dataclass(frozen=True)
class StagePart:
    """The part of the track used on stage: seconds of the track, fades in seconds."""

    start: float
    end: float
    fade_in: float = 0.0
    fade_out: float = 0.0

    @property
    def length(self) -> float:
        """Seconds on stage."""
        return self.end - self.start


@dataclass(frozen=True)
class OwnPose:
    """A pose the athlete added: a name and, if wished, a photo in `pictures/`."""

    name: str
    facing: Facing = Facing.FRONT
    level: Level = Level.STANDING
    picture: str = ""
    say: str = ""


@dataclass(frozen=True)
class OwnMove:
    """A move the athlete added: a name and, if wished, photos in `pictures/`, shown in turn."""

    name: str
    pictures: tuple[str, ...] = ()
    say: str = ""


@dataclass(frozen=True)
class Aside:
    """What lost its music in a cut, kept until its music comes back.

    Args:
        poses, sections: their positions are `Seconds` of the song that is cut, not of the cut.
    """

    poses: tuple[Placed, ...] = ()
    sections: tuple[Section, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.poses or self.sections)


@dataclass(frozen=True)
class Routine:
    """A routine: its song, its stage part, its poses in the order of their hits, its sections.

    Args:
        title: name of the routine.
        track: file name of the song inside the folder; empty: none yet, only rounds are rehearsed.
        show, division, show_date: the show it is for; date as ISO 8601 (YYYY-MM-DD) or empty.
        rules: key of the rule set ("open-60").
        stage: part of the track used on stage; None: the whole track.
        poses: ordered by hit. sections: ordered by start. own_poses: by name.
        exit: the way off after the last hold, in order. own_moves: by name.
        cut: how `track` was made of parts of a song; None: it is the song itself.
        aside: what has no music in the cut.
        figure: the figure that shows it, "man" or "woman". dress: one of `DRESSES`; empty: that
            of the division. skin: one of `SKINS`.
        id: the routine's own name, never shown: what was practised of it is kept under it, wherever
            the folder lies. No part of what is compared: two states of one routine share it.
    """

    title: str
    track: str
    show: str = ""
    division: str = ""
    show_date: str = ""
    rules: str = ""
    stage: StagePart | None = None
    poses: tuple[Placed, ...] = ()
    sections: tuple[Section, ...] = ()
    own_poses: tuple[OwnPose, ...] = ()
    id: str = field(default="", compare=False)
    exit: tuple[Move, ...] = ()
    own_moves: tuple[OwnMove, ...] = ()
    figure: str = FIGURES[0]
    dress: str = ""
    skin: str = SKINS[0]
    cut: Cut | None = None
    aside: Aside = Aside()

    @property
    def pictures(self) -> tuple[tuple[str, str], ...]:
        """Own photos the routine names, each with the own pose or move it shows."""
        poses = ((own.picture, own.name) for own in self.own_poses if own.picture)
        moves = ((picture, own.name) for own in self.own_moves for picture in own.pictures)
        return (*poses, *moves)

    def placed(self, pose_id: str) -> Placed:
        """The placed pose with this id.

        Raises:
            KeyError: there is none.
        """
        for placed in self.poses:
            if placed.id == pose_id:
                return placed
        raise KeyError(pose_id)

    def section(self, section_id: str) -> Section:
        """The section with this id.

        Raises:
            KeyError: there is none.
        """
        for section in self.sections:
            if section.id == section_id:
                return section
        raise KeyError(section_id)
