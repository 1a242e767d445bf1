"""The boxes of an MP4 file: is its sound protected, and is all of the file there?

Read from the bytes, because a demuxer hands out the packets of a protected file as noise. Source:
ISO/IEC 14496-12 (boxes, sample entries).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path

#: Names of sample entries whose sound is encrypted.
_PROTECTED = (b"drms", b"drmi", b"enca", b"aavd")
#: The boxes that lead to the sample entries, outermost first.
_TO_ENTRIES = (b"moov", b"trak", b"mdia", b"minf", b"stbl")


def is_protected(path: Path) -> bool:
    """Whether an MP4 file's sound is encrypted (its sample entry says so)."""
    data = _boxes_data(path)
    return any(entry in _PROTECTED for entry in _sample_entries(data, 0, len(data), 0))


def is_short(path: Path) -> bool:
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
