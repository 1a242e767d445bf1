"""Random hands on the real window while music plays.

    python -m tests.bench.monkey --events 3000 --seed 1 [--song SONG]

Keys, held keys, clicks, drags, the wheel and resizes go through a real X server to the real
window over all its pages, on a copy of the demo routine or of a routine made of SONG, with a real
sound server. Looked for: tracebacks; freezes over 500 ms; sound that goes on more than 100 ms
after the stop key; an undo of everything that does not give the start; files that differ from
what is shown at the end. The exit status is 1 when any of these was found.
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
import subprocess
import sys
import tempfile
import time
from bisect import bisect_left
from collections import deque
from contextlib import ExitStack
from pathlib import Path
from typing import ClassVar

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "helpers")]
PROGRAM = Path(__file__).with_name("monkey_window.py")
SIZES = ((960, 600), (1280, 720), (1366, 768), (1920, 1080))
#: Seconds from the stop key to silence, and a freeze, at most.
SILENT_WITHIN, LONGEST = 0.100, 0.500
#: Level under which the speaker is silent.
QUIET = 1e-4
LETTERS = "abcefghijklmnoprstuvwxyz"
KEYS = (
    *LETTERS, *LETTERS, *"0123456789", *"1234", "space", "space", "space", "Return", "Escape",
    "Tab", "Left", "Right", "Up", "Down", "Left", "Right", "Home", "End", "Delete", "BackSpace",
    "plus", "minus", "comma", "period", "slash", "question", "F1", "F2", "F11", "Prior", "Next",
)  # fmt: skip
CHORDS = ("z", "z", "shift+z", "c", "v", "x", "r", "p", "a", "Left", "Right", "n", "o", "s")


class Monkey:
    """One run of random events; `found` collects what went wrong."""

    def __init__(self, screen: object, program: subprocess.Popen, server: object, seed: int):
        self.screen, self.program, self.server = screen, program, server
        self.rng = random.Random(seed)
        self.found: list[str] = []
        self.stops = self.heard = 0
        self.size = SIZES[2]

    def ask(self, request: str) -> dict:
        """One request to the window, and its answer."""
        try:
            self.program.stdin.write(request + "\n")
            self.program.stdin.flush()
            line = self.program.stdout.readline()
        except BrokenPipeError:
            line = ""
        if not line:
            raise Ended(f"the program ended with {self.program.wait(10)}")
        return json.loads(line)

    def look(self) -> dict:
        """Where the window is; collects what went wrong since the last look."""
        state = self.ask("state")
        self.found += [f"traceback: {x}" for x in state["faults"]]
        self.found += [f"freeze: {x}" for x in state["freezes"]]
        return state

    def event(self) -> None:
        """One random event."""
        act = self.rng.choices(
            (self.key, self.chord, self.held, self.click, self.drag, self.wheel, self.resize),
            (60, 8, 2, 20, 5, 4, 1),
        )[0]
        act()
        time.sleep(self.rng.choice((0.0, 0.0, 0.02, 0.1)))

    def key(self) -> None:
        """A key, at times with Shift."""
        shift = "shift+" if self.rng.random() < 0.12 else ""
        self.screen.key(shift + self.rng.choice(KEYS))

    def chord(self) -> None:
        """A key with Control."""
        self.screen.key("ctrl+" + self.rng.choice(CHORDS))

    def held(self) -> None:
        """A key held down for up to 1.2 s; the X server repeats it."""
        key = self.rng.choice(("Prior", "Next", "Left", "Right", "plus", "minus", "h", "space"))
        self.screen.tool("keydown", key)
        time.sleep(self.rng.uniform(0.2, 1.2))
        self.screen.tool("keyup", key)

    def click(self) -> None:
        """A click anywhere, seldom a double one or with the right button."""
        button = "3" if self.rng.random() < 0.08 else "1"
        twice = ("--repeat", "2", "--delay", "60") if self.rng.random() < 0.15 else ()
        self.screen.tool("mousemove", *self.place(), "click", *twice, button)

    def drag(self) -> None:
        """Press, move, release."""
        here, there = self.place(), self.place()
        self.screen.tool("mousemove", *here, "mousedown", "1", "mousemove", *there, "mouseup", "1")

    def wheel(self) -> None:
        """Turn the wheel somewhere."""
        self.screen.tool("mousemove", *self.place(), "click", self.rng.choice(("4", "5")))

    def resize(self) -> None:
        """Another size of the window."""
        self.size = self.rng.choice(SIZES)
        self.screen.resize("Rehearse", *self.size)

    def place(self) -> tuple[str, str]:
        """A point of the window, as words."""
        width, height = self.size
        return str(self.rng.randrange(width)), str(self.rng.randrange(height))

    def stop_in_mid_play(self) -> None:
        """Play on some page, press the stop key at some moment, listen."""
        self.ask("home")
        self.screen.key("Escape", "Escape", "Escape", self.rng.choice("1233"), "space")
        time.sleep(self.rng.uniform(0.3, 4.0))
        if self.look()["editing"]:
            return
        with self.server.recording() as recording:
            time.sleep(0.2)
            before = recording.frames
            pressed = self.screen.tap("d")
            time.sleep(0.5)
            samples, rate = recording.samples, self.server.rate
            frames = range(before, len(samples))
            first = before + bisect_left(frames, pressed + SILENT_WITHIN, key=recording.time_of)
        if first >= len(samples):
            self.found.append("stop: nothing was recorded")
            return
        self.stops += 1
        self.heard += bool(np.abs(samples[before - rate // 10 : before]).max() > QUIET)
        loud = np.flatnonzero(np.abs(samples[first:]).max(axis=1) > QUIET)
        if len(loud):
            late = 1000 * (SILENT_WITHIN + loud[-1] / rate)
            self.found.append(f"stop: still heard {late:.0f} ms after the key")


class Ended(Exception):
    """The program under the monkey is gone."""


def main() -> int:
    """Run the events and print what was found; 1 when there was anything."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--events", type=int, default=3000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--song", type=Path, help="a routine of this song instead of the demo")
    options = parser.parse_args()
    from screen import Screen
    from sound_server import SoundServer

    class Hand(Screen):
        """A screen that remembers what was done to it."""

        done: ClassVar[deque[str]] = deque(maxlen=20)

        def _tool(self, *arguments: str) -> str:
            self.done.append(" ".join(arguments))
            return super()._tool(*arguments)

    with ExitStack() as stack:
        home = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        server = stack.enter_context(SoundServer())
        screen = stack.enter_context(Hand(1920, 1080))
        folder = prepare(home, options.song)
        environment = {**server.environment, **screen.environment, "HOME": str(home)}
        for name in ("CONFIG", "STATE", "CACHE", "DATA"):
            environment[f"XDG_{name}_HOME"] = str(home / name.lower())
        program = subprocess.Popen(
            [sys.executable, str(PROGRAM), str(folder), str(LONGEST)],
            env=environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        monkey = Monkey(screen, program, server, options.seed)
        try:
            run(monkey, options.events)
        except Ended as ended:
            monkey.found.append(f"{ended} after {', '.join(screen.done)}\n{crash(home)}")
        finally:
            program.terminate()
            program.wait(30)
    return verdict(monkey, options)


def crash(home: Path) -> str:
    """What the program's own log says of its end: the Python stacks of all threads."""
    logs = sorted((home / "state").rglob("*crash*")) + sorted((home / "state").rglob("*.log"))
    return "\n".join(path.read_text(errors="replace")[-20_000:] for path in logs)


def prepare(home: Path, song: Path | None) -> Path:
    """The folder to be played with."""
    folder = home / "routine"
    if song is None:
        shutil.copytree(ROOT / "demo" / "copper-lights", folder)
    else:
        command = [sys.executable, "-m", "rehearse", "new", str(song), str(folder)]
        subprocess.run(command, check=True, cwd=ROOT)
    return folder


def run(monkey: Monkey, events: int) -> None:
    """The events, stops among them, then the two comparisons."""
    monkey.screen.focus("Rehearse")
    monkey.screen.resize("Rehearse", *monkey.size)
    while not monkey.ask("state")["ready"]:
        time.sleep(0.2)
    monkey.ask("begin")
    for count in range(events):
        monkey.event()
        if count % 20 == 19:
            state = monkey.look()
            if state["modal"] and monkey.rng.random() < 0.5:
                monkey.ask("home")
            if not state["same"]:
                monkey.found.append("another routine was opened")
                return
        if count % 100 == 99:
            monkey.stop_in_mid_play()
    monkey.ask("home")
    monkey.screen.key("Escape", "Escape", "Escape", "d")
    time.sleep(4.0)
    ended = monkey.ask("compare")
    monkey.found += [
        f"file differs from what is shown: {k}: {x}" for k, v in ended.items() for x in v
    ]
    undone = monkey.ask("undo")
    steps = undone.pop("steps")
    monkey.found += [f"undo misses the start: {k}: {x}" for k, v in undone.items() for x in v]
    monkey.look()
    print(f"{steps} steps undone")


def verdict(monkey: Monkey, options: argparse.Namespace) -> int:
    """Print what was found."""
    for what in monkey.found:
        print(what)
    print(
        f"seed {options.seed}: {options.events} events, {monkey.stops} stops tried "
        f"({monkey.heard} while something was heard), {len(monkey.found)} findings"
    )
    return 1 if monkey.found else 0


if __name__ == "__main__":
    sys.exit(main())
