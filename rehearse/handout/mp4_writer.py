"""Pictures and a finished sound to one mp4 that starts at once on any phone or television.

H.264 High, 4:2:0 in the colours of ITU-R BT.709, beside AAC; the index stands at the front of the
file, a whole picture every two seconds, so that it can be sought.

The calling thread paints and converts; a second one encodes, at most a few pictures behind. Both
take about as long, and the encoder hardly needs Python's lock, which the painter holds.

Every picture has the same quality, as drawings need little; only where photos make the file larger
than it may be, it is begun again with the bits bounded, which takes twice as long.

Conventions: a picture is uint8, shape (height, width, 4), blue first; width and height are even.
Frame k is shown from second k / RATE on.
"""

from __future__ import annotations

import math
import sys
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from rehearse.files.atomic import user_error_of, written_aside
from rehearse.handout.encode import Chapter, chapter_marks
from rehearse.handout.mp4_muxer import Mp4Muxer
from rehearse.words import _
from rehearse.work.progress import Report

#: Frames a second.
RATE = 30
Pixels: TypeAlias = npt.NDArray[np.uint8]
#: Left, upper, right and lower edge of what differs from the frame before, in pixels.
Rect: TypeAlias = tuple[int, int, int, int]

#: Bits a second of the pictures at most: with the sound's a minute and a half stay under 25 MB.
_MOST_BITS = 1_900_000
_COMMON = {
    "preset": "superfast",
    "profile": "high",
    "level": "4.0",
    "g": str(2 * RATE),
    "bf": "0",
}
#: Most of a picture is that of the frame before, and what moves are drawn edges: whatever looks
#: ahead, weighs or smooths costs more than it saves. A fixed quality needs no forecast of its cost.
_EVEN = _COMMON | {
    "qp": "22",
    "threads": "1",
    "x264-params": "scenecut=0:weightp=0:subme=0:no-deblock=1",
}
_BOUNDED = _COMMON | {
    "crf": "22",
    "maxrate": str(_MOST_BITS),
    "bufsize": str(2 * _MOST_BITS),
    "threads": "2",
}
#: Pictures that may be painted before they are encoded: enough for a whole one that takes long,
#: and no more than 50 MB where all of them are whole.
_AHEAD = 16
#: Sizes of pieces for which a reformatter is kept: the stage has about ten, and three more for each
#: count at which the lit part of the edge grows.
_SIZES = 32
#: Seconds after which a thread in Python's code makes room for the other one. The usual 5 ms are
#: half a picture: each of the encoder's calls would wait that long for the painter.
_SWITCH = 0.0002
#: ITU-R BT.709, and the range 16–235, as numbers of ITU-T H.273.
_BT709, _LIMITED = 1, 1


def write_mp4(
    path: Path,
    size: tuple[int, int],
    frames: Callable[[], Iterable[tuple[Pixels, Sequence[Rect]]]],
    sound: bytes | Future[bytes],
    *,
    count: int,
    title: str = "",
    chapters: Sequence[Chapter] = (),
    report: Report | None = None,
) -> None:
    """Write `frames` and `sound`, whole or not at all.

    Args:
        size: width and height in pixels.
        frames: gives the pictures from the first one on, each with what differs in it from the one
            before; the first is taken whole.
        sound: the bytes of an m4a file, perhaps still in the making; taken over as it is.
        count: how many frames there are.
        report: told how far it is; may raise to stop.

    Raises:
        UserError: the file cannot be written, or what went wrong with the sound.
    """
    if isinstance(sound, bytes):
        there, sound = sound, Future()
        sound.set_result(there)
    try:
        with written_aside(path) as part:
            for settings in (_EVEN, _BOUNDED):
                try:
                    with _container(part, title, chapters) as container:
                        most = _MOST_BITS * count / RATE if settings is _EVEN else math.inf
                        shown = _stream(container, size, settings)
                        with Mp4Muxer(container, sound) as muxer:
                            encoder = _Encoder(shown, muxer, size, most)
                            _paint_and_encode(encoder, size, frames(), count, report)
                    return
                except _TooLarge:
                    continue
    except OSError as error:
        raise user_error_of(error, path) from error


class _TooLarge(Exception):
    """The pictures take more bits than they may."""


@contextmanager
def _container(part: Path, title: str, chapters: Sequence[Chapter]) -> Iterator[Any]:
    import av

    with av.open(str(part), "w", "mp4", options={"movflags": "+faststart"}) as container:
        container.metadata["title"] = title
        container.set_chapters(chapter_marks(chapters))
        yield container


