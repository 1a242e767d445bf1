"""Packets of pictures and of a sound into one file by turns.

The sound may still be in the making when the first pictures are there: they wait in memory, and
the file comes out the same whenever it is done.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Sequence
from concurrent.futures import Future
from types import TracebackType
from typing import Any

#: Bytes of pictures that wait for the sound at most: two minutes of them.
_MOST_WAITING = 32_000_000


class Mp4Muxer:
    """Takes packets in order; used by one thread at a time.

    Args:
        container: opened for writing, with its stream of pictures; closed by whoever opened it.
        sound: the bytes of an m4a file, taken over as it is.
    """

    def __init__(self, container: Any, sound: Future[bytes]) -> None:
        self._container, self._sound = container, sound
        self._waiting: list[Any] = []
        self._bytes = 0
        self._heard: Any = None
        self._packets: Iterator[Any] | None = None

    def __enter__(self) -> Mp4Muxer:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._heard is not None:
            self._heard.close()

    def add_pictures(self, packets: Sequence[Any]) -> None:
        """Take the next pictures.

        Raises:
            Exception: what went wrong while the sound was made.
        """
        self._waiting += packets
        self._bytes += sum(packet.size for packet in packets)
        if self._packets or self._sound.done() or self._bytes > _MOST_WAITING:
            self._write()

    def add_sound(self, until: float) -> None:
        """The sound up to second `until` comes next."""
        self._waiting.append(until)

    def finish(self) -> None:
        """Write what waits and the rest of the sound."""
        self.add_sound(math.inf)
        self._write()

    def _write(self) -> None:
        packets = self._packets = self._packets or self._opened()
        for one in self._waiting:
            if isinstance(one, float):
                self._write_sound(packets, one)
            else:
                self._container.mux(one)
        self._waiting.clear()
        self._bytes = 0

    def _opened(self) -> Iterator[Any]:
        """The sound's packets; the padding before its first sample stays cut off by its edit list.

        The stream must be there before the first packet of any is written.
        """
        import av

        self._heard = av.open(io.BytesIO(self._sound.result()))
        heard = self._heard.streams.audio[0]
        stream = self._container.add_stream_from_template(heard)
        return _of_stream(self._heard.demux(heard), stream)

    def _write_sound(self, packets: Iterator[Any], until: float) -> None:
        for packet in packets:
            self._container.mux(packet)
            if packet.pts * packet.time_base >= until:
                return


def _of_stream(packets: Iterator[Any], stream: Any) -> Iterator[Any]:
    for packet in packets:
        if packet.dts is not None:
            packet.stream = stream
            yield packet
