"""The catalogue of moves: what can be done between two poses, and how it is found.

The names are words of the trade and of dance (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

from rehearse.files.fault import Fault, FaultList, Faults
from rehearse.files.resources import resource
from rehearse.files.yamlfile import load_yaml
from rehearse.routine.model import OwnMove
from rehearse.routine.poses import plain

_WORDS = {"name", "counts", "sided", "directions", "synonyms", "say", "keys"}


@dataclass(frozen=True)
class MoveKind:
    """One entry of the catalogue, or one of the athlete's own moves.

    Args:
        name: lower case. counts: how many counts it naturally takes.
        sided: whether it is done with a left or right arm, leg or way round.
        directions: what may be written as its direction; () for a move that has none.
        synonyms: other words people type. say: short form for the voice.
        keys: its key figures as they are written in `resources/moves.yaml`.
        pictures: photos of an own move. own: added by the athlete.
    """

    name: str
    counts: float
    sided: bool = False
    directions: tuple[str, ...] = ()
    synonyms: tuple[str, ...] = ()
    say: str = ""
    keys: tuple[Mapping[str, Any], ...] = ()
    pictures: tuple[str, ...] = ()
    own: bool = False


@dataclass(frozen=True)
class MoveCatalogue:
    """All moves that can be placed, found by name or synonym in any spelling."""

    moves: tuple[MoveKind, ...]

    @cached_property
    def _index(self) -> dict[str, MoveKind]:
        index: dict[str, MoveKind] = {}
        for move in self.moves:
            for word in move.synonyms:
                index.setdefault(plain(word), move)
        return index | {plain(move.name): move for move in self.moves}

    def find(self, name: str) -> MoveKind:
        """The move of this name or synonym; capitals, hyphens and spaces do not matter.

        Raises:
            KeyError: the catalogue has no such move.
        """
        return self._index[plain(name)]

    def search(self, words: str) -> tuple[MoveKind, ...]:
        """Moves that hold every word in their name or synonyms, best first, then by order."""
        wanted = plain(words).split()
        ranked = []
        for place, move in enumerate(self.moves):
            name = plain(move.name)
            tokens = " ".join([name, *(plain(s) for s in move.synonyms)]).split()
            if all(any(token.startswith(w) for token in tokens) for w in wanted):
                ranked.append((not name.startswith(" ".join(wanted)), place, move))
        return tuple(move for _, _, move in sorted(ranked, key=lambda r: r[:2]))

    def with_own(self, own_moves: Iterable[OwnMove]) -> MoveCatalogue:
        """This catalogue and the athlete's own moves; an own one takes the place of its name."""
        own = tuple(
            MoveKind(o.name, 2.0, say=o.say or o.name, pictures=o.pictures, own=True)
            for o in own_moves
        )
        names = {plain(move.name) for move in own}
        return MoveCatalogue(tuple(m for m in self.moves if plain(m.name) not in names) + own)


@lru_cache(maxsize=1)
def load_moves() -> MoveCatalogue:
    """The packaged moves, read once.

    Raises:
        Faults: the file is damaged; all its faults at once.
    """
    document = load_yaml(resource("moves.yaml"))
    faults, moves = FaultList(), []
    for index, entry in enumerate(document.data["moves"]):
        try:
            if unknown := set(entry) - _WORDS:
                raise ValueError(f"has the unknown word {min(unknown)!r}")
            moves.append(_kind(entry))
        except (KeyError, TypeError, ValueError) as error:
            where = document.where("moves", index)
            faults.append(Fault(f"is not written like the others ({error})", where=where, do=""))
    if faults:
        raise Faults(faults)
    return MoveCatalogue(tuple(moves))


def _kind(entry: Mapping[str, Any]) -> MoveKind:
    return MoveKind(
        name=str(entry["name"]),
        counts=float(entry["counts"]),
        sided=entry.get("sided") is True,
        directions=tuple(str(d) for d in entry.get("directions", ())),
        synonyms=tuple(str(s) for s in entry.get("synonyms", ())),
        say=str(entry.get("say") or entry["name"]),
        keys=tuple(entry.get("keys", ())),
    )
