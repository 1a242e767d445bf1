"""Cutting the power after every single system call of a piece of work.

`record` runs Python code under strace and notes every call that changes a folder. `cuts` replays
the calls up to each of them and gives the folder as it may be found after the power went:

    all       every call reached the disk (as after a kill)
    names     renames and new files did, what was not synced of their contents did not: a file
              renamed before its content was synced is empty
    strict    neither did, until the file or its folder was synced (POSIX 1003.1-2017, fsync)

The second is what journaling file systems do, the third all that the standard promises.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

CALLS = (
    *("openat", "open", "creat", "close", "write", "pwrite64", "writev", "lseek", "ftruncate"),
    *("truncate", "fsync", "fdatasync", "rename", "renameat", "renameat2", "link", "linkat"),
    *("unlink", "unlinkat", "mkdir", "mkdirat", "rmdir", "copy_file_range", "sendfile"),
)
MODELS = ("all", "names", "strict")
_LINE = re.compile(r"^(\d+)\s+(\w+)\((.*)\)\s+= (-?\d+)", re.S)
_TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')
_FD = re.compile(r"(-?\d+|AT_FDCWD)<((?:\\x[0-9a-f]{2})*)>")


def can_record() -> bool:
    """Whether strace is here and may look at a process."""
    if shutil.which("strace") is None:
        return False
    done = subprocess.run(["strace", "-o", os.devnull, "true"], capture_output=True, check=False)
    return done.returncode == 0


@dataclass(frozen=True)
class Call:
    """One call that changed something: what, on which paths, with which bytes at which offset."""

    name: str
    path: str
    other: str = ""
    data: bytes = b""
    at: int = 0


def record(code: str, folder: Path, *arguments: str) -> list[Call]:
    """Run `code` (its `sys.argv[1]` is `folder`) and return the calls that changed `folder`.

    Raises:
        AssertionError: the code failed.
    """
    log = folder.with_name(f"{folder.name}.strace")
    # Copies inside the kernel would leave no bytes in the record.
    start = "import shutil, sys; shutil._USE_CP_SENDFILE = False\n"
    command = ["strace", "-f", "-y", "-xx", "-s", "100000000", "-e", f"trace={','.join(CALLS)}"]
    command += ["-e", "signal=none", "-o", str(log), sys.executable, "-c", start + code]
    done = subprocess.run(
        [*command, str(folder), *arguments], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    calls = list(_calls(log, str(folder.resolve())))
    log.unlink()
    return calls


def _calls(log: Path, root: str) -> Iterator[Call]:
    offsets: dict[tuple[str, str], int] = {}
    for line in _whole_lines(log):
        match = _LINE.match(line)
        if match is None or int(match[4]) < 0:
            continue
        process, name, text, result = match[1], match[2], match[3], int(match[4])
        call = _call(process, name, text, result, offsets)
        if call is not None and call.path.startswith(root):
            yield call


def _whole_lines(log: Path) -> Iterator[str]:
    """Lines of the record; a call that another thread's broke off is put together again."""
    waiting: dict[str, str] = {}
    for line in log.read_text().splitlines():
        process = line.partition(" ")[0]
        if line.endswith("<unfinished ...>"):
            waiting[process] = line.removesuffix("<unfinished ...>")
        elif "resumed>" in line and process in waiting:
            yield waiting.pop(process) + line.partition("resumed>")[2]
        else:
            yield line


def _call(
    process: str, name: str, text: str, result: int, offsets: dict[tuple[str, str], int]
) -> Call | None:
    fds = [(number, _plain(path).decode()) for number, path in _FD.findall(text)]
    texts = [_plain(found) for found in _TEXT.findall(text)]
    if name in ("openat", "open", "creat"):
        path = _joined(fds, texts[0], 0)
        offsets[process, str(result)] = 0
        if "O_CREAT" in text or name == "creat":
            exclusive = "O_EXCL" in text
            return Call("create" if exclusive or "O_TRUNC" in text else "touch", path)
        return Call("empty", path) if "O_TRUNC" in text else None
    if name in ("write", "pwrite64", "writev"):
        number, path = fds[0]
        data = b"".join(texts)[:result]
        if name == "pwrite64":
            return Call("write", path, data=data, at=int(text.rpartition(", ")[2]))
        at = offsets.get((process, number), 0)
        offsets[process, number] = at + len(data)
        return Call("write", path, data=data, at=at)
    if name == "lseek":
        offsets[process, fds[0][0]] = result
        return None
    if name in ("ftruncate", "truncate"):
        path = fds[0][1] if fds else texts[0].decode()
        return Call("truncate", path, at=int(text.rpartition(", ")[2]))
    if name in ("fsync", "fdatasync"):
        return Call("sync", fds[0][1])
    if name in ("rename", "renameat", "renameat2", "link", "linkat"):
        kind = "link" if name.startswith("link") else "rename"
        return Call(kind, _joined(fds, texts[0], 0), _joined(fds, texts[1], 1))
    if name in ("unlink", "unlinkat", "rmdir"):
        return Call("unlink", _joined(fds, texts[0], 0))
    if name in ("mkdir", "mkdirat"):
        return Call("mkdir", _joined(fds, texts[0], 0))
    assert name not in ("copy_file_range", "sendfile"), "bytes that are not in the record"
    return None


