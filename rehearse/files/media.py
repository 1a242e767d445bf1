"""The one door through which songs, voices and films are opened.

FFmpeg reads far more than a song: lists that name other files, descriptions of network streams,
devices, raw pictures. Only ordinary files are opened here, by their path, as one of the containers
named below, whatever the file is called; a container never gets to open anything else. What comes
out of it is counted: channels, rate, length, and the time it all takes.

Whoever reads a stranger's file does it in a process that can be ended (`work.pool`, or
`music.apart` where there is no window): no limit stops a decoder that hangs within one packet.
"""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rehearse.files.door import open_file
from rehearse.files.user_error import UserError
from rehearse.words import _

if TYPE_CHECKING:
    import av

#: FFmpeg's names of the containers that may be opened; none of them leads to another file.
CONTAINERS = (
    *("aac", "aiff", "amr", "amrnb", "amrwb", "ape", "asf", "au", "avi", "caf", "flac"),
    *("matroska", "mov", "mp3", "mpeg", "mpegts", "ogg", "tta", "w64", "wav", "wv"),
)
#: How lists of other files and descriptions of streams begin, in lower case.
_LISTS = (b"#extm3u", b"[playlist]", b"[reference]", b"ffconcat", b"v=0", b"<asx", b"<smil")
_XML_LISTS = (b"<mpd", b"<smil", b"<playlist", b"<asx", b"<assetmap", b"<compositionplaylist")
#: Pixels of the largest picture or cover that is decoded: 8K film has 33 million.
_PIXELS = 40_000_000
#: Streams a file may hold.
_STREAMS = 64
#: Bytes in a packet of plain samples. FFmpeg's own choice falls with the rate: of a file that says
#: "one sample a second" it makes hundreds of thousands, and opening it takes seconds.
_PACKET = 4096
_AGAIN = _("copy it again")
#: Packets in a row that give no frame, after which nothing more is expected: minutes of a song.
_BARREN = 20_000
#: Seconds in which a file must have shown what it is; the search goes on to its end otherwise.
_OPENING = 20.0
#: Bytes from which on a file with less than a hundredth of its blocks is one that was only begun.
_HOLLOW = 10_000_000


@dataclass(frozen=True)
class Limits:
    """What a media file may be at most.

    Args:
        size: bytes. length: seconds of sound. work: seconds that reading it may take.
        channels: of its sound. rates: lowest and highest frames a second.
    """

    size: int
    length: float
    work: float
    channels: int = 8
    rates: tuple[int, int] = (8000, 192_000)


#: Half a minute beyond 30 minutes: nobody counts them.
SONG = Limits(size=4_000_000_000, length=1830.0, work=300.0)
VOICE = Limits(size=50_000_000, length=16.0, work=10.0)
FILM = Limits(size=16_000_000_000, length=1830.0, work=1200.0)


class NoMedia(UserError):
    """FFmpeg finds nothing in the file that it could play; `number` is the system's error, or 0."""

    number = 0


