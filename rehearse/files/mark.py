"""What files looked like when they were last read or written: whether another program came by."""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from rehearse.files.door import read_file

#: Bytes a file has at most; a larger one is none of ours.
_MOST = 20_000_000
#: Number of its drive and file, size, time of the last change; None: there is no such file.
_Look = tuple[int, int, int, int] | None


@dataclass(frozen=True)
class FolderMark:
    """A folder and some files in it at one moment.

    Args:
        folder: number of the folder's drive and its own number there.
        looks: how each file looked from outside, without reading it.
        contents: SHA-256 of each, hexadecimal; empty: there was no such file.
    """

    folder: tuple[int, int]
    looks: tuple[_Look, ...]
    contents: tuple[str, ...]


def mark(folder: Path, names: Sequence[str]) -> FolderMark:
    """The files `names` of `folder` as they are now.

    Raises:
        OSError: the folder is gone. UserError: a file cannot be read.
    """
    there = os.stat(folder)
    looks = _looks(folder, names)
    return FolderMark(
        (there.st_dev, there.st_ino), looks, tuple(_content(folder / n) for n in names)
    )


def is_unchanged(earlier: FolderMark, folder: Path, names: Sequence[str]) -> bool:
    """Whether the files hold what they held; they are read only where they look otherwise.

    Raises:
        OSError, UserError: as `mark`.
    """
    if _looks(folder, names) == earlier.looks:
        return True
    return mark(folder, names).contents == earlier.contents


def refreshed(earlier: FolderMark, folder: Path, names: Sequence[str]) -> FolderMark:
    """`earlier` for files that hold the same and look otherwise now, as after a copy."""
    return replace(earlier, looks=_looks(folder, names))


def find_folder(earlier: FolderMark, path: Path) -> Path | None:
    """Where the folder of `earlier`, last seen at `path`, is now; None: not there, nor beside it.

    A folder of the same name that is another one – the empty place where a stick was – is none.
    """
    if _is_same(earlier, path):
        return path
    with contextlib.suppress(OSError), os.scandir(path.parent) as entries:
        for entry in entries:
            if entry.is_dir(follow_symlinks=False) and entry.inode() == earlier.folder[1]:
                found = path.parent / entry.name
                if _is_same(earlier, found):
                    return found
    return None


def _is_same(earlier: FolderMark, path: Path) -> bool:
    try:
        there = os.stat(path)
    except OSError:
        return False
    return (there.st_dev, there.st_ino) == earlier.folder


def _looks(folder: Path, names: Sequence[str]) -> tuple[_Look, ...]:
    return tuple(_look(folder / name) for name in names)


def _look(path: Path) -> _Look:
    try:
        there = os.stat(path)
    except FileNotFoundError:
        return None
    return there.st_dev, there.st_ino, there.st_size, there.st_mtime_ns


def _content(path: Path) -> str:
    if not path.exists():
        return ""
    return hashlib.sha256(read_file(path, _MOST)).hexdigest()
