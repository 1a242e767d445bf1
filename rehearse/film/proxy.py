"""The film as it is kept for looking at: small, upright, quick to step through, without sound.

Every sixth picture is whole, so that any one is there within some milliseconds. A picture keeps
its second of the film, which is what hits are known by.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal

import av
import numpy as np
import numpy.typing as npt
from av.video.reformatter import VideoReformatter

from rehearse.files.media import Limits, Media, open_media
from rehearse.files.user_error import UserError
from rehearse.words import _

#: Lines of the shorter side at most; bits a second at most: 40 MB hold 90 seconds.
LINES, _MOST_BITS = 720, 3_200_000
_TICKS = 90_000
_SETTINGS = {
    "preset": "ultrafast",
    "crf": "25",
    "maxrate": str(_MOST_BITS),
    "bufsize": str(_MOST_BITS),
    "g": "6",
    "bf": "0",
    "threads": "2",
}
#: While it is filmed: one thread, no picture held back; and pieces that can each be read alone.
_LIVE = {"threads": "1", "tune": "zerolatency"}
_PIECES = {"movflags": "frag_keyframe+empty_moov+default_base_moof", "flush_packets": "1"}
#: A kept film may be open for as long as the window is.
_KEPT = Limits(size=500_000_000, length=1830.0, work=1e9)
#: Seconds ahead up to which it is quicker to go on than to jump.
_NEAR = 0.5

_SCALED = "FAST_BILINEAR"

Picture = npt.NDArray[np.uint8]


class ProxyWriter:
    """Writes the pictures of a film as they are read.

    Args:
        path: the file to make. live: it is made while the pictures are taken: on one thread, and
            what was written can be read whatever becomes of the rest.
    """

    def __init__(self, path: Path, *, live: bool = False) -> None:
        self._settings = _SETTINGS | _LIVE if live else _SETTINGS
        self._file = av.open(str(path), "w", format="mp4", options=_PIECES if live else {})
        self._stream: Any = None
        self._last = -1

    def add(self, frame: Any, *, at: float | None = None) -> None:
        """The next picture, a frame of the film as decoded; `at`: its second, if not its own."""
        ticks = round((frame.time if at is None else at) * _TICKS)
        if ticks <= self._last:
            return
        self._last = ticks
        small = _upright(frame)
        if self._stream is None:
            self._begin(small.width, small.height)
        small.pts, small.time_base = ticks, Fraction(1, _TICKS)
        self._file.mux(self._stream.encode(small))

    def close(self) -> None:
        """Write what is left and end the file."""
        if self._stream is not None:
            self._file.mux(self._stream.encode(None))
        self._file.close()

    def abandon(self) -> None:
        """End the file wherever it is."""
        self._file.close()

    def _begin(self, width: int, height: int) -> None:
        self._stream = self._file.add_stream("libx264", rate=30, options=dict(self._settings))
        self._stream.width, self._stream.height = width, height
        self._stream.pix_fmt = "yuv420p"
        self._stream.time_base = Fraction(1, _TICKS)
        self._stream.codec_context.time_base = Fraction(1, _TICKS)


def _upright(frame: Any) -> Any:
    """The frame at the proxy's size, turned as it is to be looked at."""
    scale = min(1.0, LINES / min(frame.width, frame.height))
    width, height = (2 * round(x * scale / 2) for x in (frame.width, frame.height))
    if not frame.rotation % 360:
        return frame.reformat(width, height, "yuv420p", interpolation="FAST_BILINEAR")
    pixels = frame.reformat(width, height, "rgb24", interpolation="FAST_BILINEAR").to_ndarray()
    turned = np.ascontiguousarray(np.rot90(pixels, frame.rotation // 90 % 4))
    return av.VideoFrame.from_ndarray(turned, "rgb24").reformat(format="yuv420p")


def copy_whole(pieces: Path, path: Path) -> float:
    """Make an ordinary film of one that was written live, as far as that goes.

    Returns:
        Seconds from its first picture to its last.

    Raises:
        OSError: it cannot be written. UserError: nothing in it can be read.
    """
    first = last = None
    with open_media(pieces, _KEPT) as media, av.open(str(path), "w", format="mp4") as out:
        if media.picture is None:
            raise UserError(_("has no pictures"), where=pieces.name, do=_("film it again"))
        stream = out.add_stream_from_template(media.picture)
        for packet in media.container.demux(media.picture):
            if packet.dts is None or packet.pts is None:
                continue
            last = float(packet.pts * packet.time_base)
            first = last if first is None else first
            packet.stream = stream
            out.mux(packet)
    if first is None or last is None:
        raise UserError(_("has no pictures"), where=pieces.name, do=_("film it again"))
    return last - first


class FilmFrames:
    """The pictures of a kept film, by their second. Use it from one thread.

    Raises:
        UserError: the file cannot be opened.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._opening = open_media(path, _KEPT)
        self._media: Media = self._opening.__enter__()
        stream = self._media.picture
        if stream is None:
            self.close()
            raise UserError(_("has no pictures"), where=path.name, do=_("read the film again"))
        self._stream = stream
        self._converter = VideoReformatter()
        self._coming: Iterator[Any] = iter(())
        self._now: Any = None
        self._next: Any = None
        self._jump(0.0)

    def close(self) -> None:
        """Close the file."""
        self._opening.__exit__(None, None, None)

    def at(
        self, second: float, width: int = 0, layout: Literal["rgb24", "bgra"] = "rgb24"
    ) -> tuple[float, Picture] | None:
        """The picture shown at this second of the film: the last that has begun.

        Args:
            width: pixels; 0: as it is. layout: of a pixel's bytes.

        Returns:
            Its own second, and its pixels, shape (height, width, 3 or 4); None: there is none.
        """
        return self.picture(width, layout) if self.find(second) else None

    def picture(
        self, width: int = 0, layout: Literal["rgb24", "bgra"] = "rgb24"
    ) -> tuple[float, Picture] | None:
        """The picture that was gone to; arguments and what is returned as for `at`."""
        frame = self._now
        if frame is None:
            return None
        wide = min(frame.width, 2 * round((width or frame.width) / 2))
        high = 2 * round(frame.height * wide / frame.width / 2)
        # One converter for all: a frame's own is set up anew for each.
        picture = self._converter.reformat(frame, wide, high, layout, interpolation=_SCALED)
        return float(frame.time), np.ascontiguousarray(picture.to_ndarray())

    def after(self, last: float, second: float) -> bool:
        """Go to the picture after that of `last`, or of `second` if later; False: at the end."""
        if not self.find(last) or self._next is None:
            return False
        return self.find(max(float(self._next.time), second))

    def find(self, second: float) -> bool:
        """Go to the picture of this second; False: there is none."""
        here = self._now
        if here is None or second < here.time or second > here.time + _NEAR:
            self._jump(second)
        while self._next is not None and self._next.time <= second + 1e-6:
            self._now, self._next = self._next, self._following()
        return self._now is not None

    def beside(self, second: float, step: int) -> float:
        """The second of the picture `step` pictures away (−1 or 1) from the one shown then."""
        if not self.find(second):
            return second
        if step > 0:
            return float(self._next.time if self._next is not None else self._now.time)
        here = float(self._now.time)
        before = here
        self._jump(max(0.0, here - 0.2))
        while self._now is not None and self._now.time < here - 1e-6:
            before = float(self._now.time)
            self._now, self._next = self._next, self._following()
        return before

    def _jump(self, second: float) -> None:
        ticks = int((second + 1e-4) / float(self._stream.time_base or 1))
        self._media.container.seek(max(0, ticks), stream=self._stream)
        self._coming = self._pictures()
        self._now = self._following()
        self._next = self._following()

    def _pictures(self) -> Iterator[Any]:
        for _unused, frames in self._media.decoded(self._stream):
            for frame in frames:
                if frame.pts is not None:
                    yield frame

    def _following(self) -> Any:
        return next(self._coming, None)
