"""Setting a name as large as its place allows: on more lines, then narrower, never too small."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass

#: From one base line to the next, and what hangs below the last one, in cap heights.
PITCH, DESCENT = 1.36, 0.32
#: Letters may always be this narrow, and this narrow where the name would not fit otherwise.
EASY, NARROWEST = 0.86, 0.55


@dataclass(frozen=True)
class Fitted:
    """Lines of text, the height of their capitals in pixels, and how narrow they are set."""

    lines: tuple[str, ...]
    cap: float
    stretch: float

    @property
    def height(self) -> float:
        """Pixels from the top of the first capitals to the last descender."""
        return block_height(len(self.lines), self.cap)


def block_height(lines: int, cap: float) -> float:
    """Pixels that `lines` lines with capitals of `cap` pixels take."""
    return cap * (1 + (lines - 1) * PITCH + DESCENT)


def fit(
    text: str,
    width: float,
    height: float,
    *,
    least: float,
    most: float,
    advance: Callable[[str], float],
    lines: int = 3,
) -> Fitted:
    """The largest setting of `text` in `width` × `height` pixels.

    Args:
        least, most: cap height in pixels; below `least` nothing is set: letters get narrower
            first, and what still does not fit is cut with an ellipsis.
        advance: width of a text in cap heights, unstretched.
        lines: at most so many.
    """
    best: Fitted | None = None
    rank: tuple[float, ...] = ()
    for split in _splits(text.split(), lines):
        widest = max(advance(line) for line in split)
        room = height / block_height(len(split), 1.0)
        cap = min(most, room, width / (widest * EASY))
        if cap < least <= room and width / (widest * least) >= NARROWEST:
            cap = least
        if cap < least:
            continue
        found = Fitted(split, cap, min(1.0, width / (widest * cap)))
        if best is None or _rank(found, widest) > rank:
            best, rank = found, _rank(found, widest)
    return best or _cut(text, width, height, least, advance, lines)


def _rank(found: Fitted, widest: float) -> tuple[float, ...]:
    # Narrow letters cost more than size; of equals the one with even lines reads best.
    return (found.stretch >= EASY - 1e-6, round(found.cap, 3), -widest)


def _splits(words: list[str], most: int) -> Iterator[tuple[str, ...]]:
    for count in range(1, min(most, len(words)) + 1):
        for cuts in itertools.combinations(range(1, len(words)), count - 1):
            edges = (0, *cuts, len(words))
            yield tuple(" ".join(words[a:b]) for a, b in itertools.pairwise(edges))


def _cut(
    text: str,
    width: float,
    height: float,
    least: float,
    advance: Callable[[str], float],
    most: int,
) -> Fitted:
    room = width / (least * NARROWEST)
    lines: list[str] = []
    rest = text
    count = max(1, min(most, int((height / least - 1 - DESCENT) / PITCH) + 1))
    while rest and len(lines) < count:
        size = len(rest)
        while size > 1 and advance(rest[:size]) > room:
            size -= 1
        if size < len(rest) and " " in rest[:size] and len(lines) + 1 < count:
            size = rest.rindex(" ", 0, size) + 1
        lines.append(rest[:size].strip())
        rest = rest[size:].strip()
    if rest:
        last = lines[-1]
        while last and advance(last + "…") > room:
            last = last[:-1]
        lines[-1] = last.rstrip() + "…"
    return Fitted(tuple(lines), least, NARROWEST)
