"""Song file to samples, once and whole.

Conventions: the first decoded sample is time 0; the container's time stamps are never used.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from rehearse.files.atomic import fault_of
from rehearse.files.fault import Fault
from rehearse.music import container as box
from rehearse.music.downmix import stereo_weights
from rehearse.music.track import Samples, Track

if TYPE_CHECKING:
    import av

Report = Callable[[float, str], None]

SHORTEST, LONGEST = 1.0, 1800.0
RATES = range(8000, 192001)
#: A song whose loudest sample stays under this (−80 dBFS) is silent.
SILENT = 1e-4
#: Seconds that may be missing against the stated length: encoders pad and trim their ends.
SLACK = 0.5


def load_track(path: Path | str, report: Report | None = None) -> Track:
    """Decode a song to a `Track`: two channels, its own sample rate, float32.

    Reads what FFmpeg reads: wav, aiff, flac, ogg, opus, mp3, m4a (aac, alac), webm and more; of a
    film its sound. One channel goes to both sides, more than two are mixed down after ITU-R
    BS.775-4 and turned down only when the mix would exceed full scale. The content hash is taken
    over the encoded sound, not over tags, cover art or file name, so it is the same on every
    machine.

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

    try:
        return av.open(str(path), metadata_errors="ignore")
    except (av.error.FFmpegError, ValueError) as error:
        if isinstance(error, OSError) and not isinstance(error, av.error.InvalidDataError):
            raise
        if box.mp4_is_short(path):
            raise _cut_off(path, "its index is missing, nothing can be read") from error
        raise Fault("is not a song", where=path.name, do="choose a sound file") from error


def _decode(path: Path, opened: Any, report: Report) -> Track:
    stream = opened.streams.best("audio")
    if stream is None:
        raise Fault("has no sound in it", where=path.name, do="choose a sound file")
    kind = opened.format.name
    if "mp4" in kind and box.is_protected(path):
        raise Fault(
            "is protected against copying and cannot be read",
            where=path.name,
            do="use a copy bought without protection",
        )
    stated = (opened.duration or 0) / 1e6
    take = _Take(path, stated, report)
    for block in _blocks(opened, stream, take):
        take.add(block)
    samples, rate = take.finish()
    seconds = len(samples) / rate
    if box.states_length(path, kind) and seconds < stated - max(SLACK, 0.005 * stated):
        raise _cut_off(path, f"only {seconds:.1f} s of {stated:.1f} s can be read")
    if box.is_cut_off(path, kind):
        raise _cut_off(path, f"only {seconds:.1f} s can be read")
    _check(path, samples, seconds)
    samples.flags.writeable = False
    return Track(samples, rate, take.content_hash(stream.codec_context.name), path.stem)


def _cut_off(path: Path, how: str) -> Fault:
    return Fault(f"is cut off: {how}", where=path.name, do="copy the whole file again")


def _check(path: Path, samples: Samples, seconds: float) -> None:
    if seconds < SHORTEST:
        raise Fault("holds less than a second of sound", where=path.name, do="choose a song")
    peak = max(float(np.max(samples, initial=0.0)), -float(np.min(samples, initial=0.0)))
    if peak < SILENT:
        raise Fault("is silent from end to end", where=path.name, do="choose another song")


def _blocks(opened: Any, stream: Any, take: _Take) -> Iterator[Any]:
    """Frames of the stream; damaged packets are left out as players do."""
    from av.error import FFmpegError

    try:
        for packet in opened.demux(stream):
            take.digest.update(packet)
            try:
                yield from packet.decode()
            except FFmpegError:
                continue
    except FFmpegError:
        # The file ends in the middle of a packet: what came before is still sound.
        return


class _Take:
    """Collects frames into one growing array of two channels."""

    def __init__(self, path: Path, stated: float, report: Report) -> None:
        self.path, self.stated, self.report = path, stated, report
        self.digest = hashlib.sha256()
        self.rate, self.length, self.told = 0, 0, 0
        self.channels: tuple[str, ...] = ()
        self.weights = stereo_weights(("FL", "FR"))
        self.room: Samples = np.zeros((0, 2), np.float32)

    def add(self, frame: Any) -> None:
        if not self.rate:
            self._begin(frame)
        if frame.sample_rate != self.rate:
            raise Fault(
                "changes its sample rate on the way", where=self.path.name, do="save it as wav"
            )
        names = tuple(channel.name for channel in frame.layout.channels)
        if names != self.channels:
            self.channels, self.weights = names, stereo_weights(names)
        sound = _as_float(frame.to_ndarray(), frame, len(names))
        self._reserve(len(sound))
        np.matmul(sound, self.weights, out=self.room[self.length : self.length + len(sound)])
        self.length += len(sound)
        self._tell()

    def _begin(self, frame: Any) -> None:
        self.rate = int(frame.sample_rate)
        if self.rate not in RATES:
            raise Fault(
                f"has {self.rate} samples a second; 8000 to 192000 can be used",
                where=self.path.name,
                do="save it at 48000",
            )
        seconds = min(self.stated, LONGEST) or 300.0
        # Pages that are never written cost nothing, so be generous rather than copy later.
        self.room = np.empty((int((seconds + 5.0) * self.rate), 2), np.float32)

    def _reserve(self, more: int) -> None:
        need = self.length + more
        if need > (LONGEST + 30.0) * self.rate:
            raise Fault(
                "is longer than 30 minutes", where=self.path.name, do="cut out the song you use"
            )
        if need > len(self.room):
            # In place: a copy would need the memory twice.
            self.room.resize((max(need, len(self.room) * 5 // 4), 2), refcheck=False)

    def _tell(self) -> None:
        second = self.length // self.rate
        if second >= self.told + 2:
            self.told = second
            whole = max(self.stated, second + 1.0)
            self.report(min(1.0, second / whole), "Reading the song")

    def finish(self) -> tuple[Samples, int]:
        if not self.length:
            raise Fault("holds no sound that can be read", where=self.path.name, do="copy it again")
        samples = self.room[: self.length]
        if not self.channels or len(self.channels) > 2:
            peak = float(np.max(np.abs(samples)))
            if peak > 1.0:
                samples *= np.float32(1.0 / peak)
        return samples, self.rate

    def content_hash(self, codec: str) -> str:
        self.digest.update(f"{codec}:{self.rate}:{len(self.channels)}:{self.length}".encode())
        return self.digest.hexdigest()[:32]


def _as_float(data: npt.NDArray[Any], frame: Any, channels: int) -> npt.NDArray[np.float32]:
    """Shape (frames, channels), full scale ±1, from any of FFmpeg's sample formats."""
    sound = data.T if frame.format.is_planar else data.reshape(-1, channels)
    if sound.dtype == np.uint8:
        return (sound.astype(np.float32) - 128.0) / np.float32(128.0)
    if np.issubdtype(sound.dtype, np.integer):
        # Named by the type's own range: 24-bit sound comes left-aligned in 32 bits.
        return sound.astype(np.float32) / np.float32(-float(np.iinfo(sound.dtype).min))
    return np.nan_to_num(sound.astype(np.float32), nan=0.0, posinf=0.0, neginf=0.0)
