"""The one door through which a camera of this computer is opened: a listed device, nothing else.

FFmpeg's devices take a name and read whatever stands there. Here a name is opened only while the
system itself lists a camera under it, by the one device format of that system, and as nothing else.

Tried on none of the three systems: no camera was at hand.
"""

from __future__ import annotations

import contextlib
import errno
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from rehearse.files.user_error import UserError
from rehearse.words import _

#: FFmpeg's device of each system, how it writes a camera's name, and how it is asked for pictures
#: that come packed: unpacked ones of this size come slowly through many a cable.
_KINDS = {
    "linux": ("v4l2", "{name}", {"input_format": "mjpeg"}),
    "win32": ("dshow", "video={name}", {"vcodec": "mjpeg"}),
    "darwin": ("avfoundation", "{name}:none", {"pixel_format": "nv12"}),
}
_SIZE, _RATE = {"video_size": "1280x720"}, {"framerate": "30"}
#: Pixels of the largest picture that is decoded; characters that part two devices in one name.
_PIXELS, _PARTING = 9_000_000, frozenset('":\n\r\0')
_BUSY = (errno.EBUSY, errno.EAGAIN)
_FORBIDDEN = (errno.EACCES, errno.EPERM)


@dataclass(frozen=True)
class CameraDevice:
    """A camera the system lists: its name for `open_camera`, and what people call it."""

    name: str
    words: str


def camera_devices() -> tuple[CameraDevice, ...]:
    """The cameras of this computer, the system's first one first; empty where there is none."""
    import av
    from av.device import enumerate_input_devices

    kind = _KINDS.get(sys.platform)
    if kind is None:
        return ()
    try:
        listed = enumerate_input_devices(kind[0])
    except (av.error.FFmpegError, ValueError):
        return ()
    cameras = [one for one in listed if not one.media_types or "video" in one.media_types]
    cameras.sort(key=lambda one: not one.is_default)
    return tuple(
        CameraDevice(one.name, one.description or one.name)
        for one in cameras
        if one.name and not _PARTING & set(one.name)
    )


@contextlib.contextmanager
def open_camera(name: str = "") -> Iterator[Any]:
    """Open a camera that the system lists; closed when left.

    Args:
        name: as listed; empty: the first one.

    Yields:
        FFmpeg's container, whose video stream never ends by itself.

    Raises:
        UserError: there is none, none of that name, it is in use, or may not be used.
    """
    import av

    devices = camera_devices()
    device = next((one for one in devices if name in ("", one.name)), None)
    if device is None:
        if devices:
            do = _("choose another one in the set-up")
            raise UserError(_("the chosen camera is not there"), do=do)
        raise UserError(_("no camera is found"), do=_("connect one, or open its cover"))
    form, written, packed = _KINDS[sys.platform]
    refused: Exception | None = None
    for options in (_SIZE | _RATE | packed, _SIZE | _RATE, _RATE, {}):
        try:
            container = av.open(
                written.format(name=device.name),
                format=form,
                options={"max_pixels": str(_PIXELS)},
                # A device needs no protocol: with none allowed it cannot lead anywhere else.
                container_options={**options, "protocol_whitelist": "none"},
                metadata_errors="ignore",
            )
        except (av.error.FFmpegError, ValueError) as error:
            refused = error
            if getattr(error, "errno", 0) in (*_BUSY, *_FORBIDDEN):
                break
            continue
        with container:
            yield container
        return
    raise _refusal(refused, device.words)


def _refusal(error: Exception | None, words: str) -> UserError:
    number = getattr(error, "errno", 0)
    if number in _BUSY:
        do = _("close the program that uses it")
        return UserError(_("the camera is in use"), where=words, do=do)
    if number in _FORBIDDEN:
        do = _("allow it in the system's settings for cameras")
        return UserError(_("this program may not use the camera"), where=words, do=do)
    do = _("close other programs that use it, or plug it in again")
    return UserError(_("the camera cannot be opened"), where=words, do=do)
