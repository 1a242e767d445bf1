"""The sheet's letters: two bundled faces, a third for other alphabets, lines that fit a width."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from rehearse.files.resources import resource
from rehearse.handout.sheet.direction import printed

MM = 72 / 25.4

REGULAR, STRONG, OTHER = "rehearse-regular", "rehearse-strong", "rehearse-other"
_FILES = {
    REGULAR: "fonts/BarlowCondensed-Medium.ttf",
    STRONG: "fonts/BarlowCondensed-SemiBold.ttf",
    OTHER: "fonts/print/DejaVuSansCondensed.ttf",
}
_MISSING = "?"


@lru_cache(maxsize=1)
def load_faces() -> dict[str, frozenset[int]]:
    """Register the faces with the PDF library; for each the characters it has."""
    covered = {}
    for name, file in _FILES.items():
        font = TTFont(name, str(resource(file)))
        pdfmetrics.registerFont(font)
        covered[name] = frozenset(font.face.charToGlyph)
    return covered


def runs(text: str, font: str) -> Iterator[tuple[str, str]]:
    """`text` as printed from the left, in pieces that one face can print each: (font, piece)."""
    covered = load_faces()
    piece, current = "", font
    for character in printed(text):
        if ord(character) in covered[font]:
            wanted, shown = font, character
        elif ord(character) in covered[OTHER]:
            wanted, shown = OTHER, character
        else:
            wanted, shown = font, _MISSING
        if wanted != current and piece:
            yield current, piece
            piece = ""
        current, piece = wanted, piece + shown
    if piece:
        yield current, piece


def unprintable(text: str) -> str:
    """The characters of `text` that neither face has."""
    covered = load_faces()
    known = covered[REGULAR] | covered[OTHER]
    lost = (c for c in printed(text) if ord(c) not in known and c.isprintable())
    return "".join(dict.fromkeys(lost))


def text_width(text: str, size: float, font: str = REGULAR) -> float:
    """Millimetres of a line at `size` points."""
    return size * _width_of_point(text, font)


@lru_cache(maxsize=60_000)
def _width_of_point(text: str, font: str) -> float:
    """Millimetres at one point: rows are laid out in many sizes before one is chosen."""
    if len(text) > 1 and text.isascii():
        return sum(_width_of_point(character, font) for character in text)
    return float(sum(pdfmetrics.stringWidth(p, f, 1000) for f, p in runs(text, font))) / 1000 / MM


def wrap(
    text: str, size: float, width: float, font: str = REGULAR, most: int = 99
) -> tuple[str, ...]:
    """`text` in lines no wider than `width` mm, at most `most`; what is left out ends in "…"."""
    lines: list[str] = []
    for paragraph in text.splitlines():
        line = ""
        for word in _breakable(paragraph.split(), size, width, font):
            longer = f"{line} {word}".strip()
            if line and text_width(longer, size, font) > width:
                lines.append(line)
                longer = word
            line = longer
        lines.append(line)
    if len(lines) > most:
        lines = [*lines[: most - 1], shortened(f"{lines[most - 1]} …", size, width, font)]
    return tuple(lines)


def _breakable(words: Sequence[str], size: float, width: float, font: str) -> Iterator[str]:
    for word in words:
        while len(word) > 1 and text_width(word, size, font) > width:
            cut = next(
                n
                for n in range(len(word) - 1, 0, -1)
                if n == 1 or text_width(word[:n], size, font) <= width
            )
            yield word[:cut]
            word = word[cut:]
        yield word


def shortened(text: str, size: float, width: float, font: str = REGULAR) -> str:
    """`text` cut to `width` mm, ending in "…" when cut."""
    if text_width(text, size, font) <= width:
        return text
    body = text.rstrip(" …")
    while body and text_width(f"{body}…", size, font) > width:
        body = body[:-1].rstrip()
    return f"{body}…"


def fitted(text: str, size: float, width: float, font: str, least: float) -> float:
    """The largest size from `size` down to `least` points at which `text` fits `width` mm."""
    wide = text_width(text, size, font)
    return size if wide <= width else max(least, size * width / wide)
