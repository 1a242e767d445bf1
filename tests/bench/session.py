"""A hands-off session: today's plan is started by one key, then nothing is touched.

    python -m tests.bench.session --minutes 120

The real window on a virtual screen of its own, the real sound path on a private sound server, a
copy of the demo routine with a week of practice behind it. When a plan ends before the time the
next is started by its key. Each minute a line says: passes logged, gaps of the player, memory the
processes hold (Pss, summed), dialogues seen, the longest time between two frames of the stage
display while the music played, whether the screen is kept awake, and what is played. At the end
the passes in the logbook are counted by SQL against the passes the player reported.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections import deque
from contextlib import ExitStack
from datetime import datetime, timedelta
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "helpers")]
#: The window itself, which tells each second what goes on in it.
PROGRAM = Path(__file__).with_name("teller.py")
HEAD = (
    f"{'minute':>6} {'passes':>6} {'plans':>5} {'underruns':>9} {'missing':>7} {'MB':>7} "
    f"{'dialogues':>9} {'worst ms':>8} {'late':>5} {'awake':>5}  playing"
)


def main() -> int:
    """Run the session and print its figures; 1 when a pass was lost or a dialogue came."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=120)
    options = parser.parse_args()
    from screen import Screen
    from sound_server import SoundServer

    with ExitStack() as stack:
        home = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        server = stack.enter_context(SoundServer())
        screen = stack.enter_context(Screen(1366, 768))
        folder = prepare(home)
        environment = {
            **server.environment,
            **screen.environment,
            "XDG_CONFIG_HOME": str(home / "settings"),
            "DBUS_SESSION_BUS_ADDRESS": stack.enter_context(session_bus(home)),
        }
        command = [sys.executable, str(PROGRAM), str(folder)]
        program = subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True)
        watch = Watch(program)
        try:
            held = session(watch, screen, options.minutes)
        finally:
            program.send_signal(signal.SIGINT)
            program.wait(30)
        return verdict(watch, folder, held)


def prepare(home: Path) -> Path:
    """A copy of the demo routine with a week of invented practice, and settings of its own."""
    from rehearse.practice.logbook import FILE_NAME, Logbook
    from rehearse.practice.scope import spots_of
    from rehearse.routine.folder import open_folder
    from tests.practice.athlete import month, strong_with_weak

    folder = home / "routine"
    shutil.copytree(ROOT / "demo" / "copper-lights", folder)
    opened = open_folder(folder)
    spots = spots_of(opened.routine, opened.beatmap)
    weak = random.Random(1).sample([s.pose for s in spots], 3)
    first = datetime.now().astimezone() - timedelta(days=7)
    with Logbook(folder / FILE_NAME) as book:
        athlete = strong_with_weak(spots, weak, 1)
        month(book, opened.routine, opened.beatmap, athlete, first, days=6)
    settings = home / "settings" / "rehearse" / "settings.ini"
    settings.parent.mkdir(parents=True)
    settings.write_text("[General]\nplan_minutes=120\n", encoding="utf-8")
    return folder


class session_bus:  # noqa: N801 - reads as a function where it is used
    """A session bus of its own, so that keeping the screen awake can be seen."""

    def __init__(self, home: Path) -> None:
        self._address = f"unix:path={home}/bus"

    def __enter__(self) -> str:
        command = ["dbus-daemon", "--session", "--nofork", f"--address={self._address}"]
        self._process = subprocess.Popen(command, stderr=subprocess.DEVNULL)
        return self._address

    def __exit__(self, *_: object) -> None:
        self._process.terminate()
        self._process.wait()


class Watch:
    """What the program under watch says: one line of JSON each second."""

    def __init__(self, program: subprocess.Popen[str]) -> None:
        self.program = program
        self.told: deque[dict[str, object]] = deque()
        self.last: dict[str, object] = {}
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self) -> None:
        assert self.program.stdout is not None
        for line in self.program.stdout:
            self.last = json.loads(line)
            self.told.append(self.last)

    def since(self) -> list[dict[str, object]]:
        """Everything told since the last time it was asked."""
        found = []
        while self.told:
            found.append(self.told.popleft())
        return found


def session(watch: Watch, screen: object, minutes: float) -> dict[str, tuple[float, float]]:
    """Start, look on, start again when a plan is over.

    Returns MB at minute 5 (nan for a process begun later) and at the end, by process.
    """
    from tests.bench.soak import memory_of_each

    screen.focus("Rehearse")
    while not watch.last.get("ready"):
        time.sleep(0.2)
    begin, said, plans = time.monotonic(), 0.0, 0
    fifth: dict[int, float] = {}
    held: dict[int, float] = {}
    print(HEAD, flush=True)
    while (passed := time.monotonic() - begin) < 60 * minutes:
        if watch.program.poll() is not None:
            raise SystemExit(f"the program ended with {watch.program.returncode}")
        if not watch.last.get("busy"):
            screen.key("Escape", "4")
            time.sleep(1.0)
            screen.key("space")
            plans += 1
            time.sleep(3.0)
            screen.key("f")
        time.sleep(1.0)
        if passed - said >= 60:
            said += 60
            held = memory_of_each(watch.program.pid)
            if passed >= 300:
                fifth = fifth or held
            print(row(passed / 60, plans, sum(held.values()), watch.since()), flush=True)
    names = {process: name_of(process) for process in held}
    screen.key("s")
    time.sleep(2.0)
    return {names[p]: (fifth.get(p, math.nan), now) for p, now in held.items()}


def name_of(process: int) -> str:
    """What a process is for, with its number."""
    words = Path(f"/proc/{process}/cmdline").read_text().replace("\0", " ")
    target = re.search(r"rehearse\.[a-z_.]+:[a-z_]+", words)
    return f"{target[0] if target else words.split()[0]} ({process})"


def row(minute: float, plans: int, held: float, told: list[dict[str, object]]) -> str:
    """One line of the table."""
    last = told[-1]
    worst = 1000 * max(x["worst"] for x in told)
    return (
        f"{minute:6.1f} {last['passes']:6d} {plans:5d} {last['underruns']:9d} "
        f"{last['missing']:7d} {held:7.1f} {last['dialogues']:9d} {worst:8.0f} "
        f"{last['late']:5d} {'yes' if last['awake'] else 'no':>5}  {last['playing']}"
    )


def verdict(watch: Watch, folder: Path, held: dict[str, tuple[float, float]]) -> int:
    """The figures at the end."""
    last = watch.last
    with sqlite3.connect(folder / "practice.sqlite") as db:
        since = (last["begun"],)
        where = "started >= ? AND complete"
        (kept,) = db.execute(f"SELECT count(*) FROM passes WHERE {where}", since).fetchone()
        (each,) = db.execute(
            f"SELECT count(DISTINCT id) FROM passes WHERE {where}", since
        ).fetchone()
    # The last pass may be stopped in its rest: it is in the logbook, its end was never reported.
    whole = kept == each and 0 <= kept - last["passes"] <= 1
    print(f"passes: {kept} in the logbook, {last['passes']} reported by the player, whole: {whole}")
    for name, (fifth, now) in held.items():
        print(f"memory after minute 5: {fifth:.1f} to {now:.1f} MB, {now - fifth:+.1f}: {name}")
    print(f"frames: {last['frames']}, later than {last['limit_ms']:.0f} ms: {last['late']}")
    print(f"dialogues: {last['dialogues']}, faults told: {last['faults']}")
    return 0 if whole and not last["dialogues"] else 1


if __name__ == "__main__":
    sys.exit(main())
