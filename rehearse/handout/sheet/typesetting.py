"""The sheet's letters: two bundled faces, a third for other alphabets, lines that fit a width.

What these three lack is taken from a font of the machine, where there is one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from rehearse.files.locations import resource
from rehearse.handout.sheet.direction import printed
from rehearse.handout.sheet.machine import JOINERS, PictureFace, face_for

MM = 72 / 25.4

REGULAR, STRONG, OTHER = "rehearse-regular", "rehearse-strong", "rehearse-other"
_FILES = {
    REGULAR: "fonts/BarlowCondensed-Medium.ttf",
    STRONG: "fonts/BarlowCondensed-SemiBold.ttf",
    OTHER: "fonts/print/DejaVuSansCondensed.ttf",
}
_MISSING = "?"
_pictured: dict[str, PictureFace] = {}


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
    """`text` as printed from the left, in pieces that one face can print each: (font, piece).

    A font is a name for the PDF library, or one of `picture_face`.
    """
    covered = load_faces()
    piece, current = "", font
    for character in printed(text):
        code = ord(character)
        if code in covered[font]:
            wanted, shown = font, character
        elif code in covered[OTHER] and code not in JOINERS:
            wanted, shown = OTHER, character
        elif code in JOINERS:
            wanted, shown = current, character if current in _pictured else ""
        elif (found := face_for(code)) is not None:
            wanted, shown = found.key, character
            if found.pictures is not None:
                _pictured[found.key] = found.pictures
        else:
            wanted, shown = font, _MISSING
        if wanted != current and piece:
            yield current, piece
            piece = ""
        current, piece = wanted, piece + shown
    if piece:
        yield current, piece


def picture_face(font: str) -> PictureFace | None:
    """How words are set in a font of `runs` that the PDF library does not take in."""
    return _pictured.get(font)


def unprintable(text: str) -> str:
    """The characters of `text` that no face has."""
    covered = load_faces()
    known = covered[REGULAR] | covered[OTHER] | JOINERS
    lost = (c for c in printed(text) if ord(c) not in known and c.isprintable())
    return "".join(c for c in dict.fromkeys(lost) if face_for(ord(c)) is None)


def run_width(piece: str, font: str, size: float) -> float:
    """Points of a piece of `runs`."""
    pictured = picture_face(font)
    if pictured is not None:
        return pictured.width(piece) * size
    return float(pdfmetrics.stringWidth(piece, font, size))


def text_width(text: str, size: float, font: str = REGULAR) -> float:
    """Millimetres of a line at `size` points."""
    return size * _width_of_point(text, font)


@lru_cache(maxsize=60_000)
def _width_of_point(text: str, font: str) -> float:
    """Millimetres at one point: rows are laid out in many sizes before one is chosen."""
    if len(text) > 1 and text.isascii():
        return sum(_width_of_point(character, font) for character in text)
    return sum(run_width(p, f, 1000) for f, p in runs(text, font)) / 1000 / MM


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