def _plain(text: str) -> bytes:
    return bytes.fromhex(text.replace("\\x", ""))


def _joined(fds: list[tuple[str, str]], name: bytes, which: int) -> str:
    path = name.decode()
    if path.startswith("/") or not fds:
        return path
    return f"{fds[min(which, len(fds) - 1)][1]}/{path}"


@dataclass
class _File:
    """Content in memory and on the disk, by the file's own number: names only point at it."""

    now: bytearray = field(default_factory=bytearray)
    synced: bytes = b""


class _Disk:
    """A folder's names and contents, as seen and as they are certain to be on the disk."""

    def __init__(self, root: Path) -> None:
        self.root = str(root.resolve())
        self.names: dict[str, _File | None] = {}
        for path in [root, *sorted(root.rglob("*"))]:
            content = path.read_bytes() if path.is_file() else None
            file = None if content is None else _File(bytearray(content), content)
            self.names[str(path.resolve())] = file
        self.sure = dict(self.names)

    def apply(self, call: Call) -> None:
        file = self.names.get(call.path)
        if call.name in ("create", "touch"):
            if file is None or call.name == "create":
                self.names[call.path] = _File() if file is None else file
                if file is not None:
                    file.now.clear()
        elif call.name == "mkdir":
            self.names[call.path] = None
        elif call.name == "write" and file is not None:
            file.now.extend(bytes(max(0, call.at - len(file.now))))
            file.now[call.at : call.at + len(call.data)] = call.data
        elif call.name in ("truncate", "empty") and file is not None:
            file.now.extend(bytes(max(0, call.at - len(file.now))))
            del file.now[call.at :]
        elif call.name == "sync":
            self._sync(call.path, file)
        elif call.name == "link":
            self.names[call.other] = file
        elif call.name == "unlink":
            self.names.pop(call.path, None)
        elif call.name == "rename":
            self._rename(call.path, call.other)

    def _rename(self, old: str, new: str) -> None:
        for path in [p for p in self.names if p == old or p.startswith(f"{old}/")]:
            self.names[new + path[len(old) :]] = self.names.pop(path)
        # What was certain inside a folder stays so, and is found once its new name is certain.
        for path in [p for p in self.sure if p.startswith(f"{old}/")]:
            self.sure[new + path[len(old) :]] = self.sure[path]

    def _sync(self, path: str, file: _File | None) -> None:
        if file is not None:
            file.synced = bytes(file.now)
            return
        # A folder's names are certain once it is synced, and not what lies deeper in it.
        for known in (self.names, self.sure):
            for name in [n for n in known if os.path.dirname(n) == path]:
                if name in self.names:
                    self.sure[name] = self.names[name]
                else:
                    self.sure.pop(name, None)

    def _is_reached(self, name: str, names: dict[str, _File | None]) -> bool:
        """Whether all folders it lies in are there."""
        while name != self.root:
            name = os.path.dirname(name)
            if name not in names:
                return False
        return True

    def found(self, model: str) -> dict[str, bytes | None]:
        """Names and contents after the power went; None: a folder."""
        names = self.sure if model == "strict" else self.names
        result: dict[str, bytes | None] = {}
        for name, file in names.items():
            if not self._is_reached(name, names):
                continue
            content = None if file is None else file.synced
            if file is not None and model == "all":
                content = bytes(file.now)
            result[name[len(self.root) :].lstrip("/")] = content
        return result


def cuts(before: Path, calls: list[Call], root: Path) -> Iterator[tuple[str, dict[str, bytes]]]:
    """What is found after a cut behind each call, by each model; the same state only once.

    Args:
        before: a copy of the folder as it was. calls: recorded in `root`.

    Yields:
        Words for where and how, and the folder's files by their relative names.
    """
    seen: set[tuple[tuple[str, bytes | None], ...]] = set()
    disk = _Disk(before)
    here, there = str(before.resolve()), str(root.resolve())
    disk.names = {there + name[len(here) :]: file for name, file in disk.names.items()}
    disk.sure, disk.root = dict(disk.names), there
    for number in range(len(calls) + 1):
        if number:
            disk.apply(calls[number - 1])
        for model in MODELS:
            found = disk.found(model)
            key = tuple(sorted(found.items()))
            if key in seen:
                continue
            seen.add(key)
            after = calls[number - 1] if number else None
            what = f"{after.name} {after.path[len(there) :]}" if after else "nothing"
            files = {name: content for name, content in found.items() if content is not None}
            yield f"{model}, after call {number} of {len(calls)}: {what}", files


def lay_out(files: dict[str, bytes], folder: Path) -> Path:
    """Write a state found after a cut to `folder`, in place of what lies there."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return folder
