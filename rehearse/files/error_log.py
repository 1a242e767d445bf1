"""The log of faults inside the program: small, turned over, with nothing in it that is private.

It is meant to be sent to whoever mends the program. It holds versions, the kind of each exception
and the places in the code it came through. It never holds what an exception or a log record says
with the athlete's own words in it – texts, titles, names of files –, so messages are left out and
records keep only the words that stand in the code. Of the same fault only the first is written
out, the others are counted.
"""

from __future__ import annotations

import contextlib
import errno
import faulthandler
import logging
import os
import platform
import re
import traceback
from collections.abc import Iterator
from importlib import metadata
from logging.handlers import RotatingFileHandler
from pathlib import Path
from typing import IO, Any

from rehearse import __version__
from rehearse.files.locations import state_folder
from rehearse.files.processes import is_running

#: Bytes of one file, and how many earlier ones stay.
MOST, EARLIER = 200_000, 2
_NAME = "rehearse.log"
#: Packages whose version may explain a fault.
_PACKAGES = ("PySide6-Essentials", "av", "librosa", "numpy", "python-stretch", "sounddevice")
_FRAME = re.compile(r'File "(?P<file>[^"]+)", line (?P<line>\d+)(?:,)? in (?P<name>\S+)')
_CODE = re.compile(r"(?:site-packages|dist-packages|python3\.\d+|\brehearse(?=/))/?")
#: How deep a chain of causes, and each of them, is followed.
_CAUSES, _FRAMES = 5, 40


def log_folder() -> Path:
    """Where the log lies; it need not exist yet."""
    return state_folder() / "log"


def start_log() -> logging.Handler | None:
    """Begin to write warnings and faults of this program; None where no log can be kept."""
    folder = log_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return None
    handler = _Log(folder / _NAME)
    logging.getLogger("rehearse").addHandler(handler)
    _take_over_crashes(folder)
    with contextlib.suppress(OSError):
        _crashes.append((folder / f"crash-{os.getpid()}.txt").open("w", encoding="utf-8"))
        faulthandler.enable(_crashes[-1])
    return handler


def end_log(handler: logging.Handler | None) -> None:
    """The program ends as it should."""
    faulthandler.disable()
    for stream in _crashes:
        stream.close()
        Path(stream.name).unlink(missing_ok=True)
    _crashes.clear()
    if handler is not None:
        logging.getLogger("rehearse").removeHandler(handler)
        handler.close()


_crashes: list[IO[str]] = []


def _take_over_crashes(folder: Path) -> None:
    """Write into the log what a process that was ended by the system has left of its end."""
    for path in folder.glob("crash-*.txt"):
        number = path.stem.rpartition("-")[2]
        if number.isdecimal() and not is_running(int(number)):
            with contextlib.suppress(OSError):
                if told := path.read_text(encoding="utf-8", errors="replace")[:MOST]:
                    logging.getLogger("rehearse").error("ended by the system\n%s", told)
                path.unlink()


class _Log(RotatingFileHandler):
    """Made when the first record comes; each file begins with the versions. Never raises."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, maxBytes=MOST, backupCount=EARLIER, encoding="utf-8", delay=True)
        self.setLevel(logging.WARNING)
        self.setFormatter(_Plain())

    def _open(self) -> Any:
        stream = super()._open()
        if not stream.tell():
            stream.write(versions() + "\n")
        return stream

    def handleError(self, record: logging.LogRecord) -> None:
        """A full disk must not turn one fault into two."""


def versions() -> str:
    """Program, system and the packages that matter, in one line."""
    parts = [f"rehearse {__version__}", f"Python {platform.python_version()}", platform.platform()]
    for name in _PACKAGES:
        with contextlib.suppress(metadata.PackageNotFoundError):
            parts.append(f"{name} {metadata.version(name)}")
    return ", ".join(parts)


class _Plain(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        """The record without anything private."""
        time = self.formatTime(record)
        lines = [f"{time} {record.levelname} {record.name}: {str(record.msg).splitlines()[0]}"]
        if record.exc_info and record.exc_info[1] is not None:
            lines += plain_exception(record.exc_info[1])
        for value in record.args if isinstance(record.args, tuple) else ():
            if isinstance(value, int | float):  # a number in place of a %s
                lines[0] = lines[0].replace("%s", str(value), 1)
            elif isinstance(value, str) and "File " in value:
                lines += plain_trace(value)
        return "\n".join(lines)


def plain_exception(error: BaseException) -> list[str]:
    """An exception and what caused it: kinds and places, no texts."""
    lines: list[str] = []
    cause: BaseException | None = error
    for _ in range(_CAUSES):
        if cause is None:
            break
        lines.append(f"  {_kind(cause)}")
        frames = traceback.extract_tb(cause.__traceback__)
        lines += [f"    {plain_path(f.filename)}:{f.lineno} {f.name}" for f in frames[-_FRAMES:]]
        cause = cause.__cause__ or cause.__context__
    return lines


def _kind(error: BaseException) -> str:
    name = type(error).__name__
    if isinstance(error, OSError) and error.errno is not None:
        return f"{name} {errno.errorcode.get(error.errno, error.errno)}"
    if isinstance(error, AttributeError | NameError | ImportError) and error.name:
        return f"{name} ({error.name})"
    return name


def plain_trace(text: str) -> list[str]:
    """The places in a trace that was written as text, as by another process."""
    found = list(_places(text))
    last = text.strip().splitlines()[-1] if text.strip() else ""
    kind = re.match(r"[A-Za-z_][\w.]*(?=:|$)", last)
    return [*found[-_FRAMES:], *([f"  {kind[0]}"] if kind else [])]


def _places(text: str) -> Iterator[str]:
    for match in _FRAME.finditer(text):
        yield f"    {plain_path(match['file'])}:{match['line']} {match['name']}"


def plain_path(name: str) -> str:
    """A file of code from its package on; where it is installed is nobody's business."""
    name = name.replace(os.sep, "/")
    found = list(_CODE.finditer(name))
    if not found:
        return name.rpartition("/")[2]
    last = found[-1]
    start = last.start() if last[0].startswith("rehearse") else last.end()
    return name[start:].lstrip("/")


def place_of(error: BaseException) -> str:
    """Where in this program an exception came from: what makes two of them the same fault."""
    frames = traceback.extract_tb(error.__traceback__)
    own = [f for f in frames if f"{os.sep}rehearse{os.sep}" in f.filename] or list(frames)
    where = f"{plain_path(own[-1].filename)}:{own[-1].lineno}" if own else ""
    return f"{type(error).__name__} {where}"
