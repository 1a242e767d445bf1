"""One pose: what it is called, how it stands, and its figure from any side and at any level."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from rehearse.routine.bones import Figure, Limb
from rehearse.routine.look import MAN, Look
from rehearse.routine.model import Facing, Level

#: The pose whose legs carry any other one that is done at this level.
LEGS_OF = {
    Level.STANDING: "front stance",
    Level.LUNGE: "lunge double biceps left",
    Level.KNEELING: "kneeling double biceps",
}


@dataclass(frozen=True)
class Pose:
    """One pose of the trade, or one of the athlete's own.

    Args:
        name: as in the trade, lower case.
        facing: which of the athlete's sides the judges see. level: how high the body is.
        side: "left", "right" or "" when the pose has no side; always the athlete's own.
        kind: "mandatory", "free" or "presentation".
        synonyms: other names it is found by. say: short form for the spoken cue.
        figure: the body in this pose.
        picture: the athlete's own photo in `pictures/`, or empty. own: added by the athlete.
        form_of: name of the pose this is another form of, or empty; where bodies differ, the rule
            set asks for one form or the other.
        look: whose body shows it; no part of what the pose is.
        legs: left and right leg that carry it at each level.
    """

    name: str
    facing: Facing
    level: Level
    side: str
    kind: str
    synonyms: tuple[str, ...]
    say: str
    figure: Figure
    picture: str = ""
    own: bool = False
    form_of: str = ""
    look: Look = field(default=MAN, compare=False, repr=False)
    legs: Mapping[Level, tuple[Limb, Limb]] = field(default_factory=dict, compare=False, repr=False)

    def seen(self, facing: Facing | None = None, level: Level | None = None) -> Figure:
        """The figure when the pose is done with another facing or at another level."""
        figure = self.figure
        if facing is not None and facing is not self.facing:
            turn = facing.turned - self.facing.turned
            figure = replace(figure, turn=(figure.turn + turn) % 360)
        if level is not None and level is not self.level and level in self.legs:
            left, right = self.legs[level]
            figure = replace(figure, left_leg=left, right_leg=right)
        return figure
