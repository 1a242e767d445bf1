"""The athlete's own photos of poses, kept in the routine's folder and looked at before use.

A photo may come from anyone. What it is stands in its first bytes, never in its name; only the
formats below are decoded, up to a size that every machine shows at once. Drawings (SVG) are
refused: they can name other files, and nest themselves without end.

Sources of the headers: PNG (W3C, Third Edition, 11.2.1), JPEG (ITU-T T.81, B.2.2), GIF89a (section
18), WebP (RFC 9649, sections 2.5 to 2.7), BMP (Microsoft's BITMAPINFOHEADER).
"""

from __future__ import annotations

import struct
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from rehearse.files.atomic import save_atomic, user_error_of
from rehearse.files.door import open_file, path_inside, read_file
from rehearse.files.user_error import UserError
from rehearse.words import _

#: Folder of the photos in the routine's folder.
PICTURES = "pictures"
#: How the files are called.
ENDINGS = (".jpg", ".jpeg", ".png", ".webp", ".gif", ".bmp")
#: Bytes and pixels of the largest photo; a phone's own are 12 to 50 megapixels.
MOST_BYTES, MOST_PIXELS, LONGEST_SIDE = 40_000_000, 50_000_000, 30_000
_HEAD = 1 << 18
#: A file name has at most 255 bytes, a letter up to four.
_LONGEST = 40
_SAVE_AS = _("save it as JPEG or PNG")
#: JPEG markers that begin a frame (T.81, table B.1), and those without a length.
_FRAMES = {0xC0, 0xC1, 0xC2, 0xC3, 0xC5, 0xC6, 0xC7, 0xC9, 0xCA, 0xCB, 0xCD, 0xCE, 0xCF}
_BARE = {0x01, *range(0xD0, 0xD8)}


@dataclass(frozen=True)
class Picture:
    """A photo that can be decoded.

    Args:
        kind: "jpeg", "png", "webp", "gif" or "bmp", as Qt and Pillow call it.
        width, height: pixels, as stored (not turned upright).
        data: the file.
    """

    kind: str
    width: int
    height: int
    data: bytes = field(repr=False)


def read_picture(path: Path) -> Picture:
    """Read a photo and look at its head; its pixels are not decoded.

    Raises:
        UserError: no ordinary file, no photo, of another format, or too large; one sentence each.
    """
    return _looked_at(path, read_file(path, MOST_BYTES))


def check_picture(path: Path) -> None:
    """The same without keeping the file's content, for many photos at once.

    Raises:
        UserError: as `read_picture`.
    """
    with open_file(path, MOST_BYTES) as stream:
        head = stream.read(_HEAD)
        try:
            _looked_at(path, head)
        except UserError:
            # The size of a JPEG may stand behind a long preview.
            _looked_at(path, head + stream.read(MOST_BYTES))


def _looked_at(path: Path, data: bytes) -> Picture:
    kind = _kind(data)
    if not kind:
        raise _refused(path, data)
    try:
        width, height = _SIZES[kind](data)
    except (struct.error, IndexError):
        width = height = 0
    if width <= 0 or height <= 0:
        raise UserError(_("isn't a readable image"), where=path.name, do=_("copy it again"))
    if width * height > MOST_PIXELS or max(width, height) > LONGEST_SIDE:
        raise UserError(
            _(
                "has {width:.0f} megapixels ({width2} × {height}), {most_pixels:.0f} at"
                " most can be shown",
                width=width * height / 1000000.0,
                width2=width,
                height=height,
                most_pixels=MOST_PIXELS / 1000000.0,
            ),
            where=path.name,
            do=_("save it smaller; 2000 pixels a side are plenty"),
        )
    return Picture(kind, width, height, data)


def _kind(data: bytes) -> str:
    if data[:3] == b"\xff\xd8\xff":
        return "jpeg"
    if data[:8] == b"\x89PNG\r\n\x1a\n":
        return "png"
    if data[:6] in (b"GIF87a", b"GIF89a"):
        return "gif"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "webp"
    return "bmp" if data[:2] == b"BM" and len(data) > 26 else ""