class Media:
    """An opened file.

    Args:
        path: the file. container: FFmpeg's; closed by `open_media`. limits: what it may be.
    """

    def __init__(self, path: Path, container: Any, limits: Limits) -> None:
        self.path, self.container, self.limits = path, container, limits
        self._until = time.monotonic() + limits.work
        self._heard: dict[int, float] = {}

    @property
    def kind(self) -> str:
        """FFmpeg's name of the container ("wav", "mov,mp4,m4a,3gp,3g2,mj2" …)."""
        return str(self.container.format.name)

    @property
    def sound(self) -> av.audio.stream.AudioStream | None:
        """The stream of sound that a player would choose; None: it has none."""
        return self.container.streams.best("audio")  # type: ignore[no-any-return]

    @property
    def picture(self) -> av.video.stream.VideoStream | None:
        """The stream of moving pictures, covers not counting; None: it has none."""
        from av.stream import Disposition

        moving = (
            stream
            for stream in self.container.streams.video
            if not stream.disposition & Disposition.attached_pic
        )
        return next(moving, None)

    def decoded(self, *streams: Any) -> Iterator[tuple[Any, list[Any]]]:
        """Packets of these streams in the file's order, each with the frames it gave.

        A damaged packet is left out, as players do; a file that ends within one just ends.

        Raises:
            NoMedia: its code is none that can be decoded.
            UserError: a limit is broken: length, channels, rate, or the time it takes.
        """
        from av.error import FFmpegError

        for stream in streams:
            if stream.codec_context is None:  # a code that no decoder here knows
                raise NoMedia(
                    _("holds nothing that can be played"), where=self.path.name, do=_AGAIN
                )
            stream.codec_context.options = {"max_pixels": str(_PIXELS)}
        packets = self.container.demux(*streams)
        barren = 0
        while barren < _BARREN:
            try:
                packet = next(packets, None)
            except FFmpegError:
                return
            if packet is None:
                return
            self._check_time()
            barren += 1
            try:
                frames = packet.decode()
            except FFmpegError:
                continue  # such as a tag at the end of an mp3
            barren = 0 if frames else barren
            for frame in frames:
                self._check(frame, packet.stream_index)
            yield packet, frames

    def _check_time(self) -> None:
        if time.monotonic() > self._until:
            raise UserError(
                _("takes too long to read"), where=self.path.name, do=_("save it in a new file")
            )

    def _check(self, frame: Any, stream: int) -> None:
        if not hasattr(frame, "sample_rate"):
            return
        name, limits, rate = self.path.name, self.limits, int(frame.sample_rate)
        low, high = limits.rates
        if not low <= rate <= high:
            raise UserError(
                _(
                    "has {rate} samples a second; {low} to {high} can be used",
                    rate=rate,
                    low=low,
                    high=high,
                ),
                where=name,
                do=_("save it at 48000"),
            )
        channels = len(frame.layout.channels)
        if channels > limits.channels:
            raise UserError(
                _(
                    "has {channels} channels; {channels2} at most can be used",
                    channels=channels,
                    channels2=limits.channels,
                ),
                where=name,
                do=_("save it in stereo"),
            )
        heard = self._heard.get(stream, 0.0) + frame.samples / rate
        self._heard[stream] = heard
        if heard > limits.length:
            raise too_long(self.path, limits)


def too_long(path: Path, limits: Limits) -> UserError:
    """The sentence for sound that is longer than `limits` allow."""
    minutes, seconds = limits.length // 60, limits.length // 1
    words = _("{minutes:.0f} minutes", minutes=minutes) if minutes else f"{seconds:.0f} s"
    return UserError(
        _("is longer than {words}", words=words), where=path.name, do=_("cut out what you use")
    )


@contextlib.contextmanager
def open_media(path: Path, limits: Limits) -> Iterator[Media]:
    """Open a song, voice or film; closed when left.

    Args:
        path: the file; its name says nothing about what it holds.
        limits: `SONG`, `VOICE` or `FILM`.

    Raises:
        UserError: there is no such file, it is no ordinary one, too large, empty, or a list of
            others.
        NoMedia: nothing in it can be played.
    """
    import av

    with open_file(path, limits.size) as file:
        if _is_hollow(os.fstat(file.fileno())):
            what = _("is not all there: most of it was never written")
            raise UserError(what, where=path.name, do=_("copy the whole file again"))
        head = file.read(4096)
    if not head:
        raise UserError(_("the file is empty"), where=path.name, do=_("copy it again"))
    if _is_list(head):
        do = _("choose one of the files it names")
        raise UserError(_("is a list of other files, not sound"), where=path.name, do=do)
    try:
        container = av.open(
            # "file:", because a name such as "Part 2: Rise.mp3" would be taken for an address.
            f"file:{path}",
            options={"max_pixels": str(_PIXELS)},
            container_options={
                "protocol_whitelist": "file",
                "format_whitelist": ",".join(CONTAINERS),
                "max_streams": str(_STREAMS),
                "max_size": str(_PACKET),
            },
            metadata_errors="ignore",
            timeout=(min(limits.work, _OPENING), limits.work),
        )
    except (av.error.FFmpegError, ValueError) as error:
        refusal = NoMedia(_("holds nothing that can be played"), where=path.name, do=_AGAIN)
        refusal.number = getattr(error, "errno", 0) or 0
        raise refusal from error
    with container:
        yield Media(path, container, limits)


def _is_hollow(found: os.stat_result) -> bool:
    """Whether the file is a hole, as a copy leaves it that reserved the space and then stopped."""
    written = getattr(found, "st_blocks", None)
    return written is not None and found.st_size > _HOLLOW and written * 512 < found.st_size // 100


def _is_list(head: bytes) -> bool:
    text = head.removeprefix(b"\xef\xbb\xbf").replace(b"\0", b"").lstrip(b"\xff\xfe \t\r\n").lower()
    xml = text.startswith((b"<?xml", b"<!--"))
    return text.startswith((*_LISTS, b"<mpd")) or (xml and any(mark in text for mark in _XML_LISTS))
