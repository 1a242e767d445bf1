"""The catalogue of moves: what can be done between two poses, and how it is found.

The names are words of the trade and of dance (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

from rehearse.files.compiled import load_packaged
from rehearse.files.locations import resource
from rehearse.files.user_error import UserError, UserErrorList, UserErrors
from rehearse.files.yamlfile import Document, load_yaml
from rehearse.routine.model import Move, OwnMove, Side
from rehearse.routine.movekeys import Key, Keys, read_keys
from rehearse.routine.poses import plain
from rehearse.words import _, number_text, read_number, shown

_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_SIDES = {"left": Side.LEFT, "l": Side.LEFT, "right": Side.RIGHT, "r": Side.RIGHT}
#: Between two moves; a comma before a digit is one of a number.
_COMMA = re.compile(r",(?!\d)")
_SIDES |= {shown(side): side for side in Side}
_WORDS = {"name", "counts", "sided", "directions", "synonyms", "say", "keys"}


@dataclass(frozen=True)
class MoveKind:
    """One entry of the catalogue, or one of the athlete's own moves.

    Args:
        name: lower case. counts: how many counts it naturally takes.
        sided: whether it is done with a left or right arm, leg or way round.
        directions: what may be written as its direction; () for a move that has none.
        synonyms: other words people type. say: short form for the voice.
        keys: its key figures by direction, see `routine.movekeys`.
        pictures: photos of an own move. own: added by the athlete.
    """

    name: str
    counts: float
    sided: bool = False
    directions: tuple[str, ...] = ()
    synonyms: tuple[str, ...] = ()
    say: str = ""
    keys: Keys = ()
    pictures: tuple[str, ...] = ()
    own: bool = False

    def figures(self, direction: str = "") -> tuple[Key, ...]:
        """Its key figures in this direction, written for the left side; () for an own move."""
        known = dict(self.keys)
        return known.get(direction) or next(iter(known.values()), ())


@dataclass(frozen=True)
class MoveRequest:
    """A move as it was asked for in words: which, for how many counts, with which side, where."""

    kind: MoveKind
    counts: float
    side: Side | None = None
    direction: str = ""


def word_begins(word: str, name: str) -> bool:
    """Whether a name, as it is stored or shown, begins with `word`."""
    return name.startswith(word) or plain(shown(name)).startswith(word)


def _way(kind: MoveKind, word: str) -> str:
    """The direction of a move that begins with `word`; empty for none."""
    begun = (d for d in kind.directions if word and word_begins(word, d))
    return next(begun, "")


@dataclass(frozen=True)
class MoveCatalogue:
    """All moves that can be placed, found by name or synonym in any spelling."""

    moves: tuple[MoveKind, ...]

    @cached_property
    def _index(self) -> dict[str, MoveKind]:
        index: dict[str, MoveKind] = {}
        for move in self.moves:
            for word in (shown(move.name), *move.synonyms):
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
            name = plain(shown(move.name))
            words_of = (name, *map(plain, (move.name, *move.synonyms)))
            tokens = " ".join(words_of).split()
            if all(any(token.startswith(w) for token in tokens) for w in wanted):
                ranked.append((not name.startswith(" ".join(wanted)), place, move))
        return tuple(move for *_unused, move in sorted(ranked, key=lambda r: r[:2]))

    def wanted(self, text: str) -> tuple[MoveRequest, ...]:
        """What is meant by words as they are typed: "reach r 2", "sweep up", "gather 4".

        A number is counts; left, right or their first letters are the side, or the direction of a
        move that has no side; another last word may be a direction. Best first.
        """
        words, counts, side = plain(_NUMBER.sub(" ", text)).split(), None, None
        if number := _NUMBER.search(text):
            counts = read_number(number[0])
        if len(words) > 1 and words[-1] in _SIDES:
            side = _SIDES[words.pop()]
        found, direction = self.search(" ".join(words)), ""
        if len(words) > 1 and (not found or self._is_way(words)):
            direction = words.pop()
            if len(words) > 1 and words[-1] in _SIDES:
                side = _SIDES[words.pop()]
            found = tuple(k for k in self.search(" ".join(words)) if _way(k, direction))
        return tuple(
            MoveRequest(
                kind,
                counts or kind.counts,
                side if kind.sided else None,
                _way(kind, direction or (str(side) if side and not kind.sided else "")),
            )
            for kind in found
        )

    def _is_way(self, words: list[str]) -> bool:
        """Whether words are a move's name and its direction, and no move's own name."""
        kind = self._index.get(" ".join(words[:-1]))
        whole = self._index.get(" ".join(words))
        named = whole is not None and plain(shown(whole.name)) == " ".join(words)
        return kind is not None and bool(_way(kind, words[-1])) and not named

    def read(self, text: str) -> tuple[MoveRequest, ...]:
        """Moves written one after the other with commas: "gather 4, reach up right 2".

        Raises:
            ValueError: one of them is none; says which, and what to write.
        """
        read = []
        for part in (p.strip() for p in _COMMA.split(text)):
            if part:
                found = self.wanted(part)
                if not found:
                    raise ValueError(
                        _("{part!r} is no move; write its name and its counts", part=part)
                    )
                read.append(found[0])
        return tuple(read)

    def with_own(self, own_moves: Iterable[OwnMove]) -> MoveCatalogue:
        """This catalogue and the athlete's own moves; an own one takes the place of its name."""
        own_moves = tuple(own_moves)
        if not own_moves:
            return self
        own = tuple(
            MoveKind(o.name, 2.0, say=o.say or o.name, pictures=o.pictures, own=True)
            for o in own_moves
        )
        names = {plain(move.name) for move in own}
        return MoveCatalogue(tuple(m for m in self.moves if plain(m.name) not in names) + own)


def written(moves: Iterable[Move]) -> str:
    """Moves as they are typed: "gather 4, reach up right 2"; seconds with their s."""
    return ", ".join(
        " ".join(
            str(part)
            for part in (
                shown(move.move),
                shown(move.side or ""),
                shown(move.direction),
                number_text(move.length.value) + ("" if move.length.in_counts else " s"),
            )
            if part
        )
        for move in moves
    )


@lru_cache(maxsize=1)
def load_moves() -> MoveCatalogue:
    """The packaged moves, read once.

    Raises:
        UserErrors: the file is damaged; all its faults at once.
    """
    path = resource("moves.yaml")
    try:
        return _read_moves(load_packaged(path))
    except UserErrors:
        return _read_moves(load_yaml(path))  # with the lines


def _read_moves(document: Document) -> MoveCatalogue:
    errors, moves = UserErrorList(), []
    for index, entry in enumerate(document.data["moves"]):
        try:
            if unknown := set(entry) - _WORDS:
                raise ValueError(f"has the unknown word {min(unknown)!r}")
            moves.append(_kind(entry))
        except (KeyError, TypeError, ValueError) as error:
            where = document.where("moves", index)
            errors.append(
                UserError(
                    _("is not written like the others ({error})", error=error), where=where, do=""
                )
            )
    if errors:
        raise UserErrors(errors)
    return MoveCatalogue(tuple(moves))


def _kind(entry: Mapping[str, Any]) -> MoveKind:
    return MoveKind(
        name=str(entry["name"]),
        counts=float(entry["counts"]),
        sided=entry.get("sided") is True,
        directions=tuple(str(d) for d in entry.get("directions", ())),
        synonyms=tuple(str(s) for s in entry.get("synonyms", ())),
        say=str(entry.get("say") or entry["name"]),
        keys=read_keys(entry["keys"], entry.get("directions", ())),
    )
