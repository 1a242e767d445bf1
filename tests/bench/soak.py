"""Hours of looping with random changes: memory, gaps, clock.

    python -m tests.bench.soak --minutes 20        in real time on a private sound server
    python -m tests.bench.soak --hours 2           accelerated: as fast as the mixer can

Real time: the player loops a clicking track with random tempo, section, jump, pause; the speaker
is recorded in stretches and each click compared with what the clock said. Accelerated: scheduler,
mixer and stretch cache of the playback process run in this process without a device, on the same
music. Memory is what the processes hold for themselves (Pss), summed; growth counts from the fifth
minute on (accelerated: from the first tenth on).
"""

from __future__ import annotations

import argparse
import gc
import math
import os
import sys
import time
from pathlib import Path

import numpy as np

from rehearse.playback.mix import Mixer, Order
from rehearse.playback.mix_scheduler import MixScheduler
from rehearse.playback.player import Player
from rehearse.playback.segment import Clip, OutputLost, Segment
from rehearse.playback.stretch_cache import StretchCache
from rehearse.work.shared import Shared
from tests.helpers.playback_tools import RATE, clicking, onsets
from tests.helpers.sound_server import SoundServer

SECTIONS = [(1.0, 9.0), (5.0, 17.0), (20.0, 26.5), (26.5, 45.0), (2.0, 75.0)]
CLICK = np.concatenate([np.linspace(0.3, 0, 300), np.zeros(100)]).astype(np.float32)


