"""Whose body is drawn: a man's or a woman's, in the dress of a division, its skin light or dark."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from rehearse.routine.model import DRESSES, FIGURES, SKINS, Routine

#: By how much shoes with heels point a foot that would stand flat, in degrees.
RISE = 34.0

#: Words of a division's name, its dress, and whether it wears heels (common practice, no source;
#: women's physique and bodybuilding are barefoot); the first line that fits counts, the last one
#: where none does.
_WORN = {
    "man": (
        (r"(?<!classic )physique|board ?shorts", "board shorts", False),
        ("", "briefs", False),
    ),
    "woman": (
        (r"bikini|wellness|figure|model", "two-piece", True),
        (r"fitness", "one-piece", True),
        ("", "two-piece", False),
    ),
}


@dataclass(frozen=True)
class BodyBuild:
    """How a body differs from the man's the poses are written for; 1 is the man's.

    Args:
        height: of the whole. shoulders: their width, that of the chest with them.
        chest, waist, hips: depth and girth of ribs, waist and pelvis.
        arms, thighs, calves, neck: girths.
    """

    height: float = 1.0
    shoulders: float = 1.0
    chest: float = 1.0
    waist: float = 1.0
    hips: float = 1.0
    arms: float = 1.0
    thighs: float = 1.0
    calves: float = 1.0
    neck: float = 1.0


BUILDS = {
    "man": BodyBuild(),
    "woman": BodyBuild(0.955, 0.82, 0.84, 0.80, 1.09, 0.78, 0.97, 0.87, 0.76),
}


@dataclass(frozen=True)
class Look:
    """One look of the figure.

    Args:
        figure, dress, skin: of `model.FIGURES`, `DRESSES` and `SKINS`.
        heels: whether the shoes of the division have heels.
    """

    figure: str = FIGURES[0]
    dress: str = DRESSES[0]
    skin: str = SKINS[0]
    heels: bool = False

    @property
    def build(self) -> BodyBuild:
        """The proportions."""
        return BUILDS[self.figure]


#: The body meant where nothing is said.
MAN = Look()


@lru_cache(maxsize=64)
def look_of(figure: str, division: str = "", dress: str = "", skin: str = SKINS[0]) -> Look:
    """The look of a routine.

    Args:
        figure, skin: of `model.FIGURES` and `SKINS`.
        division: as the show calls it; its dress is worn.
        dress: one of `model.DRESSES` to be worn instead; empty: the division's.
    """
    text = division.casefold()
    worn, heels = next((d, h) for words, d, h in _WORN[figure] if re.search(words, text))
    return Look(figure, dress or worn, skin, heels)


def look_of_routine(routine: Routine) -> Look:
    """Whose body shows this routine, and in which dress."""
    return look_of(routine.figure, routine.division, routine.dress, routine.skin)
