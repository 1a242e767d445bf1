"""The bundled condensed face: the same letters on every machine, figures of equal width."""

from __future__ import annotations

from functools import cache

from PySide6.QtGui import QFont, QFontDatabase, QFontMetricsF

from rehearse.files.locations import resource

FAMILY = "Barlow Condensed"
_FILES = ("BarlowCondensed-Medium.ttf", "BarlowCondensed-SemiBold.ttf")
#: Signs and alphabets that the face lacks (▲ ✓ ○ …), where the system has no font with them.
FALLBACK = "DejaVu Sans Condensed"
_FALLBACK_FILE = "print/DejaVuSansCondensed.ttf"


@cache
def load_fonts() -> str:
    """Register the bundled faces once the application exists; returns their family name.

    Raises:
        FileNotFoundError: the installation lacks them.
    """
    for name in (*_FILES, _FALLBACK_FILE):
        if QFontDatabase.addApplicationFont(str(resource(f"fonts/{name}"))) < 0:
            raise FileNotFoundError(f"resource fonts/{name} cannot be read as a font")
    return FAMILY


def face(pixels: float, *, strong: bool = False) -> QFont:
    """The face at `pixels` (em size), tabular figures; `strong` takes the heavier cut."""
    return QFont(_made(max(1, round(pixels)), strong))


@cache
def _made(pixels: int, strong: bool) -> QFont:
    """A page asks for the same few hundreds of times for each picture of it."""
    font = QFont([load_fonts(), FALLBACK])
    font.setPixelSize(pixels)
    font.setWeight(QFont.Weight.DemiBold if strong else QFont.Weight.Medium)
    font.setFeature(QFont.Tag("tnum"), 1)
    return font


@cache
def cap_ratio() -> float:
    """Height of a capital over the em size, measured on the loaded face."""
    return QFontMetricsF(face(1000, strong=True)).capHeight() / 1000


def face_with_cap(cap: float, *, strong: bool = True) -> QFont:
    """The face whose capitals and figures are `cap` pixels high."""
    return face(cap / cap_ratio(), strong=strong)
