"""Letters that the bundled faces lack, from a font of this machine: fontconfig knows which.

Where there is no fontconfig the font folders of the system are looked through.

Fonts with TrueType outlines go into the PDF as they are. Others – PostScript outlines, coloured
emoji – and alphabets whose letters change beside each other (Thai, Devanagari …) are set by
FreeType and stand in the PDF as fine pictures of the words.
"""

from __future__ import annotations

import io
import os
import shutil
import struct
import subprocess
import sys
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont, UnidentifiedImageError, features
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont, TTFontFile

_FORMAT = (
    "%{file}\t%{index}\t%{fontformat}\t%{color}\t%{variable}\t%{slant}\t%{weight}\t%{charset}\n"
)
#: Fontconfig's number for the weight of running text, and seconds it may take to answer.
_MEDIUM, _PATIENCE = 100, 10.0
#: What plain faces are called where fontconfig does not tell.
_PLAIN = ("Regular", "Book", "Roman", "Medium", "Normal", "")
#: Pixels of an em in pictures of words: over 300 dots an inch on the wall, 1000 on the sheet.
_EM = 160
#: The only size that coloured emoji come in.
_BITMAP_EM = 109
#: First and last character of alphabets that need more than one letter after another.
_SHAPED = ((0x0900, 0x0EFF), (0x0F00, 0x109F), (0x1780, 0x17FF), (0x1900, 0x1AAF))
#: What joins emoji or chooses between their forms; it stands for nothing by itself.
JOINERS = frozenset({0x200D, 0xFE0E, 0xFE0F})
_EAST_ASIAN = (
    *((0x1100, 0x11FF), (0x2E80, 0xA4CF), (0xA960, 0xA97F), (0xAC00, 0xD7FF)),
    *((0xF900, 0xFAFF), (0xFE30, 0xFE4F), (0xFF00, 0xFFEF), (0x20000, 0x3FFFF)),
)
#: Debian's packages with fonts for what is asked most; the last one has most other alphabets.
_PACKAGES = (
    ("fonts-thai-tlwg", ((0x0E00, 0x0E7F),)),
    ("fonts-noto-cjk", _EAST_ASIAN),
    ("fonts-noto-color-emoji", ((0x2600, 0x27BF), (0x2B00, 0x2BFF), (0x1F000, 0x1FAFF))),
    ("fonts-noto-core", ((0, 0x10FFFF),)),
)


@dataclass(frozen=True)
class MachineFace:
    """A font of this machine.

    Args:
        key: its name for the PDF library, or for pictures.
        characters: what it has.
        pictures: set by FreeType, as pictures of words.
    """

    key: str
    characters: frozenset[int]
    pictures: PictureFace | None = None


class PictureFace:
    """Words of one font as pictures."""

    def __init__(self, path: str, index: int) -> None:
        layout = ImageFont.Layout.RAQM if features.check("raqm") else ImageFont.Layout.BASIC
        try:
            self._font = ImageFont.truetype(path, _EM, index, layout_engine=layout)
            self._em = _EM
        except OSError:  # "invalid pixel size": it has bitmaps of one size only
            self._font = ImageFont.truetype(path, _BITMAP_EM, index, layout_engine=layout)
            self._em = _BITMAP_EM

    def width(self, text: str) -> float:
        """Ems."""
        return float(self._font.getlength(text)) / self._em

    def picture(self, text: str, grey: float) -> tuple[ImageReader, float, float, float, float]:
        """The words in `grey` on nothing: their picture, its left, foot, width and height in ems
        from the start of the base line.
        """
        left, top, right, bottom = self._font.getbbox(text, anchor="ls")
        size = max(1, int(right - left) + 2), max(1, int(bottom - top) + 2)
        image = Image.new("RGBA", size, (255, 255, 255, 0))
        ink = (round(255 * grey),) * 3
        place = (1 - left, 1 - top)
        ImageDraw.Draw(image).text(place, text, ink, self._font, "ls", embedded_color=True)
        plain = image.convert("LA").convert("RGBA")
        data = io.BytesIO()
        plain.save(data, "PNG")
        data.seek(0)
        foot = -(size[1] - place[1]) / self._em
        wide, high = (pixels / self._em for pixels in size)
        return ImageReader(data), -place[0] / self._em, foot, wide, high


_found: list[MachineFace] = []


