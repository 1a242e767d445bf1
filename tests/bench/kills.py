"""Processes ended in the middle of their work: what was reported kept is there afterwards.

    python -m tests.bench.kills [--scale 1.0] [--seed 1]

50 times the window (in drills and in edits by turns), 20 times its workers and its player, 20
times the window in the middle of a save, 20 times the window by SIGTERM, as at log-out. After
each: routine and map open, with the last title that was reported saved or a later one; the
logbook holds every pass reported; no process of it is left; after the next start no file that
was being written is left. Exit status 1 when anything was lost or left.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

from rehearse.files.user_error import UserError
from rehearse.practice.logbook import Logbook
from rehearse.routine.folder import open_folder
from tests.ui.made import fast_folder

ROOT = Path(__file__).resolve().parents[2]
#: Seconds a process has for its first word, and its children to be gone after it.
STARTING, GOING = 60.0, 5.0
#: How often each way of ending is tried.
TIMES = {"window": 50, "worker": 20, "player": 20, "save": 20, "SIGTERM": 20}
#: What stands in the command of a child process.
_RUNS = {"worker": "rehearse.work.", "player": "rehearse.playback."}


@dataclass
class Heard:
    """What a window has told so far."""

    saved: int = 0
    edited: int = 0
    passes: int = 0
    music: int = 0
    children: list[int] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    def take(self, line: str) -> None:
        word, _, rest = line.strip().partition(" ")
        if word == "saved" and rest.isdecimal():
            self.saved = int(rest)
        elif word == "edited":
            self.edited = int(rest)
        elif word == "pass":
            self.passes = max(self.passes, int(rest))
        elif word == "music":
            self.music += 1
        elif word == "child":
            self.children.append(int(rest))
        elif word == "said":
            self.said.append(rest)


class Driven:
    """A window in a session of its own."""

    def __init__(self, folder: Path, home: Path, mode: str) -> None:
        names = ("XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME")
        environment = {
            **os.environ,
            **{name: str(home / name) for name in names},
            "TMPDIR": str(home),
            "PYTHONPATH": str(ROOT),
            "QT_QPA_PLATFORM": "offscreen",
        }
        self.heard = Heard()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.helpers.driven", str(folder), mode],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            cwd=ROOT,
            env=environment,
            start_new_session=True,
        )
        assert self.process.stdout is not None
        os.set_blocking(self.process.stdout.fileno(), False)
        self._rest = b""

    def listen(self, seconds: float, until: str = "") -> bool:
        """Take what is told for so long, or until a line begins with `until`."""
        deadline = time.monotonic() + seconds
        while time.monotonic() < deadline:
            assert self.process.stdout is not None
            data = self.process.stdout.read() or b""
            *lines, self._rest = (self._rest + data).split(b"\n")
            found = False
            for line in lines:
                text = line.decode()
                self.heard.take(text)
                found = found or (bool(until) and text.startswith(until))
            if found:
                return True
            if not data:
                if self.process.poll() is not None:
                    return False
                time.sleep(0.005)
        return False

    def left(self) -> list[int]:
        """Processes of its session that still run."""
        found = []
        for entry in Path("/proc").iterdir():
            if entry.name.isdecimal():
                try:
                    fields = (entry / "stat").read_text().rpartition(")")[2].split()
                except OSError:
                    continue
                if int(fields[3]) == self.process.pid and fields[0] != "Z":
                    found.append(int(entry.name))
        return found

    def gone(self) -> list[int]:
        """Wait for the end of all; what is left after the time they have."""
        deadline = time.monotonic() + GOING
        self.process.wait(30)
        while (left := self.left()) and time.monotonic() < deadline:
            time.sleep(0.05)
        return left


class Bench:
    """Runs the ways of ending on one folder each and collects what was lost or left."""

    def __init__(self, seed: int) -> None:
        self.draw = random.Random(seed)
        self.losses: list[str] = []
        self.home = Path(tempfile.mkdtemp(prefix="rehearse-kills-"))
        self.passes = self.saves = 0

    def run(self, way: str, number: int) -> None:
        """One try."""
        mode = "edit" if way == "save" or (way not in _RUNS and number % 2) else "drill"
        folder = self.home / f"{way}-{number}"
        fast_folder(folder)
        home = self.home / f"home-{way}-{number}"
        home.mkdir()
        driven = Driven(folder, home, mode)
        try:
            if not driven.listen(STARTING, "ready"):
                self.losses.append(f"{way} {number}: it never began")
                return
            if way in _RUNS:
                self._child(driven, way)
            else:
                getattr(self, f"_{way.lower()}")(driven, mode)
        finally:
            if driven.process.poll() is None:
                driven.process.kill()
        left = driven.gone()
        if left:
            self.losses.append(f"{way} {number}: processes left {left}")
            for process in left:
                os.kill(process, signal.SIGKILL)
        driven.listen(0.1)
        driven.process.stdout.close()
        self._look(f"{way} {number}", folder, home, driven.heard, whole=way == "SIGTERM")
        shutil.rmtree(folder)
        shutil.rmtree(home, ignore_errors=True)

    def _window(self, driven: Driven, mode: str) -> None:
        driven.listen(20, "music" if mode == "drill" else "saved")
        driven.listen(self.draw.uniform(0.0, 3.0))
        driven.process.kill()

    def _save(self, driven: Driven, mode: str) -> None:
        driven.listen(20, "saved")
        # A save begins a second after the first edit of its batch: end it around that moment.
        driven.listen(self.draw.uniform(0.9, 1.15))
        driven.process.kill()

    def _sigterm(self, driven: Driven, mode: str) -> None:
        driven.listen(20, "music" if mode == "drill" else "edited")
        driven.listen(self.draw.uniform(0.0, 2.0))
        os.killpg(driven.process.pid, signal.SIGTERM)
        driven.listen(20)

    def _child(self, driven: Driven, way: str) -> None:
        driven.listen(20, "music")
        driven.listen(self.draw.uniform(0.0, 1.5))
        alive = [child for child in driven.left() if _RUNS[way] in command_of(child)]
        before = driven.heard.passes
        if not alive:
            self.losses.append(f"{way}: there was none to be ended")
        for child in alive:
            os.kill(child, signal.SIGKILL)
        # The window goes on: more passes come, or it says what happened.
        deadline = time.monotonic() + 25
        while time.monotonic() < deadline and driven.process.poll() is None:
            driven.listen(0.2)
            if driven.heard.passes > before or driven.heard.said:
                break
        else:
            self.losses.append(f"{way}: the window neither went on nor said why")
        driven.process.send_signal(signal.SIGTERM)

    def _look(self, name: str, folder: Path, home: Path, heard: Heard, *, whole: bool) -> None:
        try:
            opened = open_folder(folder)
        except UserError as error:
            self.losses.append(f"{name}: {error.sentence}")
            return
        title = int(opened.routine.title) if opened.routine.title.isdecimal() else 0
        least = heard.edited if whole else heard.saved
        if title < least:
            self.losses.append(f"{name}: title {title} found, {least} was reported")
        with Logbook(folder / "practice.sqlite") as book:
            done = sum(done.complete for done in book.history())
            if book.notice:
                self.losses.append(f"{name}: {book.notice}")
        if done < heard.passes:
            self.losses.append(f"{name}: {done} passes found, {heard.passes} were reported")
        self.passes += heard.passes
        self.saves += heard.saved
        self._tidied(name, folder, home)

    def _tidied(self, name: str, folder: Path, home: Path) -> None:
        """After the next start nothing that was being written is left."""
        tidy(folder)
        left = [p.name for p in folder.rglob("*") if p.name.startswith(".")]
        left += [p.name for p in folder.rglob("*.yaml") if not p.stat().st_size]
        left += [p.name for p in home.iterdir() if p.name.startswith((".", "rehearse-", "tmp"))]
        if left:
            self.losses.append(f"{name}: files left {left}")


def command_of(process: int) -> str:
    """What a child process was started to run; empty for none, and for the window itself."""
    try:
        words = Path(f"/proc/{process}/cmdline").read_bytes().decode().split("\0")
    except OSError:
        return ""
    code = next((word for word in words if "rehearse.work.child" in word), "")
    return code.partition("main(")[2]


def tidy(folder: Path) -> None:
    """What the next start does with a folder, without a window."""
    from rehearse.files.atomic import sweep

    for place in (folder, folder / "versions"):
        sweep(place)


def main() -> int:
    """Run all; the exit status."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scale", type=float, default=1.0, help="share of the tries")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    bench = Bench(options.seed)
    began = time.monotonic()
    for way, times in TIMES.items():
        for number in range(max(1, round(times * options.scale))):
            bench.run(way, number)
        print(f"{way:8} {max(1, round(times * options.scale))} times", flush=True)
    shutil.rmtree(bench.home, ignore_errors=True)
    print(f"reported: {bench.passes} passes, {bench.saves} edits saved")
    print(f"took {time.monotonic() - began:.0f} s, lost or left: {len(bench.losses)}")
    for loss in bench.losses:
        print(f"  {loss}")
    return 1 if bench.losses else 0


if __name__ == "__main__":
    sys.exit(main())
