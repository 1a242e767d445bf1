"""Arrays that several processes read without copying them.

A block is a file on the memory file system (`/dev/shm`; the temporary folder where there is none
or it is full) that each reader maps. A mapping lives as long as the arrays that look into it, so
nothing has to be closed by hand. Python's own shared memory is not used: its tracker deletes
blocks that another process still reads, and closing it fails while an array looks into it.

Blocks of a process lie in one folder named after it, deleted when the process ends; folders left
behind by a killed process are swept by the next one.
"""

from __future__ import annotations

import atexit
import contextlib
import functools
import mmap
import os
import pickle
import re
import shutil
import tempfile
import weakref
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from rehearse.files.processes import is_running

#: Buffers from this size on travel in a block, smaller ones inside the message (bytes).
LARGE = 1 << 16
_ALIGN = 64
_FOLDER = re.compile(r"^rehearse-(\d+)-")

Buffer = bytes | bytearray | memoryview


def _roots() -> list[Path]:
    roots = (Path("/dev/shm"), Path(tempfile.gettempdir()))
    return [root for root in roots if os.access(root, os.W_OK)]


@functools.cache
def _folder(root: Path, pid: int) -> Path:
    _sweep(root)
    folder = Path(tempfile.mkdtemp(prefix=f"rehearse-{pid}-", dir=root))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def _sweep(root: Path) -> None:
    for path in root.glob("rehearse-*-*"):
        match = _FOLDER.match(path.name)
        if match and not is_running(int(match[1])):
            shutil.rmtree(path, ignore_errors=True)


def _write(buffers: Sequence[Buffer]) -> str:
    """Write the buffers one after another, each aligned; return the block's path."""
    failure: OSError | None = None
    for root in _roots():
        # write() reports a full file system; storing through a mapping would kill the process.
        try:
            handle, path = tempfile.mkstemp(dir=_folder(root, os.getpid()))
        except OSError as error:
            failure = error
            continue
        try:
            with os.fdopen(handle, "wb") as stream:
                for buffer in buffers:
                    stream.write(buffer)
                    stream.write(bytes(-memoryview(buffer).nbytes % _ALIGN))
            return path
        except OSError as error:
            _unlink(path)
            failure = error
    raise failure or OSError("no folder for shared memory can be written")


def _unlink(path: str) -> None:
    # Windows refuses while a mapping exists; the folder's removal at the end takes care of it.
    with contextlib.suppress(OSError):
        os.unlink(path)


def _map(path: str) -> memoryview:
    with open(path, "rb") as stream:
        return memoryview(mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ))


class Shared:
    """A read-only array in a block. Sent to another process, only its name travels.

    The block lasts until the `Shared` that made it is collected or released; arrays already
    mapped, here or elsewhere, stay valid after that.

    Args:
        array: any numeric array; it is copied once, in C order.
    """

    def __init__(self, array: npt.NDArray[Any]) -> None:
        data = np.ascontiguousarray(array)
        self._shape, self._dtype = data.shape, data.dtype.str
        self._path = _write([data.reshape(-1).view(np.uint8).data]) if data.size else ""
        self._array: npt.NDArray[Any] | None = None
        self._finalizer = weakref.finalize(self, _unlink, self._path)

    @property
    def array(self) -> npt.NDArray[Any]:
        """The array, read-only, mapped on first use.

        Raises:
            FileNotFoundError: the maker has released it.
        """
        if self._array is None:
            if not self._path:
                return np.zeros(self._shape, self._dtype)
            count = int(np.prod(self._shape))
            flat = np.frombuffer(_map(self._path), self._dtype, count)
            self._array = flat.reshape(self._shape)
        return self._array

    @property
    def nbytes(self) -> int:
        """Size of the array in bytes."""
        return int(np.prod(self._shape)) * np.dtype(self._dtype).itemsize

    def release(self) -> None:
        """Give the name up now; only the maker's release does anything."""
        self._finalizer()

    def __reduce__(self) -> tuple[Any, ...]:
        return _open, (self._path, self._shape, self._dtype)


def _open(path: str, shape: tuple[int, ...], dtype: str) -> Shared:
    shared = Shared.__new__(Shared)
    shared._path, shared._shape, shared._dtype, shared._array = path, shape, dtype, None
    shared._finalizer = weakref.finalize(shared, _unlink, "")  # a reader has nothing to give back
    return shared


def dumps(value: Any) -> tuple[bytes, str, tuple[int, ...]]:
    """Pickle `value` with its large arrays in one block: message, block path, buffer sizes.

    The block belongs to whoever calls `loads`.
    """
    large: list[memoryview] = []

    def keep(buffer: pickle.PickleBuffer) -> bool:
        raw = buffer.raw()
        if raw.nbytes < LARGE:
            return True
        large.append(raw)
        return False

    message = pickle.dumps(value, protocol=5, buffer_callback=keep)
    path = _write(large) if large else ""
    return message, path, tuple(raw.nbytes for raw in large)


def loads(message: bytes, path: str, sizes: tuple[int, ...]) -> Any:
    """Undo `dumps`; arrays that came in the block are read-only views of it, without a copy."""
    buffers: list[memoryview] = []
    if sizes:
        block, start = _map(path), 0
        for size in sizes:
            buffers.append(block[start : start + size])
            start += size + -size % _ALIGN
        _unlink(path)
    return pickle.loads(message, buffers=buffers)