@lru_cache(maxsize=4096)
def face_for(code: int) -> MachineFace | None:
    """A face with the character `code`; None where this machine has none, or no fontconfig."""
    for face in _found:
        if code in face.characters and (face.pictures is not None) >= _is_shaped(code):
            return face
    for path, index, plain, characters in _candidates(code):
        loaded = _loaded(path, index, plain and not _is_shaped(code), characters)
        if loaded is not None:
            _found.append(loaded)
            return loaded
    return None


def package_for(code: int) -> str:
    """The Debian package with a font for the character `code`; empty on other systems."""
    if shutil.which("dpkg") is None:
        return ""
    return next(name for name, spans in _PACKAGES if _within(code, spans))


def _is_shaped(code: int) -> bool:
    return _within(code, _SHAPED)


def _within(code: int, spans: tuple[tuple[int, int], ...]) -> bool:
    return any(first <= code <= last for first, last in spans)


def _candidates(code: int) -> list[tuple[str, int, bool, frozenset[int]]]:
    """Fonts with the character, the plainest first: file, index, whether outlines are TrueType."""
    tool = shutil.which("fc-list")
    if tool is None:
        return _in_folders(code)
    command = [tool, "--format", _FORMAT, f":charset={code:x}"]
    try:
        done = subprocess.run(command, capture_output=True, timeout=_PATIENCE, check=False)
    except (OSError, subprocess.SubprocessError):
        return []
    found = []
    for line in done.stdout.decode(errors="replace").splitlines():
        try:
            path, index, kind, color, variable, slant, weight, charset = line.split("\t")
            plain = kind == "TrueType" and color != "True" and variable != "True"
            away = abs(float(weight.strip("[]").split()[0]) - _MEDIUM) if weight else 0.0
            rank = (not plain, slant not in ("", "0"), away, path, int(index))
            characters = _characters(charset)
        except (ValueError, IndexError):
            continue
        # A named instance of a variable font has its number above the file's own index.
        found.append((rank, (path, int(index) & 0xFFFF, plain, characters)))
    return [entry for _unused, entry in sorted(found, key=lambda pair: pair[0])]


def _in_folders(code: int) -> list[tuple[str, int, bool, frozenset[int]]]:
    """The same where there is no fontconfig, as on Windows and on a Mac: TrueType fonts only."""
    found = [
        (rank, (path, 0, True, characters))
        for folder in font_folders()
        for path in sorted(map(str, folder.rglob("*.tt[fc]")))
        for rank, characters in (_read_font(path),)
        if code in characters
    ]
    return [entry for _unused, entry in sorted(found, key=lambda pair: (pair[0], pair[1][0]))]


def font_folders() -> tuple[Path, ...]:
    """Where this system and this user keep fonts."""
    home = Path.home()
    if sys.platform == "win32":
        local = Path(os.environ.get("LOCALAPPDATA", home))
        windows = Path(os.environ.get("WINDIR", "C:/Windows"))
        return windows / "Fonts", local / "Microsoft" / "Windows" / "Fonts"
    if sys.platform == "darwin":
        root = Path("/")
        return root / "System/Library/Fonts", root / "Library/Fonts", home / "Library/Fonts"
    return Path("/usr/share/fonts"), home / ".local/share/fonts"


@lru_cache(maxsize=2000)
def _read_font(path: str) -> tuple[bool, frozenset[int]]:
    """Whether a font is slanted or heavy, and its characters; none where it cannot be read."""
    try:
        font = TTFontFile(path, charInfo=1)
    except (TTFError, OSError, ValueError, KeyError, IndexError, struct.error):
        return True, frozenset()
    plain = font.styleName.decode("utf-8", "replace") in _PLAIN
    return not plain, frozenset(font.charToGlyph)


def _characters(charset: str) -> frozenset[int]:
    """Fontconfig's list of a font's characters: "20-7e a0 4e00-9fa5"."""
    codes: set[int] = set()
    for span in charset.split():
        first, _unused, last = span.partition("-")
        codes.update(range(int(first, 16), int(last or first, 16) + 1))
    return frozenset(codes)


def _loaded(
    path: str, index: int, embeddable: bool, characters: frozenset[int]
) -> MachineFace | None:
    if embeddable:
        key = f"machine-{len(_found)}"
        try:
            pdfmetrics.registerFont(TTFont(key, path, subfontIndex=index))
            return MachineFace(key, characters)
        except (TTFError, OSError, ValueError, KeyError, IndexError):
            pass  # a font that the PDF library cannot take in is set by FreeType
    try:
        pictures = PictureFace(path, index)
    except (OSError, UnidentifiedImageError, ValueError):
        return None
    return MachineFace(f"picture-{len(_found)}", characters, pictures)
