"""Setting words as large as their place allows: on more lines, never squeezed, never cut."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

#: From one base line to the next, and what hangs below the last one, in cap heights.
PITCH, DESCENT = 1.36, 0.32
#: A text of more words is broken greedily instead of in the best of all ways.
_MOST_WORDS = 9


@dataclass(frozen=True)
class Fitted:
    """Lines of text and the height of their capitals in pixels."""

    lines: tuple[str, ...]
    cap: float

    @property
    def height(self) -> float:
        """Pixels from the top of the first capitals to the last descender."""
        return block_height(len(self.lines), self.cap)


def block_height(lines: int, cap: float) -> float:
    """Pixels that `lines` lines with capitals of `cap` pixels take."""
    return cap * (1 + (lines - 1) * PITCH + DESCENT)


def fit(
    texts: Sequence[str],
    width: float,
    height: float,
    *,
    least: float,
    most: float,
    advance: Callable[[str], float],
    lines: int = 3,
) -> Fitted | None:
    """The first of `texts` that has room at `least` or more, set as large as it can be.

    Args:
        texts: the same in words ever fewer, such as a name and its spoken short form.
        width, height: of the place, in pixels.
        least, most: cap height in pixels.
        advance: width of a text in cap heights.
        lines: at most so many; they break at spaces.

    Returns:
        None where none of the texts has room.
    """
    for text in texts:
        best: Fitted | None = None
        rank: tuple[float, ...] = ()
        for split in _splits(text, width, least, advance, lines):
            widest = max(advance(line) for line in split)
            cap = min(most, height / block_height(len(split), 1.0), width / max(widest, 1e-9))
            if cap < least - 1e-6:
                continue
            # Of equals the one on fewer lines, then the one with even lines, reads best.
            if best is None or (round(cap, 3), -len(split), -widest) > rank:
                best, rank = Fitted(split, cap), (round(cap, 3), -len(split), -widest)
        if best is not None:
            return best
    return None


def fit_whole(
    texts: Sequence[str],
    width: float,
    height: float,
    *,
    least: float,
    most: float,
    advance: Callable[[str], float],
    lines: int = 3,
) -> Fitted:
    """As `fit`; where none of `texts` has room, the first that has some with its words broken.

    A name somebody made up may have a word longer than the screen is wide: it goes on, after a
    hyphen, on the next line. Only where even so there are too many lines is it set below `least`,
    as large as it can be whole; the checks ask for a short form of it.
    """
    part = 1.0
    while True:
        sizes = {"least": least * part, "most": max(most, least) * min(1.0, part)}
        room = width / (least * part)
        for words in (texts, tuple(_hyphened(text, room, advance) for text in texts)):
            found = fit(words, width, height, **sizes, advance=advance, lines=lines)
            if found is not None:
                return found
        part *= 0.9
        lines = max(lines, 4)


def start_of(
    text: str,
    width: float,
    height: float,
    *,
    cap: float,
    advance: Callable[[str], float],
) -> Fitted | None:
    """As many whole words of `text` as have room, for a note; None where not even one has."""
    room = int((height / cap - 1 - DESCENT) / PITCH + 1e-6) + 1 if height >= cap else 0
    broken = _greedy(text.split(), width / cap, advance)[: max(room, 0)]
    kept = tuple(itertools.takewhile(lambda line: advance(line) * cap <= width, broken))
    return Fitted(kept, cap) if kept else None


def _splits(
    text: str, width: float, least: float, advance: Callable[[str], float], most: int
) -> Iterator[tuple[str, ...]]:
    words = text.split()
    if len(words) > _MOST_WORDS:
        for share in (1.0, 0.8, 0.65, 0.5):  # of the letters that would have room at `least`
            lines = _greedy(words, width / least * share, advance)
            if len(lines) <= most:
                yield lines
        return
    for count in range(1, min(most, len(words)) + 1):
        for cuts in itertools.combinations(range(1, len(words)), count - 1):
            edges = (0, *cuts, len(words))
            yield tuple(" ".join(words[a:b]) for a, b in itertools.pairwise(edges))


def _hyphened(text: str, room: float, advance: Callable[[str], float]) -> str:
    """`text` with each word that is wider than `room` cap heights broken by hyphens."""
    words: list[str] = []
    for word in text.split():
        rest = word
        while advance(rest) > room and len(rest) > 2:
            fits = (k for k in range(len(rest) - 1, 1, -1) if advance(f"{rest[:k]}-") <= room)
            cut = next(fits, 1)
            words.append(f"{rest[:cut]}-")
            rest = rest[cut:]
        words.append(rest)
    return " ".join(words)


def _greedy(words: Sequence[str], room: float, advance: Callable[[str], float]) -> tuple[str, ...]:
    lines: list[str] = []
    for word in words:
        if lines and advance(f"{lines[-1]} {word}") <= room:
            lines[-1] = f"{lines[-1]} {word}"
        else:
            lines.append(word)
    return tuple(lines)
