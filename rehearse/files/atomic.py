"""Saving without ever losing the previous file: write aside, sync, replace."""

from __future__ import annotations

import contextlib
import errno
import os
from datetime import UTC, datetime
from pathlib import Path

from rehearse.files.fault import Fault


def save_atomic(path: Path, data: bytes, *, versions: Path | None = None) -> None:
    """Replace `path` by `data`; a crash at any moment leaves the old or the new file whole.

    Args:
        path: file to write; its folder must exist.
        data: the whole content.
        versions: folder to keep the replaced file in, named by UTC time; made when missing.

    Raises:
        Fault: the folder is read-only, the disk full, or the path unusable.
    """
    try:
        if versions is not None and path.exists() and path.read_bytes() != data:
            versions.mkdir(exist_ok=True)
            import shutil

            stamp = datetime.now(UTC).strftime("%Y-%m-%dT%H%M%S.%fZ")
            shutil.copy2(path, versions / f"{path.stem} {stamp}{path.suffix}")
        _replace(path, data)
    except OSError as error:
        raise fault_of(error, path) from error


def _replace(path: Path, data: bytes) -> None:
    import tempfile  # as `shutil`, not needed when the window opens

    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
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
    _sync_folder(path.parent)


def _sync_folder(folder: Path) -> None:
    # A rename is only durable once the folder itself is; Windows cannot open folders.
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def fault_of(error: OSError, path: Path) -> Fault:
    """The sentence for an operating system's refusal to read or write `path`."""
    if error.errno == errno.ENOSPC:
        return Fault("the disk is full", where=path, do="free some space, nothing was changed")
    if error.errno == errno.EACCES and os.path.isfile(path) and not os.access(path, os.R_OK):
        what, do = "you have no permission to read it", "ask its owner, or choose another file"
        return Fault(what, where=path, do=do)
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return Fault("no permission to read or write here", where=path, do="choose another folder")
    if isinstance(error, FileNotFoundError):
        return Fault("there is no such file", where=path, do="check the name")
    if isinstance(error, IsADirectoryError):
        return Fault("this is a folder, not a file", where=path, do="choose a file in it")
    reason = error.strerror or type(error).__name__
    return Fault(
        f"cannot be used ({reason.lower()})", where=path, do="check the file and try again"
    )
