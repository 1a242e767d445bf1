"""The catalogue of poses: names, facings, levels, spoken forms, synonyms and figures."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

from rehearse.files.resources import resource
from rehearse.routine.look import MAN, Look, look_of_routine
from rehearse.routine.model import OwnPose, Routine
from rehearse.routine.pose import Pose
from rehearse.routine.posefile import read_poses

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
            for word in pose.synonyms:
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
            name = plain(pose.name)
            words_of = (*pose.synonyms, pose.say, pose.form_of, pose.kind)
            text = " ".join([name, *map(plain, words_of), pose.facing, pose.level])
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


@lru_cache(maxsize=4096)
def plain(text: str) -> str:
    """A name as it is compared: lower case, without accents, hyphens and doubled spaces."""
    letters = unicodedata.normalize("NFKD", text.casefold())
    kept = (c if c.isalnum() else " " for c in letters if not unicodedata.combining(c))
    return " ".join("".join(kept).split())


@lru_cache(maxsize=1)
def load_catalogue() -> Catalogue:
    """The packaged poses, read once.

    Raises:
        Faults: the file is damaged; all its faults at once.
    """
    return Catalogue(read_poses(resource("poses.yaml")))


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
