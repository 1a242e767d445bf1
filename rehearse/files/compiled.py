"""Files that came with the program, kept as they were read, as Python keeps its byte code.

Reading the catalogues of poses and moves takes as long as all of Qt's window, and they change
with the program only. What was read is kept beside them in `__pycache__`, or wherever Python was
told to keep its byte code; where nothing can be written, or Python was told not to, they are read
anew at each start. As with byte code, what is kept serves while the file's time and size are the
same. Nothing that comes from an athlete or a coach is read in this way.
"""

from __future__ import annotations

import contextlib
import marshal
import os
import sys
from importlib.util import cache_from_source
from pathlib import Path
from typing import Any

from rehearse.files.yamlfile import Document, load_yaml

#: Changed with what `yamlfile` makes of a file.
_FORMAT = "yaml 1"


def load_packaged(path: Path) -> Document:
    """As `load_yaml`, at once after the first time; without the lines of its values then.

    Raises:
        UserError: as `load_yaml`.
    """
    kept, stamp = kept_place(path), _stamp(path)
    if (data := _read(kept, stamp)) is not None:
        return Document(path, data, {})
    document = load_yaml(path)
    if not sys.dont_write_bytecode:
        write_kept(kept, marshal.dumps((stamp, document.data)))
    return document


def kept_place(path: Path | str) -> Path:
    """Where what was made of a file of the program is kept."""
    return Path(cache_from_source(str(path))).with_suffix(".data")


def _stamp(path: Path) -> tuple[str, int, int]:
    told = path.stat()
    return _FORMAT, told.st_mtime_ns, told.st_size


def _read(kept: Path, stamp: tuple[str, int, int]) -> Any:
    """What is kept under this stamp; None when it is not there, older or damaged."""
    try:
        found, data = marshal.loads(kept.read_bytes())
    except (OSError, EOFError, ValueError, TypeError):
        return None
    return data if found == stamp else None


def write_kept(kept: Path, data: bytes) -> None:
    """Keep it, whole or not at all; without a sync, as it can be made again."""
    part = kept.with_suffix(f".{os.getpid()}")
    with contextlib.suppress(OSError):
        kept.parent.mkdir(parents=True, exist_ok=True)
        part.write_bytes(data)
        os.replace(part, kept)
