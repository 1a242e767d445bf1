"""Sound to the bytes of a file: mp3, m4a, flac or wav, with title, chapters and cover.

Conventions: samples are float32, shape (frames, 2), full scale ±1; 16 bits are reached by
rounding, without noise added.
"""

from __future__ import annotations

import io
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from rehearse.files.atomic import user_error_of
from rehearse.files.user_error import UserError
from rehearse.handout.formats import AudioFormat
from rehearse.music.decode import SHORTEST, SILENT, load_track
from rehearse.music.track import Samples, Track
from rehearse.words import _
from rehearse.work.progress import Report

_BLOCK = 1 << 16


@dataclass(frozen=True)
class Chapter:
    """A named stretch of a file, [start, end) in seconds."""

    start: float
    end: float
    title: str


@dataclass(frozen=True)
class Label:
    """What a file says of itself; `cover_art` is a PNG or empty."""

    title: str = ""
    album: str = ""
    comment: str = ""
    chapters: tuple[Chapter, ...] = ()
    cover_art: bytes = b""


def encode(
    samples: Samples,
    sample_rate: int,
    form: AudioFormat,
    *,
    bit_rate: int = 0,
    quick: bool = False,
    label: Label | None = None,
    report: Report | None = None,
) -> bytes:
    """The file's bytes.

    Args:
        samples: shape (frames, 2), within ±1 (what exceeds it is clipped).
        bit_rate: bits a second instead of the format's own. quick: rather fast than thorough.
        report: told how far it is; may raise to stop.
    """
    label = label or Label()
    out = io.BytesIO()
    settings = dict(form.quick if quick else form.thorough)
    if form.lossy:
        settings["b"] = str(bit_rate or form.bit_rate)
    _write(out, samples, sample_rate, form, settings, label, report)
    return out.getvalue()


def resampled(samples: Samples, sample_rate: int, wanted: int) -> Samples:
    """`samples` at `wanted` frames a second; shape (round(frames · wanted / rate), 2)."""
    if wanted == sample_rate:
        return samples
    import soxr

    frames = round(len(samples) * wanted / sample_rate)
    moved = soxr.resample(samples, sample_rate, wanted, quality="VHQ")[:frames]
    return np.ascontiguousarray(np.pad(moved, ((0, frames - len(moved)), (0, 0))), np.float32)


def _write(
    out: io.BytesIO,
    samples: Samples,
    sample_rate: int,
    form: AudioFormat,
    settings: dict[str, str],
    label: Label,
    report: Report | None,
) -> None:
    import av

    with av.open(out, "w", form.container, options=dict(form.muxer)) as container:
        container.metadata.update(_metadata(label, form))
        stream: Any = container.add_stream(
            form.codec, rate=sample_rate, layout="stereo", options=settings
        )
        stream.format = form.sample_format
        if form.extras and form.key != "flac":
            container.set_chapters(chapter_marks(label.chapters))
        if form.extras and label.cover_art:
            _attach(container, label.cover_art)
        for frame in _frames(samples, sample_rate, form, report):
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))


def _attach(container: Any, png: bytes) -> None:
    """Put the cover in as the one picture that belongs to the sound."""
    import av
    from av.stream import Disposition

    with av.open(io.BytesIO(png)) as opened:
        shown: Any = opened.streams.video[0]
        width, height, pixels = shown.width, shown.height, shown.codec_context.pix_fmt
    picture: Any = container.add_stream("png")
    picture.width, picture.height, picture.pix_fmt = width, height, pixels
    picture.disposition = Disposition.attached_pic
    container.start_encoding()
    packet = av.Packet(png)
    packet.stream, packet.pts, packet.dts = picture, 0, 0
    container.mux(packet)


def _metadata(label: Label, form: AudioFormat) -> dict[str, str]:
    pairs = {"title": label.title, "album": label.album, "comment": label.comment}
    if form.key == "flac":
        # Its muxer knows no chapters; players read them from comments of these names.
        for k, chapter in enumerate(label.chapters, 1):
            minutes, seconds = divmod(chapter.start, 60)
            hours, minutes = divmod(int(minutes), 60)
            pairs[f"CHAPTER{k:03d}"] = f"{hours:02d}:{minutes:02d}:{seconds:06.3f}"
            pairs[f"CHAPTER{k:03d}NAME"] = chapter.title
    return {key: value for key, value in pairs.items() if value}


def chapter_marks(chapters: Sequence[Chapter]) -> list[Any]:
    """Chapters as a container takes them."""
    return [
        {
            "id": k,
            "start": round(c.start * 1000),
            "end": round(c.end * 1000),
            "time_base": Fraction(1, 1000),
            "metadata": {"title": c.title},
        }
        for k, c in enumerate(chapters, 1)
    ]


def _frames(samples: Samples, sample_rate: int, form: AudioFormat, report: Report | None) -> Any:
    import av

    for start in range(0, len(samples), _BLOCK):
        if report:
            report(start / len(samples), _("writing the sound"))
        block = np.clip(samples[start : start + _BLOCK], -1.0, 1.0)
        if form.sample_format == "s16":
            flat = np.clip(np.round(block * 32768.0), -32768, 32767).astype(np.int16)
            frame = av.AudioFrame.from_ndarray(flat.reshape(1, -1), "s16", "stereo")
        else:
            frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(block.T), "fltp", "stereo")
        frame.sample_rate = sample_rate
        frame.pts = start
        frame.time_base = Fraction(1, sample_rate)
        yield frame


def decoded(data: bytes, form: AudioFormat) -> Track:
    """The bytes of a sound file as a player hears them.

    Raises:
        UserError: there is no room for a copy of the file, or it cannot be decoded.
    """
    try:
        with tempfile.TemporaryDirectory(prefix="rehearse-") as folder:
            copy = Path(folder) / f"check.{form.key}"
            copy.write_bytes(data)
            return load_track(copy)
    except OSError as error:
        raise user_error_of(error, Path(tempfile.gettempdir())) from error


def refuse_nothing(sound: Samples, sample_rate: int, what: str, do: str) -> None:
    """Refuse sound in which nothing is heard, before it is written.

    Args:
        sound: shape (frames, 2).
        what: what it would become. do: what to do about it.

    Raises:
        UserError: it is silent, or shorter than a second.
    """
    if len(sound) < SHORTEST * sample_rate:
        raise UserError(_("{what} would be shorter than a second", what=what), do=do)
    if float(np.abs(sound).max()) < SILENT:
        raise UserError(_("nothing would be heard in {what}", what=what), do=do)
