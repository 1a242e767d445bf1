"""Does the sound survive a window that hangs? Gaps counted in what left a real sound server.

    python -m tests.bench.stall [--seconds 60] [--hogs 2] [--only process] [--plain]

A main process plays a steady tone in a loop while its main thread, again and again, holds the
interpreter lock for half a second and more (sorting, YAML, full garbage collection) and other
processes keep the processors busy. The recording of the speaker is searched for places where the
tone breaks. Candidates: `process` (this program's player), `callback` (a Python callback in the
stalling process itself) and `ring` (rtmixer's C callback over a ring; skipped when missing).
The last column is the time from asking for a change to hearing it, median and largest.
"""

from __future__ import annotations

import argparse
import multiprocessing
import subprocess
import sys
import time

import numpy as np

from tests.helpers.playback_tools import RATE, find_breaks, tone
from tests.helpers.sound_server import SoundServer


def main() -> None:
    """Run the candidates and print a table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--latency", type=float, default=None)
    parser.add_argument("--hogs", type=int, default=2)
    parser.add_argument("--only", default="process,callback,ring")
    parser.add_argument("--plain", action="store_true", help="without the right to real time")
    parser.add_argument("--scene", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.scene:
        SCENES[options.scene](options)
        return
    print(
        f"{'candidate':10} {'latency':>8} {'seconds':>8} {'breaks':>7} {'silent ms':>9}  change ms"
    )
    for name in options.only.split(","):
        print(measure(name, options), flush=True)


def measure(name: str, options: argparse.Namespace) -> str:
    """Record one candidate and describe what was heard."""
    arguments = ["--scene", name, "--seconds", str(options.seconds), "--hogs", str(options.hogs)]
    if options.latency is not None:
        arguments += ["--latency", str(options.latency)]
    # For whom real-time scheduling is not granted (as root everything would be).
    before = ["setpriv", "--bounding-set", "-sys_nice"] if options.plain else []
    with SoundServer(RATE) as server, server.recording() as recording:
        done = subprocess.run(
            [*before, sys.executable, "-m", "tests.bench.stall", *arguments],
            env=server.environment,
            capture_output=True,
            text=True,
        )
        samples = recording.samples[:, 0]
    if done.returncode:
        return f"{name:10} skipped: {done.stderr.strip().splitlines()[-1]}"
    places, silent = find_breaks(samples)
    breaks = len(places)
    latency, changes = done.stdout.split("\n")[:2]
    return (
        f"{name:10} {latency:>8} {options.seconds:8.0f} {breaks:7d} {1000 * silent:9.1f}  {changes}"
    )


def _burn() -> None:
    while True:
        sum(range(10_000))


class Stalls:
    """Stalls of the main thread, and busy processors."""

    def __init__(self, hogs: int) -> None:
        import yaml

        self._values = np.random.default_rng(0).random(3_000_000).tolist()
        self._document = yaml.safe_dump([{"a": [1, 2, 3], "b": "text"}] * 250)
        self._web = [[i] for i in range(1_000_000)]
        self._turn = 0
        context = multiprocessing.get_context("fork")
        self._hogs = [context.Process(target=_burn, daemon=True) for _ in range(hogs)]
        for hog in self._hogs:
            hog.start()

    def once(self) -> None:
        """Hold the interpreter lock for some hundred milliseconds."""
        import gc

        import yaml

        self._turn += 1
        if self._turn % 3 == 0:
            yaml.safe_load(self._document)
        elif self._turn % 3 == 1:
            sorted(self._values)
        else:
            gc.collect()

    def end(self) -> None:
        """Stop the busy processes."""
        for hog in self._hogs:
            hog.kill()


def scene_process(options: argparse.Namespace) -> None:
    """This program's player."""
    from rehearse.music.track import Track
    from rehearse.playback import output
    from rehearse.playback.player import Player
    from rehearse.playback.segment import Segment

    samples = np.concatenate([tone(0), tone(1)])
    player = Player()
    player.load(Track(samples, RATE, "tone", "tone"))
    while not player.device:
        player.poll()
        time.sleep(0.02)
    time.sleep(2.5)
    segments = [Segment("low", 1.0, 6.0), Segment("high", 9.0, 14.0)]
    stalls = Stalls(options.hogs)
    waits: list[float] = []
    end = time.monotonic() + options.seconds
    turn = 0
    player.play(segments[0])
    while time.monotonic() < end:
        asked = time.perf_counter()
        turn += 1
        player.play(segments[turn % 2], at=segments[turn % 2].start + 1.0)
        heard = False
        while time.perf_counter() - asked < 0.3:
            player.poll()
            if not heard and player.now().key == segments[turn % 2].key:
                waits.append(time.perf_counter() - asked)
                heard = True
            time.sleep(0.002)
        for _ in range(3):
            stalls.once()
            time.sleep(0.05)
    latency = f"{output.LATENCY:.3f}"
    player.stop()
    time.sleep(0.5)
    stalls.end()
    print(f"{latency}\n{_told(waits)} device underruns {player.underruns} missing {player.missing}")
    player.close()


def scene_callback(options: argparse.Namespace) -> None:
    """A Python callback in the stalling process."""
    import sounddevice

    low, frame = tone(0), 0

    def callback(out, frames, info, status):
        nonlocal frame
        index = (frame + np.arange(frames)) % len(low)
        out[:] = low[index]
        frame += frames

    latency = options.latency or 0.06
    stream = sounddevice.OutputStream(
        samplerate=RATE, channels=2, dtype="float32", latency=latency, callback=callback
    )
    stalls = Stalls(options.hogs)
    with stream:
        end = time.monotonic() + options.seconds
        while time.monotonic() < end:
            stalls.once()
            time.sleep(0.15)
    stalls.end()
    print(f"{latency:.3f}\n")


def scene_ring(options: argparse.Namespace) -> None:
    """A C callback that reads a ring filled by a Python thread."""
    import threading

    import rtmixer

    latency = options.latency or 0.03
    low = tone(0)
    mixer = rtmixer.Mixer(channels=2, samplerate=RATE, latency=latency)
    ring = rtmixer.RingBuffer(2 * 4, 1 << 16)
    running = True

    def feed() -> None:
        frame = 0
        while running:
            room = min(ring.write_available, 4096)
            if room:
                index = (frame + np.arange(room)) % len(low)
                ring.write(np.ascontiguousarray(low[index]))
                frame += room
            else:
                time.sleep(0.01)

    thread = threading.Thread(target=feed)
    thread.start()
    stalls = Stalls(options.hogs)
    with mixer:
        time.sleep(0.3)
        mixer.play_ringbuffer(ring)
        end = time.monotonic() + options.seconds
        while time.monotonic() < end:
            stalls.once()
            time.sleep(0.15)
        running = False
        thread.join()
    stalls.end()
    print(f"{latency:.3f}\n")


def _told(waits: list[float]) -> str:
    return f"{1000 * float(np.median(waits)):.0f} / {1000 * max(waits):.0f} ({len(waits)})"


SCENES = {"process": scene_process, "callback": scene_callback, "ring": scene_ring}

if __name__ == "__main__":
    main()