def main() -> None:
    """Run one of the two soaks and print its figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=0)
    parser.add_argument("--hours", type=float, default=0)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    if options.hours:
        accelerated(options.hours, options.seed)
    else:
        real_time(options.minutes or 1, options.seed)


def wish(rng: np.random.Generator) -> tuple[str, Segment, float | None]:
    """A random thing to do."""
    index = int(rng.integers(0, len(SECTIONS)))
    start, end = SECTIONS[index]
    tempo = round(0.4 + 0.05 * int(rng.integers(0, 14)), 2)
    lead = float(rng.choice([0.0, 1.0]))
    clips = tuple(Clip(-lead + 0.25 * k, CLICK) for k in range(4)) if lead else ()
    segment = Segment(f"section {index}", start, end, tempo, lead, clips)
    word = str(rng.choice(["play", "jump", "change", "then", "pause"]))
    return word, segment, float(rng.uniform(start, end)) if word == "jump" else None


def memory(pid: int) -> float:
    """Megabytes a process and its children hold, shared pages divided among their users; the
    smallest of some looks, since a rendering under way takes its own for a moment."""
    return min(sum(look.values()) for look in _looks(pid))


def memory_of_each(pid: int) -> dict[int, float]:
    """Megabytes of a process and of each of its children, by process; measured as `memory` is."""
    looks = _looks(pid)
    return {each: min(look.get(each, math.inf) for look in looks) for each in looks[-1]}


def _looks(pid: int) -> list[dict[int, float]]:
    looks = []
    for _ in range(10):
        looks.append({each: _held(each) for each in family(pid)})
        time.sleep(0.1)
    return looks


def _held(pid: int) -> float:
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    except OSError:
        return 0.0
    # The libraries' own pages are left out: their share changes with who else uses them.
    held = (line.split()[1] for line in lines if line.startswith(("Pss_Anon:", "Pss_Shmem:")))
    return sum(int(kilobytes) for kilobytes in held) / 1024


def family(pid: int) -> list[int]:
    """A process and all it started."""
    found = [pid]
    for task in Path(f"/proc/{pid}/task").iterdir():
        for child in (task / "children").read_text().split():
            found += family(int(child))
    return found


def real_time(minutes: float, seed: int) -> None:
    """Play in real time on a private sound server."""

    track, times = clicking(80, seed=0)
    rng = np.random.default_rng(seed)
    with SoundServer(RATE) as server:
        os.environ.update(server.environment)
        player = Player()
        player.load(track)
        while not player.device:
            player.poll()
            time.sleep(0.01)
        begin = time.monotonic()
        print(
            f"{'minute':>7} {'MB':>7} {'underruns':>9} {'missing':>8} {'clock ms: median p95':>22}"
        )
        while time.monotonic() - begin < 60 * minutes:
            with server.recording() as recording:
                log = _rehearse(player, rng, min(60.0, 60 * minutes))
                time.sleep(0.3)
            errors = clock_errors(recording, log, times)
            told = f"{np.median(errors):8.2f} {np.percentile(np.abs(errors), 95):8.2f}"
            minute = (time.monotonic() - begin) / 60
            held = memory(player._child.process.pid)
            print(f"{minute:7.1f} {held:7.1f} {player.underruns:9d} {player.missing:8d} {told:>22}")
            sys.stdout.flush()
        player.close()


def _rehearse(player, rng, seconds):
    log, end, change = [], time.perf_counter() + seconds, 0.0
    while time.perf_counter() < end:
        now = time.perf_counter()
        if any(isinstance(event, OutputLost) for event in player.poll()):
            raise SystemExit("the sound device was lost")
        log.append((now, player.now()))
        if now > change:
            word, segment, at = wish(rng)
            if word == "pause":
                player.pause()
                player.resume()
            elif word == "then":
                player.then(segment)
            elif word == "change":
                player.change(segment)
            else:
                player.play(segment, at=at)
            change = now + rng.uniform(0.1, 4.0)
        time.sleep(0.004)
    return log


def clock_errors(recording, log, times):
    """Milliseconds between each click heard and where the clock said the music was."""
    errors, moments = [], [moment for moment, _ in log]
    samples = recording.samples
    for second in onsets(samples, RATE, least=0.1):
        moment = recording.time_of(round(second * RATE))
        k = int(np.searchsorted(moments, moment)) - 1
        if not 20 <= k < len(log) - 20:
            continue
        near = [log[i][1] for i in (k - 20, k, k + 20)]
        if any(n.state != "music" or n.key != near[1].key for n in near):
            continue
        source = near[1].source + (moment - moments[k]) * near[1].tempo
        error = 1000 * (source - times[np.argmin(np.abs(times - source))]) / near[1].tempo
        if abs(error) < 60:
            errors.append(error)
    return np.array(errors)


def accelerated(hours: float, seed: int) -> None:
    """Mix hours of sound as fast as it goes."""
    gc.disable()  # as in the playback process
    rng = np.random.default_rng(seed)
    shared = Shared(clicking(80, seed=0)[0].samples)
    stretch_cache, mixer = StretchCache(shared, RATE, lambda: None), Mixer(RATE)
    scheduler = MixScheduler(mixer, stretch_cache, shared.array)
    seconds, change, said, first, start = 0.0, 0.0, 0.0, None, time.monotonic()
    print(f"{'hour':>6} {'MB':>8} {'growth':>8} {'missing':>8} {'x real time':>12}")
    while True:
        if seconds >= said:
            while stretch_cache.waiting(urgent=True) or stretch_cache.waiting(urgent=False):
                time.sleep(0.01)  # what a rendering holds while it lasts does not count
            held = memory(os.getpid())
            first = held if first is None and seconds > 360 * hours else first
            growth = held - first if first is not None else float("nan")
            pace = seconds / (time.monotonic() - start)
            told = f"{held:8.1f} {growth:8.1f} {mixer.missing:8d} {pace:12.1f}"
            print(f"{seconds / 3600:6.2f} {told}", flush=True)
            if seconds >= 3600 * hours:
                break
            said = min(seconds + 180 * hours, 3600 * hours)
        if seconds >= change:
            _ask(scheduler, mixer, rng)
            change = seconds + rng.uniform(0.1, 8.0)
        scheduler.step()
        # In real time the stretch cache has the length of this block to deliver; wait for it here.
        while stretch_cache.waiting(urgent=True) or (
            stretch_cache.waiting(urgent=False) and rng.random() < 0.5
        ):
            time.sleep(0.001)
        scheduler.step()
        mixer.pull(4096)
        mixer.marks.clear()
        seconds += 4096 / RATE
    stretch_cache.close()


def _ask(scheduler: MixScheduler, mixer: Mixer, rng: np.random.Generator) -> None:
    word, segment, at = wish(rng)
    if word == "pause":
        mixer.commands.extend([Order("pause"), Order("resume")])
    elif word == "then":
        scheduler.then(segment, True)
    else:
        scheduler.play(segment, at, True, word == "change")


if __name__ == "__main__":
    main()
