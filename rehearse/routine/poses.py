"""The catalogue of poses: names, facings, levels, forms, synonyms; and its order of choosing."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

from rehearse.files.locations import resource
from rehearse.routine.look import MAN, Look, look_of_routine
from rehearse.routine.model import Facing, Level, OwnPose, Routine
from rehearse.routine.pose import Pose
from rehearse.routine.posefile import read_poses
from rehearse.words import shown

if TYPE_CHECKING:
    from rehearse.routine.rules import RuleSet

__all__ = ["Catalogue", "Pose", "load_catalogue", "plain"]


@dataclass(frozen=True)
class Catalogue:
    """All poses that can be placed, found by name or synonym in any spelling."""

    poses: tuple[Pose, ...]

    @cached_property
    def _with(self) -> dict[tuple[OwnPose, ...], Catalogue]:
        return {}

    @cached_property
    def _shown_by(self) -> dict[Look, Catalogue]:
        return {}

    @cached_property
    def _index(self) -> dict[str, Pose]:
        index: dict[str, Pose] = {}
        for pose in self.poses:
            for word in (shown(pose.name), *pose.synonyms):
                index.setdefault(plain(word), pose)
        # A pose's own name always wins over another one's synonym.
        return index | {plain(pose.name): pose for pose in self.poses}

    def find(self, name: str) -> Pose:
        """The pose of this name or synonym; capitals, hyphens and spaces do not matter.

        Raises:
            KeyError: the catalogue has no such pose.
        """
        return self._index[plain(name)]

    def search(self, words: str) -> tuple[Pose, ...]:
        """Poses that hold every word in their name or synonyms, best first, then by order."""
        wanted = plain(words).split()
        ranked = []
        for place, pose in enumerate(self.poses):
            name = plain(shown(pose.name))
            words_of = (
                pose.name,
                *pose.synonyms,
                pose.say,
                shown(pose.say),
                pose.form_of,
                pose.kind,
            )
            stance = (pose.facing, pose.level, shown(pose.facing), shown(pose.level))
            text = " ".join([name, *map(plain, words_of), *map(plain, stance)])
            tokens = text.split()
            if all(any(token.startswith(w) for token in tokens) for w in wanted):
                ranked.append((not name.startswith(" ".join(wanted)), place, pose))
        return tuple(pose for _, _, pose in sorted(ranked, key=lambda r: r[:2]))

    def with_own(self, own_poses: Iterable[OwnPose]) -> Catalogue:
        """This catalogue and the athlete's own poses; an own one takes the place of its name."""
        wanted = tuple(own_poses)
        if not wanted:
            return self
        if wanted not in self._with:
            # A routine's own poses seldom change, and every look-up asks for them.
            self._with.clear()
            own = tuple(_own_pose(pose, self) for pose in wanted)
            names = {plain(pose.name) for pose in own}
            rest = tuple(p for p in self.poses if plain(p.name) not in names)
            self._with[wanted] = Catalogue(rest + own)
        return self._with[wanted]

    def of(self, routine: Routine) -> Catalogue:
        """What this routine can show: its own poses too, all by its figure in its dress."""
        known, look = self.with_own(routine.own_poses), look_of_routine(routine)
        if look == MAN:
            return known
        if look not in known._shown_by:
            known._shown_by.clear()
            poses = tuple(replace(pose, look=look) for pose in known.poses)
            known._shown_by[look] = Catalogue(poses)
        return known._shown_by[look]


#: What is no letter and no figure of ASCII, which nearly all names are written in: a space.
_SIGNS = {code: " " for code in range(128) if not chr(code).isalnum()}


@lru_cache(maxsize=4096)
def plain(text: str) -> str:
    """A name as it is compared: lower case, without accents, hyphens and doubled spaces."""
    if text.isascii():
        return " ".join(text.lower().translate(_SIGNS).split())
    letters = unicodedata.normalize("NFKD", text.casefold())
    kept = (c if c.isalnum() else " " for c in letters if not unicodedata.combining(c))
    return " ".join("".join(kept).split())


@lru_cache(maxsize=1)
def load_catalogue() -> Catalogue:
    """The packaged poses, read once.

    Raises:
        UserErrors: the file is damaged; all its faults at once.
    """
    return Catalogue(read_poses(resource("poses.yaml"), packaged=True))


def _own_pose(own: OwnPose, catalogue: Catalogue) -> Pose:
    stance = catalogue.find("front stance")
    pose = replace(
        stance,
        name=own.name,
        kind="free",
        side="",
        synonyms=(),
        say=own.say or own.name,
        picture=own.picture,
        own=True,
    )
    figure = pose.seen(own.facing, own.level)
    return replace(pose, facing=own.facing, level=own.level, figure=figure)


#: The groups in their order, as they are called.
GROUPS = (
    "Mandatory",
    "Other mandatory",
    "Free",
    "Side",
    "Back",
    "Low",
    "Presentation",
    "Own",
)

_BACK = (Facing.BACK, Facing.LEFT_BACK, Facing.RIGHT_BACK)


def grouped(
    poses: Iterable[Pose], rules: RuleSet, figure: str
) -> tuple[tuple[str, tuple[Pose, ...]], ...]:
    """Groups of poses, each with its name; none is empty, and every pose is in one of them.

    Args:
        poses: those of a catalogue, in its order.
        rules: what they ask for comes first, in their order and in the form they ask for; where
            they name no pose, all that are mandatory anywhere.
        figure: of `model.FIGURES`; some rules ask more of men.
    """
    known = tuple(poses)
    asked = [plain(name) for name in (*rules.mandatory_for(figure), *rules.required)]
    placed = [(*place, k) for k, p in enumerate(known) if (place := _place(p, asked, rules))]
    first = [known[k] for *_, k in sorted(placed)]
    groups: dict[str, list[Pose]] = {name: [] for name in GROUPS}
    groups["Mandatory"] += first
    rest = [pose for pose in known if pose not in first]
    for pose in sorted(rest, key=lambda pose: bool(pose.form_of)):
        groups[_group(pose, "Other mandatory" if first else "Mandatory")].append(pose)
    return tuple((shown(name), tuple(found)) for name, found in groups.items() if found)


def _place(pose: Pose, asked: list[str], rules: RuleSet) -> tuple[int, bool] | None:
    """Where a pose stands among those asked for; None when the rules do not name it."""
    name = plain(pose.name)
    families = [k for k, family in enumerate(asked) if name.startswith(family)]
    if pose.own or not families:
        return None
    # Of a family the form asked for leads: with open hands where the rules say so.
    with_open = any(name.startswith(plain(family)) for family in rules.open_hands)
    is_open = "open" in name.split()
    return families[0], not is_open if with_open else bool(pose.form_of)


def _group(pose: Pose, mandatory: str) -> str:
    if pose.own:
        return "Own"
    if pose.kind != "free":
        return mandatory if pose.kind == "mandatory" else "Presentation"
    if pose.level is not Level.STANDING:
        return "Low"
    if pose.facing in _BACK:
        return "Back"
    return "Free" if pose.facing is Facing.FRONT and not pose.side else "Side"
