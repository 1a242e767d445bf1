"""The process that opens hostile files: one case a line in, what became of it a line out.

It may open no socket, and what it writes anywhere but in its own folder is told. Times are those
of opening alone, without the time for which other programs had the processor; memory is the peak
of the whole process since the case began.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import resource
import shutil
import sys
import time
import traceback
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

from tests.helpers import no_sockets
from tests.helpers.fuzz.cases import CUT_PLACES, PLACES, SECRET, Case, Maker
from tests.helpers.fuzz.jobs import JOBS, run_command

#: Letters that a line of a sentence has at most.
_LONGEST_LINE = 900
#: Names that opening may make in the routine's folder: the logbook's own, and what it sets aside.
_LOGBOOK = "practice"
#: What Python and its libraries say themselves, which nobody should have to read.
_RAW = (
    "Traceback", "Error(", "None –", "error: None", "[Errno", "could not convert", "NoneType",
    "invalid literal", "math domain", "unhashable", "has no attribute", "subscriptable", "<class",
    "codec can't", "not iterable", "to unpack", "Exceeds the limit", "must be ", "object at 0x",
    "expected str",
)  # fmt: skip
_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
_CHANGES = {
    *("os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.symlink", "os.link", "os.chmod"),
    *("os.truncate", "os.mkfifo", "shutil.copyfile", "shutil.move"),
}


def main() -> None:
    """Serve until the input ends."""
    sandbox = Path(sys.argv[1])
    for name in ("home", "tmp"):
        (sandbox / name).mkdir(parents=True, exist_ok=True)
    os.environ |= {"HOME": str(sandbox / "home"), "TMPDIR": str(sandbox / "tmp")}
    os.environ |= {
        f"XDG_{n}_HOME": str(sandbox / "home" / n) for n in ("CONFIG", "CACHE", "STATE", "DATA")
    }
    answers = os.fdopen(os.dup(1), "w")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    os.dup2(1, 2)  # libraries talk; only the answers count
    maker, opener = Maker(sandbox), Opener(sandbox)
    opener.warm_up(maker)
    if no_sockets.available():
        no_sockets.forbid_sockets()
    answers.write("ready\n")
    answers.flush()
    for line in sys.stdin:
        seed, number, sound = map(int, line.split())
        case = maker.make(seed, number, sound=bool(sound))
        answers.write(f"begin {case.kind}, {case.how}{', command' * case.command}\n")
        answers.flush()
        answers.write(json.dumps(opener.open(case)) + "\n")
        answers.flush()


class Opener:
    """Opens cases and watches what happens meanwhile."""

    def __init__(self, sandbox: Path) -> None:
        from PySide6.QtGui import QGuiApplication

        self.sandbox = sandbox
        self.application = QGuiApplication(["fuzz"])
        self.elsewhere: list[str] = []
        self._watching = False
        sys.addaudithook(self._hear)

    def warm_up(self, maker: Maker) -> None:
        """Open one sound file of each kind, so that no case pays for loading a library."""
        for kind, job in JOBS.items():
            place = maker.cut if kind in CUT_PLACES else maker.sound
            path = place / (PLACES | CUT_PLACES).get(kind, "song.wav")
            for command in (False, True):
                try:
                    case = Case(0, kind, "", place, path, command)
                    (run_command if command else job)(case)
                except Exception:
                    pass
            for left in (self.sandbox / "tmp").iterdir():
                shutil.rmtree(left) if left.is_dir() else left.unlink()

    def open(self, case: Case) -> dict[str, Any]:
        """Open one case."""
        before = _state(self.sandbox / "outside"), _state(case.folder)
        self.elsewhere = []
        _forget_peak()
        outcome, detail = "clean", ""
        self._watching = True
        wall, busy, queued, crowded = time.perf_counter(), _busy(), _queued(), _crowded()
        try:
            detail = (run_command if case.command else JOBS[case.kind])(case)
            outcome = "fault" if detail else "clean"
        except BaseException:
            outcome, detail = "traceback", traceback.format_exc(limit=-6)
        wall, busy = time.perf_counter() - wall, _busy() - busy
        wall -= _queued() - queued  # another program's time, not this one's
        crowded = _crowded() - crowded
        self._watching = False
        peak = _peak()
        if outcome == "fault" and (odd := _odd(detail)):
            outcome, detail = "traceback", f"{odd}: {detail[:2000]}"
        changed = [*self.elsewhere, *self._changes(case, before)]
        return {
            **asdict(case), "folder": "", "path": case.path.name, "outcome": outcome,
            "detail": detail[-3000:], "wall": wall, "busy": busy, "crowded": crowded, "peak": peak,
            "changed": changed,
        }  # fmt: skip

    def _changes(self, case: Case, before: tuple[dict[str, str], dict[str, str]]) -> Iterator[str]:
        if _state(self.sandbox / "outside") != before[0]:
            yield "outside the folder"
        now = _state(case.folder)
        for name in sorted(
            set(now) ^ set(before[1]) | {n for n in now if now[n] != before[1].get(n)}
        ):
            if not Path(name).name.startswith(_LOGBOOK):
                yield f"in the folder: {name}"
        yield from (f"left behind: {path.name}" for path in (self.sandbox / "tmp").iterdir())

    def _hear(self, event: str, arguments: tuple[Any, ...]) -> None:
        if not self._watching:
            return
        if event == "open" and (arguments[2] or 0) & _WRITING:
            self._judge(event, arguments[0])
        elif event in _CHANGES:
            # Where a folder is given by its handle, that stands last.
            place = arguments[-1] if isinstance(arguments[-1], int) else -1
            for argument in arguments[:2]:
                self._judge(event, argument, place)
        elif event == "socket.__new__":
            self.elsewhere.append("a socket")

    def _judge(self, event: str, path: Any, place: int = -1) -> None:
        if not isinstance(path, str | bytes | os.PathLike):
            return
        folder = os.readlink(f"/proc/self/fd/{place}") if place >= 0 else ""
        name = os.path.abspath(os.path.join(folder, os.fsdecode(path)))
        if not name.startswith((f"{self.sandbox}{os.sep}", "/dev/null", "/dev/shm")):
            self.elsewhere.append(f"{event} {name}")


def _busy() -> float:
    """Seconds of processor of this process, all its threads and children."""
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


def _queued() -> float:
    """Seconds that this thread was ready to run and another one had the processor (proc(5))."""
    try:
        return int(Path("/proc/thread-self/schedstat").read_text().split()[1]) / 1e9
    except (OSError, IndexError, ValueError):
        return 0.0


def _crowded() -> float:
    """Seconds since the start in which something waited for a processor (Linux: psi)."""
    try:
        return int(Path("/proc/pressure/cpu").read_text().split()[4].removeprefix("total=")) / 1e6
    except (OSError, IndexError, ValueError):
        return 0.0


def _forget_peak() -> None:
    with contextlib.suppress(OSError):  # the peak of all cases then, which can only be larger
        Path("/proc/self/clear_refs").write_text("5")


def _peak() -> int:
    """Bytes held at most since the peak was forgotten."""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1]) * 1024
    return 0


def _state(folder: Path) -> dict[str, str]:
    """Every file in a folder with a mark of its content."""
    found = {}
    for place, _, names in os.walk(folder):
        for name in names:
            path = Path(place, name)
            try:
                status = path.lstat()
                small = path.is_file() and not path.is_symlink() and status.st_size < 2_000_000
                mark = hashlib.sha1(path.read_bytes()).hexdigest() if small else status.st_mtime_ns
            except OSError as error:
                mark = str(error)
            found[str(path.relative_to(folder))] = f"{status.st_mode} {status.st_size} {mark}"
    return found


def _odd(detail: str) -> str:
    """What is wrong with the sentences of a fault; empty when they can be shown."""
    if SECRET.decode() in detail:
        return "tells what stands outside the folder"
    for line in detail.splitlines():
        if len(line) > _LONGEST_LINE:
            return f"a sentence of {len(line)} letters"
        if not line.rstrip().endswith((".", "?", "!")):
            return "no sentence"
        if any(word in line for word in _RAW):
            return "no plain words"
    return ""


if __name__ == "__main__":
    main()
