"""Song file to samples, once and whole.

Conventions: the first decoded sample is time 0; the container's time stamps are never used.
"""

from __future__ import annotations

import errno
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from rehearse.files.atomic import fault_of
from rehearse.files.fault import Fault
from rehearse.music import container as box
from rehearse.music import mp4
from rehearse.music.take import GRACE, LONGEST, Report, Take, too_long
from rehearse.music.track import Samples, Track

if TYPE_CHECKING:
    import av

#: Seconds of the shortest song.
SHORTEST = 1.0
#: A song that swings less than this to either side (−80 dBFS) is silent.
SILENT = 1e-4


def load_track(path: Path | str, report: Report | None = None) -> Track:
    """Decode a song to a `Track`: two channels, its own sample rate, float32.

    Reads what FFmpeg reads: wav, aiff, flac, ogg, opus, mp3, m4a (aac, alac), webm and more; of a
    film its sound. One channel goes to both sides, more than two are mixed down after ITU-R
    BS.775-4 and turned down only when the mix would exceed full scale. Samples far beyond full
    scale (a float file with a wrong scale) are turned down too. The content hash is taken over the
    encoded sound, not over tags, cover art or file name, so it is the same on every machine.

    Args:
        path: the song.
        report: told how far it is; may raise to stop.

    Raises:
        Fault: no such file, no sound in it, empty, cut off, protected, silent, or outside 1 s to
            30 min and 8 to 192 kHz; one sentence each.
    """
    path = Path(path)
    try:
        if path.stat().st_size == 0:
            raise Fault("the file is empty", where=path.name, do="copy it again")
        with _open(path) as opened:
            return _decode(path, opened, report or (lambda fraction, text: None))
    except OSError as error:
        raise fault_of(error, path) from error


def _open(path: Path) -> av.container.InputContainer:
    import av

    with path.open("rb") as file:
        file.read(1)  # what the system refuses is its own fault, told by `fault_of`
    try:
        # "file:", because a name such as "Part 2: Rise.mp3" would be taken for an address.
        opened = av.open(f"file:{path}", metadata_errors="ignore")
    except (av.error.FFmpegError, ValueError) as error:
        if mp4.is_short(path):
            raise _cut_off(path, "its index is missing, nothing can be read") from error
        if getattr(error, "errno", None) == errno.EIO:
            raise _cut_off(path, "nothing can be read") from error
        raise _no_song(path) from error
    if box.is_list(opened.format.name):
        opened.close()
        raise _no_song(path)
    return opened


def _decode(path: Path, opened: Any, report: Report) -> Track:
    stream = opened.streams.best("audio")
    if stream is None:
        raise Fault("has no sound in it", where=path.name, do="choose a sound file")
    kind = opened.format.name
    if "mp4" in kind and mp4.is_protected(path):
        raise Fault(
            "is protected against copying and cannot be read",
            where=path.name,
            do="use a copy bought without protection",
        )
    stated = _stated(opened, stream)
    slack = box.allowance(path, kind)
    if slack is not None and stated > LONGEST + GRACE:
        raise too_long(path)
    take = Take(path, stated, report)
    for frame in _frames(opened, stream, take):
        take.add(frame)
    samples, rate = take.finish()
    seconds = len(samples) / rate
    if slack is not None and seconds < stated - slack:
        raise _cut_off(path, f"only {seconds:.1f} s of {stated:.1f} s can be read")
    if box.is_cut_off(path, kind):
        raise _cut_off(path, f"only {seconds:.1f} s can be read")
    _check(path, samples, seconds)
    samples.flags.writeable = False
    return Track(samples, rate, take.content_hash(stream.codec_context.name), path.stem)


def _stated(opened: Any, stream: Any) -> float:
    """Seconds of sound that the file says it holds; 0 when it does not say."""
    if stream.duration:
        return float(stream.duration * stream.time_base)
    return float(opened.duration or 0) / 1e6


def _no_song(path: Path) -> Fault:
    return Fault("is not a song", where=path.name, do="choose a sound file")


def _cut_off(path: Path, how: str) -> Fault:
    return Fault(f"is cut off: {how}", where=path.name, do="copy the whole file again")


def _check(path: Path, samples: Samples, seconds: float) -> None:
    if seconds < SHORTEST:
        raise Fault("holds less than a second of sound", where=path.name, do="choose a song")
    # A constant offset makes no sound either.
    if all(float(np.ptp(channel)) < 2 * SILENT for channel in samples.T):
        raise Fault("is silent from end to end", where=path.name, do="choose another song")


def _frames(opened: Any, stream: Any, take: Take) -> Iterator[Any]:
    """Frames of the stream; damaged packets are left out as players do."""
    from av.error import FFmpegError

    try:
        for packet in opened.demux(stream):
            try:
                frames = packet.decode()
            except FFmpegError:
                continue  # such as a tag at the end of an mp3
            take.digest.update(packet)
            yield from frames
    except FFmpegError:
        # The file ends in the middle of a packet: what came before is still sound.
        return