def _refused(path: Path, data: bytes) -> UserError:
    head = data[:1000].lstrip(b"\xef\xbb\xbf \r\n\t").lower()
    if b"<svg" in head or head.startswith(b"<?xml") or path.suffix.lower() in (".svg", ".svgz"):
        return UserError(_("is a drawing (SVG), not a photo"), where=path.name, do=_SAVE_AS)
    if data[4:8] == b"ftyp" and data[8:12] in (b"heic", b"heix", b"mif1", b"avif", b"msf1"):
        return UserError(_("is a HEIC or AVIF photo"), where=path.name, do=_SAVE_AS)
    return UserError(
        _("isn't a readable image"), where=path.name, do=_("choose a JPEG or PNG photo")
    )


def _png_size(data: bytes) -> tuple[int, int]:
    return struct.unpack_from(">II", data, 16)


def _gif_size(data: bytes) -> tuple[int, int]:
    return struct.unpack_from("<HH", data, 6)


def _bmp_size(data: bytes) -> tuple[int, int]:
    width, height = struct.unpack_from("<ii", data, 18)
    return width, abs(height)  # a negative height: from the top down


def _webp_size(data: bytes) -> tuple[int, int]:
    chunk = data[12:16]
    if chunk == b"VP8X":
        return 1 + int.from_bytes(data[24:27], "little"), 1 + int.from_bytes(data[27:30], "little")
    if chunk == b"VP8L":
        bits = struct.unpack_from("<I", data, 21)[0]
        return 1 + (bits & 0x3FFF), 1 + (bits >> 14 & 0x3FFF)
    width, height = struct.unpack_from("<HH", data, 26)
    return width & 0x3FFF, height & 0x3FFF


def _jpeg_size(data: bytes) -> tuple[int, int]:
    at = 2
    while data[at] == 0xFF:
        marker = data[at + 1]
        if marker in _FRAMES:
            height, width = struct.unpack_from(">HH", data, at + 5)
            return width, height
        if marker == 0xFF:
            at += 1
        elif marker in _BARE:
            at += 2
        else:
            at += 2 + int(struct.unpack_from(">H", data, at + 2)[0])
    return 0, 0


_SIZES = {
    "png": _png_size,
    "gif": _gif_size,
    "bmp": _bmp_size,
    "webp": _webp_size,
    "jpeg": _jpeg_size,
}


def keep_picture(folder: Path, photo: Path, name: str) -> str:
    """Copy a photo of the pose `name` into the routine's folder; its path in there.

    A picture that is there already is never written over: earlier saves may show it.

    Raises:
        UserError: the photo cannot be shown (see `read_picture`), or the folder cannot be written.
    """
    return keep_data(folder, read_picture(photo).data, name, photo.suffix.lower())


def keep_data(folder: Path, data: bytes, name: str, suffix: str) -> str:
    """Write a photo, `data`, into the routine's folder, called after `name`; its path in there.

    Raises:
        UserError: the folder cannot be written.
    """
    plain = "".join(c if c.isalnum() else "-" for c in name)[:_LONGEST]
    inside = path_inside(folder, PICTURES)
    target, number = inside / f"{plain}{suffix}", 2
    try:
        inside.mkdir(exist_ok=True)
        while target.exists():
            target, number = inside / f"{plain}-{number}{suffix}", number + 1
    except OSError as error:
        raise user_error_of(error, inside) from error
    save_atomic(target, data)
    return f"{PICTURES}/{target.name}"


def import_photo(name: str, source: Path, folder: Path) -> str:
    """Copy one photo from another routine's folder into this one; its path here.

    Where another photo has that name here it gets a number; nothing is written over.

    Raises:
        UserError: the folder cannot be written, or the photo cannot be shown.
    """
    if not name or Path(name).suffix.lower() not in ENDINGS:
        return name
    there, here = path_inside(source, name), path_inside(folder, name)
    if not there.is_file() or not here.is_file():
        return name  # `import_photos` brings it
    if read_file(there, MOST_BYTES) == read_file(here, MOST_BYTES):
        return name
    return keep_picture(folder, there, here.stem)


def import_photos(names: Iterable[str], source: Path, folder: Path) -> None:
    """Copy the pictures of these names in another routine's folder into this one.

    A picture that is there already is never written over; what is no picture stays where it is.

    Raises:
        UserError: the folder cannot be written.
    """
    for name in names:
        if Path(name).suffix.lower() not in ENDINGS:
            continue
        here = path_inside(folder, name)
        if here.exists():
            continue
        try:
            data = read_picture(path_inside(source, name)).data
        except UserError:
            continue
        try:
            here.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise user_error_of(error, here) from error
        save_atomic(here, data)
