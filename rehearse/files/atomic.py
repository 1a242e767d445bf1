"""Saving without ever losing the previous file: write aside, sync, replace.

What is written aside carries the number of its process in its name, so that what a killed one
left can be told from what another one is writing just now (`sweep`).
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from rehearse.files.processes import is_running
from rehearse.files.user_error import UserError
from rehearse.words import _

#: A file or folder that is being written: `.routine.yaml.4711-a1b2c3d4.part`.
_PART = re.compile(r"^\..+\.(\d+)-[^.]+\.part$")
#: Age in seconds from which such a one is nobody's, whatever runs under its number now.
_OLD = 86_400.0
#: What a drive answers that was pulled out, or a share that went away.
_GONE = {errno.ENODEV, errno.ENXIO, errno.ENOTCONN, errno.EHOSTDOWN, errno.ESTALE}
_FULL = {errno.ENOSPC, errno.EDQUOT}


def save_atomic(path: Path, data: bytes, *, versions: Path | None = None) -> None:
    """Replace `path` by `data`; a crash at any moment leaves the old or the new file whole.

    Args:
        path: file to write; its folder must exist.
        data: the whole content.
        versions: folder to keep the replaced file in, named by UTC time; made when missing. An
            empty one is not kept: nothing is in it.

    Raises:
        UserError: the folder is gone or read-only, the disk full, or the path unusable.
    """
    try:
        if versions is not None and path.is_file():
            keep(path.read_bytes(), path, versions, unless=data)
        _replace(path, data)
    except OSError as error:
        raise user_error_of(error, path) from error


def keep(data: bytes, path: Path, versions: Path, *, unless: bytes = b"") -> None:
    """Keep `data` in `versions` as what `path` has held until now, whole or not at all.

    Raises:
        OSError: it could not be written.
    """
    if not data or data == unless:
        return
    versions.mkdir(exist_ok=True)
    stamp = datetime.now(UTC).strftime("%Y-%m-%dT%H%M%S.%fZ")
    _replace(versions / f"{path.stem} {stamp}{path.suffix}", data)


def _replace(path: Path, data: bytes) -> None:
    handle, name = _part(path)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, path.stat().st_mode & 0o777 if path.exists() else 0o644)
        os.replace(name, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise
    sync_folder(path.parent)


def _part(path: Path) -> tuple[int, str]:
    import tempfile  # not needed when the window opens

    prefix = f".{path.name[:100]}.{os.getpid()}-"
    return tempfile.mkstemp(prefix=prefix, suffix=".part", dir=path.parent)


def part_folder(into: Path, what: str) -> Path:
    """A new hidden folder in `into` to put something together in before it is renamed.

    Raises:
        OSError: it could not be made.
    """
    import tempfile

    prefix = f".{what}.{os.getpid()}-"
    return Path(tempfile.mkdtemp(prefix=prefix, suffix=".part", dir=into))


def appear(part: Path, target: Path) -> None:
    """Give a folder that was put together its name, once all in it is on the disk.

    Raises:
        OSError: it could not be written, or `target` is taken.
    """
    for folder, _unused, names in os.walk(part):
        for name in names:
            _sync(Path(folder, name))
        sync_folder(Path(folder))
    part.rename(target)
    sync_folder(target.parent)


@contextlib.contextmanager
def written_aside(target: Path) -> Iterator[Path]:
    """Where to write a file that becomes `target`, in place of what is there, when all went well.

    Raises:
        OSError: it could not be written; nothing half written is left.
    """
    part = target.with_name(f".{target.name[:100]}.{os.getpid()}-copy.part")
    try:
        yield part
        _sync(part)
        os.replace(part, target)
    finally:
        part.unlink(missing_ok=True)
    sync_folder(target.parent)


def copy_atomic(source: Path, target: Path) -> None:
    """Copy a file to `target`, whole or not at all, in place of what is there.

    Raises:
        OSError: it could not be read or written; nothing half written is left.
    """
    import shutil  # not needed when the window opens

    with written_aside(target) as part:
        shutil.copyfile(source, part)


def sweep(folder: Path) -> None:
    """Remove what processes that were killed in mid-save have left in `folder`."""
    with contextlib.suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            match = _PART.match(entry.name)
            with contextlib.suppress(OSError):
                if match and _is_left(int(match[1]), entry.stat(follow_symlinks=False).st_mtime):
                    _remove(entry)


def _remove(entry: os.DirEntry[str]) -> None:
    if entry.is_dir(follow_symlinks=False):
        import shutil

        shutil.rmtree(entry.path, ignore_errors=True)
    else:
        os.unlink(entry.path)


def _is_left(process: int, written: float) -> bool:
    return time.time() - written > _OLD or not is_running(process)


def sync_folder(folder: Path) -> None:
    """Make renames in `folder` last; Windows cannot open folders and needs it not.

    Raises:
        OSError: the drive refuses.
    """
    if os.name == "posix":
        _sync(folder)


def _sync(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY if os.name == "posix" else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def user_error_of(error: OSError, path: Path) -> UserError:
    """The sentence for an operating system's refusal to read or write `path`."""
    if error.errno in _FULL:
        return UserError(
            _("the disk is full"), where=path, do=_("free some space, nothing was changed")
        )
    if error.errno in _GONE:
        return UserError(_("its drive does not answer"), where=path, do=_("plug it in again"))
    if error.errno == errno.EACCES and os.path.isfile(path) and not os.access(path, os.R_OK):
        what, do = (
            _("you have no permission to read it"),
            _("ask its owner, or choose another file"),
        )
        return UserError(what, where=path, do=do)
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return UserError(
            _("no permission to read or write here"), where=path, do=_("choose another folder")
        )
    if isinstance(error, FileNotFoundError):
        if not os.path.isdir(path.parent):
            what, do = _("its folder is not there any more"), _("plug its drive in, or put it back")
            return UserError(what, where=path, do=do)
        return UserError(_("there is no such file"), where=path, do=_("check the name"))
    if isinstance(error, IsADirectoryError):
        return UserError(_("this is a folder, not a file"), where=path, do=_("choose a file in it"))
    reason = error.strerror or type(error).__name__
    return UserError(
        _("cannot be used ({reason})", reason=reason.lower()),
        where=path,
        do=_("check the file and try again"),
    )
