"""The pictures of the last moments, packed, in bounded memory; nothing of it is ever on a disk."""

from __future__ import annotations

from bisect import bisect_right

#: Seconds and bytes that are kept at most: sixteen slow counts at 30 pictures a second.
SECONDS, BYTES = 45.0, 64_000_000


class LateRing:
    """Pictures by the second at which each was taken, the oldest forgotten first.

    Args:
        seconds, most: kept at most, in seconds and bytes.
    """

    def __init__(self, seconds: float = SECONDS, most: int = BYTES) -> None:
        self._seconds, self._most = seconds, most
        self._times: list[float] = []
        self._pictures: list[bytes] = []
        self._gone = 0  # of the lists' heads, until they are cut off in one go
        self.size = 0

    def __len__(self) -> int:
        return len(self._times) - self._gone

    def add(self, taken: float, picture: bytes) -> None:
        """The newest picture; one that is not newer than the last is left out."""
        if len(self) and taken <= self._times[-1]:
            return
        self._times.append(taken)
        self._pictures.append(picture)
        self.size += len(picture)
        while len(self) > 1 and (
            self.size > self._most or self._times[self._gone] < taken - self._seconds
        ):
            self.size -= len(self._pictures[self._gone])
            self._pictures[self._gone] = b""
            self._gone += 1
        if self._gone > 500:
            del self._times[: self._gone], self._pictures[: self._gone]
            self._gone = 0

    def at(self, second: float) -> tuple[float, bytes] | None:
        """The picture that was seen at this second: the last one taken until then."""
        place = bisect_right(self._times, second, lo=self._gone) - 1
        return None if place < self._gone else (self._times[place], self._pictures[place])

    @property
    def oldest(self) -> float:
        """The second of the oldest picture; of none, now and ever."""
        return self._times[self._gone] if len(self) else float("inf")

    def clear(self) -> None:
        """Forget everything."""
        self._times, self._pictures, self._gone, self.size = [], [], 0, 0
