"""What a song file says about its own length: is all of it there?

Read from the bytes, because a demuxer shortens a cut-off wav or ogg silently. Sources: RFC 3533
(Ogg page header), RFC 8794 (EBML, of which Matroska and WebM are made), the RIFF/WAVE chunk layout
(Microsoft/IBM 1991), and the "Xing"/"Info"/"VBRI" frame of MP3 encoders (common practice, no
standard).
"""

from __future__ import annotations

import struct
from pathlib import Path

from rehearse.music import mp4_boxes

_END_OF_STREAM = 0x04
#: Seconds that may be missing against the stated length: encoders pad and trim their ends, and
#: formats that count every sample do not.
_PADDED, _EXACT = 0.5, 0.05


def is_cut_off(path: Path, container: str) -> bool:
    """Whether the file ends before its own structure does.

    Args:
        path: the song.
        container: FFmpeg's name of the container ("wav", "ogg", "matroska,webm" …); of MP4 and
            unknown ones: False.
    """
    if container == "wav":
        return _wav_is_short(path)
    if container == "ogg":
        return _ogg_is_short(path)
    return "matroska" in container and _matroska_is_short(path)


def allowance(path: Path, container: str) -> float | None:
    """Seconds by which the sound of a whole file may stay under the length it states.

    None where the length is guessed from a bit rate, or is that of a film's pictures.
    """
    if container in ("flac", "aiff", "wav", "au", "tta", "wv"):
        return _EXACT
    if "mp4" in container:
        # Cut in the cover art behind the sound, a song is still whole.
        return _EXACT if mp4_boxes.is_short(path) else _PADDED
    return _PADDED if container == "mp3" and _has_length_frame(path) else None


def _has_length_frame(path: Path) -> bool:
    with path.open("rb") as file:
        head = file.read(10)
        if head[:3] == b"ID3" and len(head) == 10:
            size = head[6] << 21 | head[7] << 14 | head[8] << 7 | head[9]
            file.seek(10 + size)
        else:
            file.seek(0)
        first = file.read(4096)
    return any(mark in first for mark in (b"Xing", b"Info", b"VBRI"))


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


def _matroska_is_short(path: Path) -> bool:
    """Whether the segment, which holds all the sound, reaches beyond the end of the file."""
    size = path.stat().st_size
    with path.open("rb") as file:
        head = file.read(4096)
    at = 4 + _vint(head, 4)[1] + _vint(head, 4)[0]  # behind the EBML header
    if head[at : at + 4] != b"\x18\x53\x80\x67":
        return False
    length, width = _vint(head, at + 4)
    # All ones: a live recording, whose length was not known when it began.
    unknown = length == (1 << 7 * width) - 1
    return not unknown and at + 4 + width + length > size


def _vint(data: bytes, at: int) -> tuple[int, int]:
    """A number of variable width at `at`, and its width in bytes (RFC 8794, section 4)."""
    first = data[at] if at < len(data) else 0xFF
    width = 9 - first.bit_length() if first else 8
    value = int.from_bytes(data[at : at + width], "big")
    return value & ((1 << 7 * width) - 1), width
