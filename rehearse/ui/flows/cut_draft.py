"""A cut on its way: its parts, the joins found, the steps that can be taken back."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from rehearse.music import cutedit
from rehearse.music.beatmap import BeatMap
from rehearse.music.cut import Cut, CutPart, map_of_cut
from rehearse.music.joins import Joined, Joiner, join_all
from rehearse.words import _, ngettext

Parts = tuple[CutPart, ...]


@dataclass(frozen=True)
class Draft:
    """One state: a recipe's parts, its joins, the fade at its end; `row` of the list it is of."""

    parts: Parts
    joins: tuple[Joined, ...] = ()
    fade_out: float = 0.0
    row: int = 0


class Drafts:
    """The draft now and those before it.

    Args:
        joiner: finds the joins of the song. like: a cut of the song; only its parts differ.
    """

    def __init__(self, joiner: Joiner, like: Cut) -> None:
        self._joiner, self._like = joiner, like
        self._steps: list[Draft] = []

    @property
    def now(self) -> Draft | None:
        """The draft; None before anything was chosen."""
        return self._steps[-1] if self._steps else None

    @property
    def cut(self) -> Cut | None:
        """The draft as a recipe."""
        now = self.now
        return None if now is None else Cut(self._like.song, self._like.hash, "", now.parts)

    @property
    def beatmap(self) -> BeatMap:
        """The song's map."""
        return self._joiner.beatmap

    def put(self, draft: Draft) -> None:
        """A version was chosen."""
        if draft != self.now:
            self._steps.append(draft)

    def judged(self, parts: Parts) -> tuple[Joined, ...]:
        """The joins of a recipe that was made earlier, as they are."""
        pairs = itertools.pairwise(parts)
        return tuple(self._joiner.judge(before.end, part) for before, part in pairs)

    def back(self) -> bool:
        """Take the last step back; False when there is none."""
        if len(self._steps) < 2:
            return False
        self._steps.pop()
        return True

    # -- by hand ----------------------------------------------------------------------------
    def add(self, start: float, end: float, row: int) -> int:
        """Add a part, on eights where they are near; its index."""
        ends = [cutedit.on_eight(self.beatmap, time) for time in (start, end)]
        parts = self.now.parts if self.now else ()
        self._change(cutedit.with_part(parts, *ends), row)
        return self._index(ends[0])

    def delete(self, index: int, row: int) -> None:
        """Take a part out."""
        self._change(cutedit.without_part(self._parts, index), row)

    def move(self, index: int, end: str, time: float, row: int, *, eights: bool = True) -> None:
        """Move an end of a part, onto an eight where one is near or else onto a beat."""
        time = cutedit.on_eight(self.beatmap, time) if eights else time
        self._change(cutedit.with_edge(self._parts, index, end, time), row)

    def shift(self, index: int, counts: int, row: int) -> None:
        """Move the join before a part by counts; it stays there."""
        parts = cutedit.with_shift(self._parts, index, counts, self.beatmap)
        self._change(parts, row, by_hand=index)

    @property
    def _parts(self) -> Parts:
        return self.now.parts if self.now else ()

    def _change(self, parts: Parts, row: int, by_hand: int = 0) -> None:
        now = self.now
        known: Sequence[Joined] = now.joins if now else ()
        made, joins = join_all(self._joiner, parts, known, by_hand)
        self.put(Draft(made, joins, now.fade_out if now else 0.0, row))

    def _index(self, time: float) -> int:
        return cutedit.part_at(self._parts, time + 0.1)

    # -- in words ---------------------------------------------------------------------------
    def words(self, limit: float) -> str:
        """Length against the limit, joins, and what else is to be said."""
        cut, now = self.cut, self.now
        if cut is None or now is None:
            return ""
        over = cut.length - limit
        length = _("{length:.1f} s of {limit:g} s", length=cut.length, limit=limit)
        if over > 0.0005:
            length = _(
                "▲ {length:.1f} s, {over:.1f} s over the limit of {limit:g} s",
                length=cut.length,
                over=over,
                limit=limit,
            )
        said = [length, *_of_joins(now.joins)]
        broken = cutedit.broken_eights(map_of_cut(self.beatmap, cut))
        if broken:
            said.append(
                ngettext(
                    "1 eight is not whole", "{broken} eights are not whole", broken, broken=broken
                )
            )
        return " · ".join(said)


def _of_joins(joins: Sequence[Joined]) -> list[str]:
    if len(joins) == 1:
        return [_("the join {sentence}", sentence=joins[0].sentence)]
    return [
        _("join {k} {sentence}", k=k, sentence=joined.sentence) for k, joined in enumerate(joins, 1)
    ]
