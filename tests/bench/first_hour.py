"""A stranger's first hour in the real window by real keys, clicks and a real drop: times, gestures.

`python -m tests.bench.first_hour SONG [--language de] [--pictures FOLDER]` starts the program with
empty settings on a virtual screen of 1366 × 768 beside a sound server of its own, in the language
that the system has. The walk through the demo; the song dropped, five poses, then twelve; a
transition looped at 60 %, then faster, marked clean; a run with fewer cues; the stage cut to 60 s;
sheet, cue track, stage music and page; the logbook; quit, started again: all there. It exits with
1 where a step does not come to its end.
"""

import argparse
import json
import shutil
import subprocess
import sys
import tempfile
import time
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests" / "helpers")]

from screen import Screen  # noqa: E402
from sound_server import SoundServer  # noqa: E402

WINDOW = ROOT / "tests" / "bench" / "hour_window.py"
#: Seconds from one gesture to the next, and until a step is given up.
PAUSE, PATIENCE = 0.6, 180.0
EXPORTS = ("sheet", "cue-track", "stage-music", "page")
_VIEW = "window.page.host.view"


class NotDone(Exception):
    """A step did not come to its end."""


class Asked:
    """A process that answers questions about its widgets."""

    def __init__(self, environment: dict[str, str], *arguments: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, str(WINDOW), *arguments],
            cwd=ROOT,
            env=environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def ask(self, expression: str) -> object:
        """What the expression is in there."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(expression + "\n")
        self._process.stdin.flush()
        while line := self._process.stdout.readline():
            if line[:1] in '[{"' or line.strip() in ("true", "false", "null") or line[0].isdigit():
                return json.loads(line)
        raise NotDone(f"the program ended when asked for {expression}")

    def until(self, expression: str, patience: float = PATIENCE) -> object:
        """Wait until the expression is true; what it is."""
        end = time.monotonic() + patience
        while time.monotonic() < end:
            found = self.ask(expression)
            if found and not isinstance(found, dict):
                return found
            time.sleep(0.1)
        raise NotDone(f"not so after {patience:.0f} s: {expression}")

    def ended(self, patience: float = 30.0) -> int:
        """Wait for its end; the exit status."""
        return self._process.wait(patience)

    def end(self) -> None:
        """End it, where it has not ended."""
        if self._process.poll() is None:
            self._process.terminate()
            self._process.wait(30)


class Hands:
    """Presses, clicks and drags, and counts; a step's line is printed when it is done."""

    def __init__(self, screen: Screen, pictures: Path | None) -> None:
        self.screen, self._pictures = screen, pictures
        self._gestures, self.table = 0, []
        self.program: Asked | None = None

    def press(self, *keys: str) -> None:
        """One key after the other."""
        for key in keys:
            self.screen.key(key)
            self._gestures += 1
            time.sleep(PAUSE)

    def click(self, place: str) -> None:
        """Click where an expression says."""
        assert self.program is not None
        x, y = self.program.until(place, 10.0)
        self.screen.tool("mousemove", str(x), str(y))
        self.screen.tool("click", "1")
        self._gestures += 1
        time.sleep(PAUSE)

    def drag(self, start: tuple[int, int], end: tuple[int, int]) -> None:
        """Press, move in steps, let go."""
        self.screen.tool("mousemove", *map(str, start))
        self.screen.tool("mousedown", "1")
        for k in range(1, 11):
            x, y = (a + (b - a) * k // 10 for a, b in zip(start, end, strict=True))
            self.screen.tool("mousemove", str(x), str(y))
            time.sleep(0.08)
        self.screen.tool("mouseup", "1")
        self._gestures += 1
        time.sleep(PAUSE)

    @contextmanager
    def step(self, name: str):
        """One thing that is done."""
        began, self._gestures = time.monotonic(), 0
        yield
        line = (name, self._gestures, time.monotonic() - began)
        self.table.append(line)
        print(f"{name:<44} {line[1]:3d} gestures {line[2]:6.1f} s", flush=True)
        self.picture(name)

    def picture(self, name: str) -> None:
        """What the screen shows."""
        if self._pictures is None:
            return
        self._pictures.mkdir(parents=True, exist_ok=True)
        plain = "".join(c if c.isalnum() else "-" for c in name)
        path = self._pictures / f"{len(self.table):02d}-{plain}.png"
        size = f"{self.screen.width}x{self.screen.height}"
        command = ["ffmpeg", "-y", "-f", "x11grab", "-video_size", size, "-i", self.screen.name]
        command += ["-frames:v", "1", str(path)]
        subprocess.run(command, check=False, stderr=subprocess.DEVNULL)


def stranger(home: Path, screen: Screen, server: SoundServer, language: str) -> dict[str, str]:
    """Somebody who was never here, with a system in this language."""
    given = {**server.environment, **screen.environment, "HOME": str(home)}
    given |= {"PYTHONPATH": str(ROOT), "LANG": {"en": "en_GB", "de": "de_DE"}[language] + ".UTF-8"}
    for name in ("LC_ALL", "LC_MESSAGES", "LANGUAGE", "REHEARSE_LANGUAGE", "QT_QPA_PLATFORMTHEME"):
        given.pop(name, None)
    for name in ("CONFIG", "STATE", "CACHE", "DATA"):
        given[f"XDG_{name}_HOME"] = str(home / name.lower())
    return given


def walk(hands: Hands, program: Asked, song: Path, environment: dict[str, str]) -> None:
    """The demo, then the own song and its first five poses."""
    at = "window.walk.step and window.walk.step.name"
    with hands.step("walk: the demo is open"):
        hands.press("F4")
        program.until("window.walk.number == 1 and workspace.track is not None")
    for name, keys, following in (
        ("play", ("space",), "slow"),
        ("slow", ("minus",), "loop"),
        ("loop", ("m", "", "m"), "clean"),
        ("mark clean", ("c",), "export"),
    ):
        with hands.step(f"walk: {name}"):
            if name == "mark clean":
                program.until(f"{_VIEW}.state == 'music'")
            for key in keys:
                time.sleep(3.0) if not key else hands.press(key)
            program.until(f"({at}) == {following!r}")
    with hands.step("walk: export a sheet"):
        hands.press("ctrl+p", "Return")
        program.until(f"({at}) == 'own'")
    with hands.step("walk: the own song is dropped"):
        card = Asked(environment, "--card", str(song))
        card.until("card.isVisible()", 60.0)
        time.sleep(1.0)
        hands.drag((40, 20), (683, 400))
        if not card.ask("card.dropped"):  # the first press only brought it to the front
            hands.drag((40, 20), (683, 400))
        program.until(f"({at}) == 'poses' and window.page.findings.suggestions != ()")
        card.end()
        time.sleep(1.0)
    with hands.step("walk: five poses on counts"):
        hands.press(*["Return"] * 5)
        program.until("len(workspace.routine.poses) >= 5 and not window.walk.step")


def choreograph(hands: Hands, program: Asked) -> None:
    """Twelve poses: what is suggested, then at clicks into the wave."""
    with hands.step("twelve poses on counts"):
        wide = False
        while program.ask("len(workspace.routine.poses)") < 12:
            before = program.ask("len(workspace.routine.poses)")
            if program.ask("len([s for s in window.page.findings.suggestions if s.poses])"):
                hands.press("Return")
            else:
                if not wide:
                    hands.press(*["shift+Z"] * 3)
                    wide = True
                hands.click("free_one(window.page)")
                hands.press("p", *["Right"] * (before % 4), "Return")
            program.until(f"len(workspace.routine.poses) > {before}", 5.0)
        off = program.ask("farthest(workspace)")
    print(f"    farthest from a count or its half: {1000 * off:.1f} ms")


def rehearse(hands: Hands, program: Asked) -> None:
    """A transition slow and faster, and a run with fewer cues."""
    panel = "window.page.drill_panel"
    with hands.step("a transition looped at 60 %"):
        hands.press("3")
        hands.click(f"centre({panel}._kinds[1])")
        hands.click(f"row({panel}.list, 1)")
        hands.press(*["minus"] * 8, "space")
        program.until(f"{_VIEW}.state == 'music' and {_VIEW}.plan.percent == 60")
        hands.picture("looped")
        first = program.ask(f"{_VIEW}.plan.number")
        program.until(f"{_VIEW}.plan.number > {first if isinstance(first, int) else 1}")
        hands.press("c")
    with hands.step("faster, marked clean"):
        hands.press(*["plus"] * 4)
        program.until(f"{_VIEW}.plan.percent == 80 and {_VIEW}.state == 'music'")
        hands.press("c")
        program.until(f"{_VIEW}.verdict == 'clean'")
        hands.press("s")
    with hands.step("a run with fewer cues"):
        hands.click(f"centre({panel}._kinds[0])")
        hands.click(f"row({panel}.list, 0)")
        hands.click(f"centre({panel}.form._ways.button(2))")
        hands.click(f"centre({panel}.form._cueing)")
        hands.press("Down", "Return", "space")
        program.until(f"{_VIEW}.state == 'music'")
        time.sleep(15.0)
        hands.picture("run")
        program.until("window.page.footer.question.asking", 240.0)
        hands.picture("question")
        hands.press("Return")
        program.until("not window.page.footer.question.asking")


def take_away(hands: Hands, program: Asked, place: Path) -> None:
    """The cut, four handouts, the logbook."""
    with hands.step("the stage cut to 60 s"):
        hands.press("1", "ctrl+x")
        program.until("window._flow.main.isEnabled()")
        hands.picture("versions")
        hands.press("Return")
        program.until("workspace.routine.cut is not None and window._flow is None")
        program.until("workspace.track is not None and workspace.beatmap.duration <= 60.5")
    before = set(place.iterdir())
    with hands.step("sheet, cue track, stage music, page"):
        hands.press("ctrl+p")
        for kind in EXPORTS:
            number = {"sheet": 0, "cue-track": 1, "stage-music": 3, "page": 4}[kind]
            if program.ask("window._flow.kind") != kind:
                hands.click(f"centre(window._flow.kinds.button({number}))")
            hands.press("Return")
            program.until("window._flow.made is not None")
            hands.picture(kind)
        hands.press("Escape")
    made = sorted(p.name for p in set(place.iterdir()) - before)
    print("    " + ", ".join(made))
    if len(made) < len(EXPORTS):
        raise NotDone("not all handouts are there")
    with hands.step("the logbook"):
        hands.press("4")
        program.until("window.page.panel.plan is not None")


def hour(song: Path, language: str, pictures: Path | None) -> list[tuple[str, int, float]]:
    """All of it; the table of steps."""
    with SoundServer() as server, Screen(1366, 768) as screen, tempfile.TemporaryDirectory() as tmp:
        home = Path(tmp)
        environment = stranger(home, screen, server, language)
        own = home / song.name
        shutil.copy(song, own)
        hands = Hands(screen, pictures)
        program = hands.program = Asked(environment)
        try:
            with hands.step("started with empty settings"):
                screen.focus("Rehearse", timeout=60)
                program.until("window.isActiveWindow()")
                time.sleep(1.0)
            walk(hands, program, own, environment)
            choreograph(hands, program)
            rehearse(hands, program)
            place = Path(program.ask("str(workspace.folder.parent)"))
            take_away(hands, program, place)
            kept = program.ask("[len(workspace.routine.poses), str(workspace.folder)]")
            with hands.step("quit"):
                hands.press("ctrl+q")
                if program.ended():
                    raise NotDone("it did not end well")
            program = hands.program = Asked(environment)
            with hands.step("started again: all there"):
                screen.focus("Rehearse", timeout=60)
                now = "[len(workspace.routine.poses), str(workspace.folder)]"
                program.until(f"{now} == {kept!r} and workspace.track is not None")
                hands.press("4")
                program.until("window.page.panel.plan is not None")
                time.sleep(1.0)
            return hands.table
        except NotDone:
            hands.picture("not done")
            raise
        finally:
            program.end()


def main() -> int:
    """Run it once."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("song", type=Path)
    parser.add_argument("--language", choices=("en", "de"), default="en")
    parser.add_argument("--pictures", type=Path)
    options = parser.parse_args()
    try:
        table = hour(options.song.resolve(), options.language, options.pictures)
    except NotDone as error:
        print(f"NOT DONE: {error}")
        return 1
    gestures, seconds = (sum(line[k] for line in table) for k in (1, 2))
    print(f"{'in all':<44} {gestures:3d} gestures {seconds:6.1f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
