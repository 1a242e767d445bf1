"""From nothing to five poses on the beat, in the real window by real keys: gestures and seconds.

`python -m tests.bench.first_use SONG …` starts the program with empty settings on a virtual screen
for each song, presses Space, types the song's path, Enter, and Enter until five poses are saved.
Where no beat is found it does what the page asks for: one key starts the song, the same key taps
four counts, and another one applies what is suggested on them.
It exits with 1 above ten gestures or sixty seconds, or where a pose is off the counts.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests" / "helpers")]

import numpy as np  # noqa: E402
from screen import Screen  # noqa: E402

from rehearse.files.user_error import UserError  # noqa: E402
from rehearse.routine.folder import open_folder  # noqa: E402

#: Poses wished for; gestures and seconds allowed.
POSES, GESTURES, SECONDS = 5, 10, 60.0
#: Seconds from one key to the next, and until it is given up.
PAUSE, PATIENCE = 0.6, 240.0


def environment(home: Path, screen: Screen) -> dict[str, str]:
    """A user who was never here, without a sound device."""
    given = {**os.environ, **screen.environment, "HOME": str(home), "PYTHONPATH": str(ROOT)}
    for name in ("CONFIG", "STATE", "CACHE", "DATA"):
        given[f"XDG_{name}_HOME"] = str(home / name.lower())
    stored = home / "config" / "rehearse" / "settings.ini"
    stored.parent.mkdir(parents=True)
    stored.write_text(f"[General]\nroutines={home / 'routines'}\nsilent=true\n")
    return given


def poses_of(home: Path) -> tuple[int, float]:
    """How many poses are saved, and the farthest from its nearest count or half, in s; in free
    time, which has none, from its nearest accent."""
    for folder in (home / "routines").glob("[!.]*"):
        try:
            opened = open_folder(folder)
        except UserError:
            return 0, 0.0
        beats = np.array(opened.beatmap.beats)
        halves = np.sort(np.concatenate((beats, (beats[1:] + beats[:-1]) / 2)))
        hits = [opened.beatmap.time_of(p.hit) for p in opened.routine.poses]
        if not len(beats):
            return len(hits), np.inf if hits else 0.0
        accents = np.array([accent.time for accent in opened.beatmap.accents])
        off = 0.0
        for hit in hits:
            free = any(stretch.start <= hit < stretch.end for stretch in opened.beatmap.free)
            off = max(off, float(np.abs((accents if free else halves) - hit).min(initial=np.inf)))
        return len(hits), off
    return 0, 0.0


def has_counts(home: Path) -> bool:
    """Whether the routine's song has counts by now."""
    for folder in (home / "routines").glob("[!.]*"):
        try:
            return open_folder(folder).beatmap.has_counts
        except UserError:
            return False
    return False


def tap_four(screen: Screen) -> int:
    """Start the song and tap four counts, unevenly as a hand does; how many gestures that takes."""
    screen.key("shift+K")
    time.sleep(2.5)
    for pause in (0.6, 0.57, 0.62, 0.0):
        screen.key("shift+K")
        time.sleep(pause)
    return 5


def walk_in(song: Path) -> tuple[int, float, float, float]:
    """Gestures, seconds to the routine, seconds to five poses, the farthest from a count."""
    with Screen(1366, 768) as screen, tempfile.TemporaryDirectory() as place:
        home = Path(place)
        command = [sys.executable, "-m", "rehearse"]
        program = subprocess.Popen(command, cwd=ROOT, env=environment(home, screen))
        try:
            screen.focus("Rehearse", timeout=60)
            time.sleep(1.5)
            began, gestures = time.monotonic(), 0
            screen.key("space")
            time.sleep(PAUSE)
            screen.focus("Choose a song")  # there is no window manager to do it
            screen.tool("type", str(song))
            screen.key("Return")
            gestures += 3
            until(lambda: any((home / "routines").glob("[!.]*/routine.yaml")))
            made = time.monotonic() - began
            screen.focus("– Rehearse")
            time.sleep(1.0)
            if not has_counts(home):
                gestures += tap_four(screen)
                until(lambda: has_counts(home), 30.0)
                time.sleep(1.0)
                screen.key("ctrl+Return")
                gestures += 1
                until(lambda: poses_of(home)[0] >= POSES, 10.0)
            while poses_of(home)[0] < POSES and gestures < 2 * GESTURES:
                wanted = max(1, POSES - poses_of(home)[0]) if gestures > 3 else POSES
                for _ in range(wanted):
                    screen.key("Return")
                    gestures += 1
                    time.sleep(PAUSE)
                until(lambda: poses_of(home)[0] >= POSES, 5.0)
            seconds = time.monotonic() - began
            return gestures, made, seconds, poses_of(home)[1]
        finally:
            program.terminate()
            program.wait(30)


def until(condition, patience: float = PATIENCE) -> None:
    """Wait until it is so, or no longer."""
    end = time.monotonic() + patience
    while not condition() and time.monotonic() < end:
        time.sleep(0.2)


def main() -> int:
    """Print a line for each song."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("songs", type=Path, nargs="+", metavar="SONG")
    bad = 0
    for song in parser.parse_args().songs:
        gestures, made, seconds, off = walk_in(song.resolve())
        broken = gestures > GESTURES or seconds >= SECONDS or off > 0.001
        bad += broken
        print(
            f"{song.name:<28} {gestures:2d} gestures, routine after {made:5.1f} s, "
            f"{POSES} poses after {seconds:5.1f} s, {off * 1000:.1f} ms off the counts"
            f"{'  BROKEN' if broken else ''}",
            flush=True,
        )
    return int(bad > 0)


if __name__ == "__main__":
    sys.exit(main())
