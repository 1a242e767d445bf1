"""A comparison round in the real window: real keys, a recorded speaker, the log beside it.

    .venv/bin/python -m tests.bench.rounds [--hold 3] [--song FILE] [--pictures FOLDER]

A folder of rounds (with `--song` a routine of that song, played beneath) is opened on a virtual
screen; Space calls its mandatory poses, Page Down and Page Up judge some of them, and each call,
hold and verdict in the log is compared with what left the speaker and which keys were pressed.
Exit status 1 when a call is heard more than 20 ms from its time in the log, a hold is more than
50 ms longer or shorter, or a verdict is another.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from rehearse.cueing.voice import SpeechEngine
from rehearse.music.apart import map_apart
from rehearse.practice.logbook import Logbook
from rehearse.practice.roundlog import RoundDone
from rehearse.routine.folder import open_folder
from rehearse.routine.rounds import RELAX, RoundWish
from rehearse.routine.rules import load_rules
from rehearse.routine.start import start_folder, start_rounds
from rehearse.ui.pages.rehearse.practice_forms import dump_wish
from rehearse.ui.settings import Settings
from tests.helpers.heard import heard_at
from tests.helpers.screen import Screen
from tests.helpers.sound_server import Recording, SoundServer

RATE = 44_100
#: Bounds in milliseconds.
CALLS, HOLDS = 20.0, 50.0
#: Which calls are judged by which key, and how.
KEYS = {1: ("Next", "clean"), 2: ("Prior", "missed"), 4: ("Next", "clean")}


def prepared(home: Path, hold: float, song: Path | None) -> Path:
    """A folder with its round set on this machine, every caution read."""
    folder, rules = home / "rounds", load_rules("nga-amateur")
    if song is None:
        start_rounds(folder, home, rules, "Rounds", division="", figure="man")
    else:
        start_folder(folder, song, map_apart(song), rules, "Rounds")
    settings = Settings(home / "config" / "rehearse" / "settings.ini")
    wish = RoundWish("mandatories", hold, hold, rest=1.0)
    settings.put(f"round/{open_folder(folder).routine.id}", dump_wish(wish, song is not None))
    for caution in ("warm up", "ask", "breathe", "long holds"):
        settings.put(f"cautions/{caution}", "always")
    settings.sync()
    return folder


def logged(folder: Path) -> RoundDone | None:
    """The round as it is in the log now."""
    path = folder / "practice.sqlite"
    if not path.exists():
        return None
    with Logbook(path, folder.parent / "spare.sqlite") as book:
        found = book.rounds()
    return found[-1] if found else None


def watched(folder: Path, screen: Screen, hold: float, pictures: Path | None) -> RoundDone:
    """Press the keys while the round runs; the round once it is complete."""
    screen.focus("Rehearse")
    time.sleep(4.0)
    if pictures is not None:
        shot(screen, pictures / "chosen.png")
    if open_folder(folder).routine.track:  # without a song there is nothing but rounds
        screen.key("3")
        time.sleep(2.0)
        screen.key("5")
        time.sleep(1.0)
    screen.key("space")
    pressed: set[int] = set()
    deadline = time.monotonic() + 60 + 12 * (hold + 4)
    while time.monotonic() < deadline:
        done = logged(folder)
        number = len(done.calls) if done else 0
        if number in KEYS and number not in pressed:
            time.sleep(1.0 + 2.4 + 0.4 * hold)  # "and relax", rest, the words, some of the hold
            screen.key(KEYS[number][0])
            pressed.add(number)
        if number == 2 and pictures is not None:
            shot(screen, pictures / f"call {number}.png")
        if done is not None and done.complete:
            return done
        time.sleep(0.1)
    raise AssertionError("the round did not end")


def shot(screen: Screen, path: Path) -> None:
    """A picture of the screen."""
    path.parent.mkdir(parents=True, exist_ok=True)
    size = f"{screen.width}x{screen.height}"
    command = ["ffmpeg", "-y", "-f", "x11grab", "-video_size", size, "-i", screen.name]
    command += ["-frames:v", "1", str(path)]
    subprocess.run(command, check=False, stderr=subprocess.DEVNULL)


def compared(done: RoundDone, recording: Recording, offset: float) -> tuple[np.ndarray, np.ndarray]:
    """Milliseconds by which each call was heard after its time in the log, and by which each hold
    was heard longer than logged.

    Args:
        offset: seconds to add to `time.perf_counter()` for the clock on the wall.
    """
    speaker, sound = SpeechEngine(), recording.samples[:, 0]
    speaker.measure("mandatory poses")  # what a process says first differs a little

    def heard(text: str, wall: float) -> float:
        around = round((wall - offset - recording.time_of(0)) * RATE)
        spoken = speaker.samples(text, "name", RATE)
        frame, alike = heard_at(sound, spoken, around, RATE // 2)
        assert alike > 0.7, f"{text} was not heard"
        return recording.time_of(frame) + offset

    late, longer = [], []
    for call in done.calls:
        at = call.called.timestamp()
        begun = heard(call.said, at)
        relaxed = heard(RELAX, at + call.spoken + call.hold)
        late.append(1000 * (begun - at))
        longer.append(1000 * (relaxed - begun - call.spoken - call.hold))
    return np.array(late), np.array(longer)


def main() -> int:
    """Run it once; 1 when a bound is broken."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--hold", type=float, default=3.0)
    parser.add_argument("--song", type=Path)
    parser.add_argument("--pictures", type=Path)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="rounds-") as name:
        home = Path(name)
        folder = prepared(home, options.hold, options.song)
        own = {f"XDG_{k.upper()}_HOME": str(home / k) for k in ("config", "state", "data", "cache")}
        with (
            SoundServer(RATE) as server,
            Screen(1366, 768) as screen,
            server.recording() as recording,
        ):
            environment = {**os.environ, **server.environment, **screen.environment, **own}
            command = [sys.executable, "-m", "rehearse", "open", str(folder)]
            with subprocess.Popen(command, env=environment) as app:
                try:
                    done = watched(folder, screen, options.hold, options.pictures)
                    offset = time.time() - time.perf_counter()
                    time.sleep(1.0)
                finally:
                    app.terminate()
                    app.wait(20)
        late, longer = compared(done, recording, offset)
    verdicts = [call.verdict for call in done.calls]
    wanted = [KEYS[k][1] if k in KEYS else None for k in range(len(verdicts))]
    print(f"{len(done.calls)} calls, verdicts {verdicts}")
    print(f"calls after the log: median {np.median(late):.1f}, worst {np.abs(late).max():.1f} ms")
    print(f"holds: median {np.median(longer):.1f}, worst {np.abs(longer).max():.1f} ms")
    good = np.abs(late).max() <= CALLS and np.abs(longer).max() <= HOLDS and verdicts == wanted
    print("within the bounds" if good else "OUTSIDE the bounds")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