def _paint_and_encode(
    encoder: _Encoder,
    size: tuple[int, int],
    frames: Iterable[tuple[Pixels, Sequence[Rect]]],
    count: int,
    report: Report | None,
) -> None:
    converter, pending = _Converter(), deque[Future[None]]()
    with _quick_switching(), ThreadPoolExecutor(1, "video") as beside:
        try:
            for number, (pixels, rects) in enumerate(frames):
                if report and number % 10 == 0:
                    report(number / count, _("painting the video"))
                pieces = converter.pieces(pixels, rects if number else [(0, 0, *size)])
                pending.append(beside.submit(encoder.add, number, pieces))
                if len(pending) > _AHEAD:
                    pending.popleft().result()
            for left in pending:
                left.result()
        except BaseException:
            beside.shutdown(cancel_futures=True)
            raise
    encoder.close()


@contextmanager
def _quick_switching() -> Iterator[None]:
    before = sys.getswitchinterval()
    sys.setswitchinterval(_SWITCH)
    try:
        yield
    finally:
        sys.setswitchinterval(before)


#: Left and upper edge of a piece of a picture, and its planes: luma, and both colours at half size.
_Piece: TypeAlias = tuple[int, int, list[Pixels]]


class _Converter:
    """Takes what differs out of painted pictures, in the colours of the video."""

    def __init__(self) -> None:
        self._kept: dict[tuple[int, ...], Any] = {}

    def pieces(self, pixels: Pixels, rects: Sequence[Rect]) -> list[_Piece]:
        """What lies in `rects`, on even pixels: a colour sample covers two by two of them."""
        height, width = pixels.shape[:2]
        pieces = []
        for rect in rects:
            left, top = (max(0, edge // 2 * 2) for edge in rect[:2])
            right, bottom = (
                min(most, (edge + 1) // 2 * 2)
                for edge, most in zip(rect[2:], (width, height), strict=True)
            )
            if right > left and bottom > top:
                pieces.append((left, top, self._planes(pixels[top:bottom, left:right])))
        return pieces

    def _planes(self, pixels: Pixels) -> list[Pixels]:
        import av

        made = self._reformatter(pixels.shape).reformat(
            av.VideoFrame.from_numpy_buffer(pixels, "bgra"),
            format="yuv420p",
            dst_colorspace=_BT709,
            threads=1,
        )
        height, width = pixels.shape[:2]
        return [
            plane[: height // step, : width // step]
            for plane, step in zip(_arrays(made), (1, 2, 2), strict=True)
        ]

    def _reformatter(self, shape: tuple[int, ...]) -> Any:
        """One for each size: setting it up anew takes longer than converting an edge."""
        from av.video.reformatter import VideoReformatter

        kept = self._kept.pop(shape, None) or VideoReformatter()
        self._kept[shape] = kept  # the newest is dropped last
        while len(self._kept) > _SIZES:
            self._kept.pop(next(iter(self._kept)))
        return kept


class _Encoder:
    """Takes pictures in order and writes them with the sound; used by one thread at a time.

    Args:
        most: bits that the pictures may take.
    """

    def __init__(self, shown: Any, muxer: Mp4Muxer, size: tuple[int, int], most: float) -> None:
        self._shown, self._muxer, self._left = shown, muxer, most
        self._canvas = _Canvas(*size)

    def add(self, number: int, pieces: Sequence[_Piece]) -> None:
        """Encode frame `number`: the one before with these pieces put in."""
        self._canvas.take(pieces)
        packets = self._shown.encode(self._canvas.frame(number))
        self._left -= 8 * sum(packet.size for packet in packets)
        if self._left < 0:
            raise _TooLarge
        self._muxer.add_pictures(packets)
        if number % RATE == 0:
            self._muxer.add_sound(number / RATE + 1)

    def close(self) -> None:
        """Write what the encoder still holds, and the rest of the sound."""
        self._muxer.add_pictures(self._shown.encode(None))
        self._muxer.finish()


def _stream(container: Any, size: tuple[int, int], settings: dict[str, str]) -> Any:
    stream = container.add_stream("libx264", rate=RATE, options=settings)
    stream.width, stream.height = size
    stream.pix_fmt = "yuv420p"
    context = stream.codec_context
    context.colorspace = context.color_primaries = context.color_trc = _BT709
    context.color_range = _LIMITED
    return stream


class _Canvas:
    """The frame that is encoded: what stays in it stays."""

    def __init__(self, width: int, height: int) -> None:
        import av

        self._frame = av.VideoFrame(width, height, "yuv420p")
        self._frame.time_base = Fraction(1, RATE)
        self._planes = _arrays(self._frame)

    def take(self, pieces: Sequence[_Piece]) -> None:
        """Put in what differs."""
        for left, top, parts in pieces:
            for plane, part, step in zip(self._planes, parts, (1, 2, 2), strict=True):
                height, width = part.shape
                y, x = top // step, left // step
                plane[y : y + height, x : x + width] = part

    def frame(self, number: int) -> Any:
        """The frame to encode; the encoder has copied it before it is changed again."""
        self._frame.pts = number
        return self._frame


def _arrays(frame: Any) -> list[Pixels]:
    return [np.frombuffer(p, np.uint8).reshape(-1, p.line_size) for p in frame.planes]
