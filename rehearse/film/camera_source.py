"""Where the pictures of the own camera come from, behind one small interface.

`DeviceCamera` is a camera of this computer. `FilmCamera` is its stand-in: a film, fed picture by
picture when each is due by the clock, with its own sound. It is there for the tests, which name
the film in the variable `REHEARSE_CAMERA_FILM`: whatever comes after the device is the same.

Conventions: a picture's time is that of `time.perf_counter`, which all processes share.
"""

from __future__ import annotations

import os
import statistics
import time
from collections import deque
from collections.abc import Callable, Generator
from contextlib import closing
from pathlib import Path
from typing import Any, Protocol

from rehearse.files.camera_door import CameraDevice, camera_devices, open_camera
from rehearse.files.media import FILM, open_media
from rehearse.files.user_error import UserError
from rehearse.words import _

#: Names the film that stands in for a camera.
STAND_IN = "REHEARSE_CAMERA_FILM"
#: Seconds a picture takes from its exposure to the program where its time stamp tells nothing:
#: one or two pictures (common practice, no source).
LAG = 0.05
#: Seconds within which a time stamp is one of this clock's; pictures that the lag is taken from.
_SAME_CLOCK, _SOME = 0.5, 90
#: Seconds at most that a wait for a due picture takes at a stretch.
_NAP = 0.05
#: Seconds that a camera holds a picture for whoever is late (a few pictures; common practice).
_MISSED = 0.15
#: Seconds after which a camera that has no picture yet is asked again.
_SOON = 0.004

Pictures = Generator[tuple[float, Any], None, None]


class Camera(Protocol):
    """What a recorder needs of a camera."""

    def pictures(self) -> Pictures:
        """Second at which each picture was taken, and the frame, as they come, until closed.

        Raises:
            UserError: it cannot be opened, or went away.
        """

    def restart(self) -> None:
        """A recording begins: a film that stands in begins, too."""


def listed() -> tuple[CameraDevice, ...]:
    """The cameras that can be chosen."""
    film = os.environ.get(STAND_IN)
    return (CameraDevice("film", Path(film).name),) if film else camera_devices()


def find_camera(name: str = "") -> Camera:
    """The camera of a name, empty for the first one; the stand-in where the tests name one."""
    film = os.environ.get(STAND_IN)
    return FilmCamera(Path(film)) if film else DeviceCamera(name)


class TakenClock:
    """When a picture was taken, from its time stamp and from when it arrived.

    Most devices stamp by the clock that `time.perf_counter` reads. Others begin at nought: then a
    picture was taken `LAG` before the usual moment at which one with its stamp arrives.
    """

    def __init__(self) -> None:
        self._late: deque[float] = deque(maxlen=_SOME)
        self._last = float("-inf")

    def taken(self, stamp: float | None, arrived: float) -> float:
        """The second at which it was taken, after that of the picture before."""
        if stamp is None:
            told = arrived - LAG
        elif abs(stamp - arrived) < _SAME_CLOCK:
            told = min(stamp, arrived)
        else:
            self._late.append(arrived - stamp)
            told = stamp + statistics.median(self._late) - LAG
        self._last = max(told, self._last + 1e-4)
        return self._last


class DeviceCamera:
    """A camera of this computer; tried on none of the three systems.

    Args:
        name: as `listed` has it; empty: the first one.
    """

    def __init__(self, name: str = "") -> None:
        self._name = name

    def pictures(self) -> Pictures:
        """As `Camera.pictures`."""
        import av

        clock = TakenClock()
        with open_camera(self._name) as container:
            while True:
                try:
                    for packet in container.demux(container.streams.video[0]):
                        yield from _taken(packet, clock)
                    break
                except av.error.BlockingIOError:  # some systems say so where others wait
                    time.sleep(_SOON)
                except av.error.FFmpegError as error:
                    raise _gone() from error
        raise _gone()

    def restart(self) -> None:
        """A camera goes on as it does."""


def _taken(packet: Any, clock: TakenClock) -> Pictures:
    """The pictures of a packet, each with the second at which it was taken."""
    import av

    arrived = time.perf_counter()
    try:
        frames = packet.decode()
    except av.error.InvalidDataError:
        return  # the first packed pictures of many cameras are torn
    for frame in frames:
        stamp = None if frame.pts is None else float(frame.pts * frame.time_base)
        yield clock.taken(stamp, arrived), frame


def _gone() -> UserError:
    return UserError(_("the camera went away"), do=_("plug it in again"))


class FilmCamera:
    """A film in a camera's place: each picture comes when it is due; its last one goes on.

    What nobody took in time is missed, as with a camera.

    Args:
        clock, nap: stand in for the time.
    """

    def __init__(
        self,
        film: Path,
        *,
        clock: Callable[[], float] = time.perf_counter,
        nap: Callable[[float], None] = time.sleep,
    ) -> None:
        self.film, self._clock, self._nap = film, clock, nap
        self.started = clock()  # at which the film's second 0 is shown
        self._again = False

    def restart(self) -> None:
        """The film begins anew with the next picture."""
        self.started, self._again = self._clock(), True

    def pictures(self) -> Pictures:
        """As `Camera.pictures`."""
        while True:
            self._again = False
            with open_media(self.film, FILM) as media:
                last = None
                with closing(_forever(media)) as frames:
                    for second, frame in frames:
                        last = frame if frame is not None else last
                        due = self.started + second
                        while (left := due - self._clock()) > 0 and not self._again:
                            self._nap(min(left, _NAP))
                        if self._again:
                            break
                        if left > -_MISSED:
                            yield due, last


def _forever(media: Any) -> Generator[tuple[float, Any], None, None]:
    """A film's pictures with their seconds, then seconds at its rate without a new picture."""
    # The set-up form lists cameras in the window's thread, while music may play.
    from rehearse.film.movement import frames_between

    second = 0.0
    for frame in frames_between(media, 0.0, float("inf"), every=True):
        second = float(frame.time)
        yield second, frame
    while True:
        second += 1 / 30
        yield second, None
