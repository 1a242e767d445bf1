"""The one door through which files are read: ordinary files of a stated size, nothing else.

A folder comes from other people's machines. What stands there under a name that the program
reads may be a link to an endless device, a pipe that nobody writes to, or a file of gigabytes.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import BinaryIO

from rehearse.files.atomic import user_error_of
from rehearse.files.inside import inside
from rehearse.files.user_error import UserError, halves
from rehearse.words import _

#: Never waits for the other end of a pipe, never hands the file to a child process.
_FLAGS = os.O_RDONLY | sum(
    getattr(os, name, 0) for name in ("O_NONBLOCK", "O_CLOEXEC", "O_NOCTTY", "O_BINARY")
)


def open_file(path: Path, most: int) -> BinaryIO:
    """Open an ordinary file for reading.

    Args:
        path: the file; links are followed.
        most: bytes it may have.

    Raises:
        UserError: there is none, it is a folder, a device, a pipe or too large, or may not be read.
    """
    try:
        _check(os.stat(path), path, most)  # opening a device can already do something
        stream = os.fdopen(os.open(path, _FLAGS), "rb")
        try:
            _check(os.fstat(stream.fileno()), path, most)
        except BaseException:
            stream.close()
            raise
        return stream
    except ValueError as error:  # a name with a zero in it
        raise UserError(
            _("is no name of a file"), where=path.name, do=_("check the name")
        ) from error
    except OSError as error:
        raise user_error_of(error, path) from error


def read_file(path: Path, most: int) -> bytes:
    """The whole content of an ordinary file.

    Raises:
        UserError: as `open_file`, or it grew beyond `most` bytes while it was read.
    """
    try:
        with open_file(path, most) as stream:
            data = stream.read(most + 1)
    except OSError as error:
        raise user_error_of(error, path) from error
    if len(data) > most:
        raise _too_large(path, most)
    return data


def read_inside(folder: Path, name: str, most: int) -> bytes:
    """The content of the file `name` in `folder`, which no link may leave.

    Raises:
        UserError: as `read_file`, or the name leads out of the folder.
    """
    return read_file(path_inside(folder, name), most)


def path_inside(folder: Path, name: str) -> Path:
    """As `inside`, with a fault instead of a `ValueError`.

    Raises:
        UserError: the name leads out of the folder.
    """
    try:
        return inside(folder, name)
    except ValueError as error:
        what, do = halves(error)
        raise UserError(what, where=folder.name, do=do) from error


def _check(found: os.stat_result, path: Path, most: int) -> None:
    if stat.S_ISDIR(found.st_mode):
        raise UserError(_("is a folder, not a file"), where=path.name, do=_("choose a file in it"))
    if not stat.S_ISREG(found.st_mode):
        raise UserError(
            _("is a device or a pipe, not a file"),
            where=path.name,
            do=_("put an ordinary file there"),
        )
    if found.st_size > most:
        raise _too_large(path, most)


def _too_large(path: Path, most: int) -> UserError:
    size = (
        _("{most:.0f} MB", most=most / 1000000.0)
        if most >= 1_000_000
        else _("{most:.0f} kB", most=most / 1000.0)
    )
    return UserError(
        _("is larger than {size}", size=size), where=path.name, do=_("put a smaller file there")
    )
