"""Collects the frames of a decoder into the samples of a track, any layout to two channels.

Source of the weights: Recommendation ITU-R BS.775-4, annex 4 (centre and surround at −3 dB, the
low-frequency channel left out). Back channels of 6.1 and 7.1 are treated as surround (practice).

"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from rehearse.files.media import SONG
from rehearse.files.user_error import UserError
from rehearse.music.track import Samples
from rehearse.words import _
from rehearse.work.progress import Report

MINUS_3_DB = 0.5**0.5

_LEFT = {"FL": 1.0, "DL": 1.0, "FLC": 1.0, "SL": MINUS_3_DB, "BL": MINUS_3_DB, "WL": MINUS_3_DB}
_RIGHT = {"FR": 1.0, "DR": 1.0, "FRC": 1.0, "SR": MINUS_3_DB, "BR": MINUS_3_DB, "WR": MINUS_3_DB}
_BOTH = {"FC": MINUS_3_DB, "BC": 0.5, "TC": MINUS_3_DB}


def stereo_weights(channels: Sequence[str]) -> npt.NDArray[np.float32]:
    """Weights of shape (channels, 2): column 0 makes the left channel, column 1 the right.

    Args:
        channels: names in the file's order ("FL", "FR", "FC", "LFE", "BL", "SR" …); unknown
            names go to left and right by turns, so that nothing recorded is lost.
    """
    if len(channels) == 1:
        return np.ones((1, 2), np.float32)
    if all(name not in _LEFT and name not in _RIGHT and name not in _BOTH for name in channels):
        # Named by nothing: a plain wav does not say which channel is which; one and two are.
        return _unnamed(len(channels))
    weights = np.zeros((len(channels), 2), np.float32)
    for row, name in enumerate(channels):
        if name in _LEFT:
            weights[row, 0] = _LEFT[name]
        elif name in _RIGHT:
            weights[row, 1] = _RIGHT[name]
        elif name in _BOTH:
            weights[row] = _BOTH[name]
        elif not name.startswith("LFE"):
            weights[row, row % 2] = MINUS_3_DB
    return weights


def _unnamed(channels: int) -> npt.NDArray[np.float32]:
    weights = np.zeros((channels, 2), np.float32)
    weights[np.arange(channels), np.arange(channels) % 2] = 1.0 if channels == 2 else MINUS_3_DB
    return weights


#: Highest sample rate that is kept, in Hz, and the one that 88.2 and 176.4 kHz become.
HIGHEST, _OF_DISCS = 48_000, 44_100
#: Samples beyond this (12 dB over full scale) are no mastering but a wrong scale.
OVERLOAD = 4.0
#: A damaged float may be anything up to 3e38, whose sum with another is no number.
_GIANT = 1e9
#: FFmpeg's names of sample formats; a "p" behind them means a plane for each channel.
_KINDS = {"u8": "u1", "s16": "i2", "s32": "i4", "s64": "i8", "flt": "f4", "dbl": "f8"}


class SampleCollector:
    """One song on its way: frames collected into one growing array of two channels.

    `rate` and `length` are those of the file, `kept` the rate of what is collected.

    Args:
        path: the song, for sentences.
        stated: seconds that its file says it holds; 0 when it does not say.
        report: told how far it is.
    """

    def __init__(self, path: Path, stated: float, report: Report) -> None:
        self.path, self.stated, self.report = path, stated, report
        self.digest = hashlib.sha256()
        self.rate, self.kept, self.length, self.filled, self.told = 0, 0, 0, 0, 0
        self.channels: tuple[str, ...] = ()
        self.weights = stereo_weights(("FL", "FR"))
        self.room: Samples = np.zeros((0, 2), np.float32)
        self._lower: Any = None

    @property
    def seconds(self) -> float:
        """How much was read."""
        return self.length / self.rate

    def add(self, frame: Any) -> None:
        """Take up the next frame, mixed down to two channels.

        Raises:
            UserError: its sample rate is another one than before.
        """
        if not self.rate:
            self._begin(frame)
        if frame.sample_rate != self.rate:
            raise UserError(
                _("changes its sample rate on the way"),
                where=self.path.name,
                do=_("save it as wav"),
            )
        names = tuple(channel.name for channel in frame.layout.channels)
        if names != self.channels:
            self.channels, self.weights = names, stereo_weights(names)
        sound = _as_float(frame, len(names))
        self.length += len(sound)
        if self._lower is None:
            np.matmul(sound, self.weights, out=self._free(len(sound)))
        else:
            self._put(self._lower.resample_chunk(sound @ self.weights))
        self._tell()

    def _begin(self, frame: Any) -> None:
        self.rate = self.kept = int(frame.sample_rate)
        if self.rate > HIGHEST:
            import soxr

            self.kept = HIGHEST if self.rate % _OF_DISCS else _OF_DISCS
            self._lower = soxr.ResampleStream(self.rate, self.kept, 2, "float32", "HQ")
        seconds = min(self.stated, SONG.length) or 300.0
        # Pages that are never written cost nothing, so be generous rather than copy later.
        self.room = np.empty((int((seconds + 5.0) * self.kept), 2), np.float32)

    def _put(self, sound: Samples) -> None:
        self._free(len(sound))[:] = sound

    def _free(self, more: int) -> Samples:
        """Room for so many frames more, behind those that are there."""
        need = self.filled + more
        if need > len(self.room):
            # In place: a copy would need the memory twice.
            self.room.resize((max(need, len(self.room) * 5 // 4), 2), refcheck=False)
        first, self.filled = self.filled, need
        return self.room[first:need]

    def _tell(self) -> None:
        second = self.length // self.rate
        if second >= self.told + 2:
            self.told = second
            whole = max(self.stated, second + 1.0)
            self.report(min(1.0, second / whole), "")

    def finish(self) -> tuple[Samples, int]:
        """All samples, shape (frames, 2), and their rate, at most `HIGHEST`.

        Raises:
            UserError: there are none.
        """
        if not self.length:
            raise UserError(
                _("holds no sound that can be read"), where=self.path.name, do=_("copy it again")
            )
        if self._lower is not None:
            self._put(self._lower.resample_chunk(np.zeros((0, 2), np.float32), last=True))
        samples = self.room[: self.filled]
        peak = max(float(samples.max()), -float(samples.min()))
        if peak > (1.0 if len(self.channels) > 2 else OVERLOAD):
            samples *= np.float32(1.0 / peak)
        return samples, self.kept

    def content_hash(self, codec: str) -> str:
        """The name of the encoded sound: 32 hex digits of SHA-256 over `digest` and its shape."""
        self.digest.update(f"{codec}:{self.rate}:{len(self.channels)}:{self.length}".encode())
        return self.digest.hexdigest()[:32]


def _as_float(frame: Any, channels: int) -> npt.NDArray[np.float32]:
    """Shape (frames, channels), full scale ±1, from any of FFmpeg's sample formats."""
    name = frame.format.name
    kind = np.dtype(_KINDS[name.removesuffix("p")])
    if frame.format.is_planar:
        # One plane a channel. PyAV looks for the planes' end beyond the eighth, where there is
        # none, so its own `to_ndarray` reads memory that is not there.
        planes = [np.frombuffer(p, kind, frame.samples) for p in frame.planes[:channels]]
        sound = np.stack(planes, axis=1)
    else:
        count = frame.samples * channels
        sound = np.frombuffer(frame.planes[0], kind, count).reshape(-1, channels)
    if kind == np.uint8:
        return (sound.astype(np.float32) - 128.0) / np.float32(128.0)
    if np.issubdtype(kind, np.integer):
        # Named by the type's own range: 24-bit sound comes left-aligned in 32 bits.
        return sound.astype(np.float32) / np.float32(-float(np.iinfo(kind).min))
    whole = np.nan_to_num(sound.astype(np.float32), nan=0.0, posinf=0.0, neginf=0.0)
    return np.clip(whole, -_GIANT, _GIANT)
