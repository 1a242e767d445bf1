"""What a song file says about itself: is it protected, and is all of it there?

Read from the bytes, because a demuxer keeps quiet about both: it shortens a cut-off wav or ogg
silently and hands out the packets of a protected file as noise. Sources: ISO/IEC 14496-12 (boxes,
sample entries), RFC 3533 (Ogg page header), the RIFF/WAVE chunk layout (Microsoft/IBM 1991), and
the "Xing"/"Info"/"VBRI" frame of MP3 encoders (common practice, no standard).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path

_PROTECTED = (b"drms", b"drmi", b"enca", b"aavd")
_TO_ENTRIES = (b"moov", b"trak", b"mdia", b"minf", b"stbl")
_END_OF_STREAM = 0x04


def is_protected(path: Path) -> bool:
    """Whether an MP4 file's sound is encrypted (its sample entry says so)."""
    data = _boxes_data(path)
    return any(entry in _PROTECTED for entry in _sample_entries(data, 0, len(data), 0))


def is_cut_off(path: Path, container: str) -> bool:
    """Whether the file ends before its own structure does.

    Args:
        path: the song.
        container: FFmpeg's name of the container ("wav", "ogg", "mov,mp4,…"); others: False.
    """
    if container == "wav":
        return _wav_is_short(path)
    if container == "ogg":
        return _ogg_is_short(path)
    return "mp4" in container and mp4_is_short(path)


def states_length(path: Path, container: str) -> bool:
    """Whether the container's length is written down rather than guessed from a bit rate."""
    if container == "mp3":
        with path.open("rb") as file:
            head = file.read(10)
            if head[:3] == b"ID3" and len(head) == 10:
                size = head[6] << 21 | head[7] << 14 | head[8] << 7 | head[9]
                file.seek(10 + size)
            else:
                file.seek(0)
            first = file.read(4096)
        return any(mark in first for mark in (b"Xing", b"Info", b"VBRI"))
    return container in ("flac", "aiff") or "mp4" in container or "matroska" in container


def mp4_is_short(path: Path) -> bool:
    """Whether a box of an MP4 file reaches beyond the end of the file, or its index is missing."""
    size = path.stat().st_size
    names: set[bytes] = set()
    with path.open("rb") as file:
        for name, _, end in _boxes_in_file(file.fileno(), size):
            if not names and name != b"ftyp":
                return False
            names.add(name)
            if end > size:
                return True
    return bool(names) and b"moov" not in names


def _wav_is_short(path: Path) -> bool:
    size = path.stat().st_size
    with path.open("rb") as file:
        if file.read(4) != b"RIFF":
            return False
        at = 12
        while at + 8 <= size:
            file.seek(at)
            name, length = struct.unpack("<4sI", file.read(8))
            if name == b"data":
                # Recorders that never came back to fill the size in write 0 or all ones.
                return length not in (0, 0xFFFFFFFF) and at + 8 + length > size
            at += 8 + length + length % 2
    return False


def _ogg_is_short(path: Path) -> bool:
    size = path.stat().st_size
    with path.open("rb") as file:
        file.seek(max(0, size - 131072))
        tail = file.read()
    page = tail.rfind(b"OggS")
    if page < 0 or len(tail) < page + 27:
        return True
    segments = tail[page + 26]
    lacing = tail[page + 27 : page + 27 + segments]
    whole = len(lacing) == segments and page + 27 + segments + sum(lacing) <= len(tail)
    return not (whole and tail[page + 5] & _END_OF_STREAM)


def _boxes_in_file(handle: int, size: int) -> Iterator[tuple[bytes, int, int]]:
    with open(handle, "rb", closefd=False) as file:
        at = 0
        while at + 8 <= size:
            file.seek(at)
            length, name = struct.unpack(">I4s", file.read(8))
            if length == 1:
                length = int.from_bytes(file.read(8), "big")
            end = size if length == 0 else at + length
            yield name, at, end
            if end <= at:
                return
            at = end


def _boxes_data(path: Path) -> bytes:
    size = path.stat().st_size
    with path.open("rb") as file:
        for name, start, end in _boxes_in_file(file.fileno(), size):
            if name == b"moov" and end - start < 50_000_000:
                file.seek(start)
                return file.read(end - start)
    return b""


def _sample_entries(data: bytes, start: int, end: int, depth: int) -> Iterator[bytes]:
    at = start
    while at + 8 <= end:
        length, name = struct.unpack_from(">I4s", data, at)
        length = length or end - at
        if length < 8:
            return
        stop = min(at + length, end)
        if depth == len(_TO_ENTRIES) and name == b"stsd":
            # Version, flags and a count come before the entries.
            yield from _names(data, at + 16, stop)
        elif depth < len(_TO_ENTRIES) and name == _TO_ENTRIES[depth]:
            yield from _sample_entries(data, at + 8, stop, depth + 1)
        at = stop


def _names(data: bytes, at: int, end: int) -> Iterator[bytes]:
    while at + 8 <= end:
        length, name = struct.unpack_from(">I4s", data, at)
        yield name
        if length < 8:
            return
        at += length
