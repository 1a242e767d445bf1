"""How long until a wish is heard: tempo, section, jump, count-in, on a real sound server.

    python -m tests.bench.response [--changes 100] [--hogs 0]

Each wish is made at a random moment of a playing song; the time until it is audible is taken from
the player's clock (which the recorded speaker confirms within 2 ms, see the playback tests).
`near`: the tempo step next to the present one, prepared in advance; `far`: any other tempo, whose
music must be stretched first.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import time

import numpy as np

from rehearse.playback.player import Player
from rehearse.playback.segment import Segment
from tests.helpers.playback_tools import RATE, made
from tests.helpers.sound_server import SoundServer
from tests.helpers.stretch_measures import drums


def main() -> None:
    """Measure and print a table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--changes", type=int, default=60)
    parser.add_argument("--hogs", type=int, default=0)
    options = parser.parse_args()
    context = multiprocessing.get_context("fork")
    hogs = [context.Process(target=_burn, daemon=True) for _ in range(options.hogs)]
    for hog in hogs:
        hog.start()
    rng = np.random.default_rng(1)
    with SoundServer(RATE) as server, server.recording():
        os.environ.update(server.environment)
        player = Player()
        player.load(made(drums(1, 90.0)[0]))  # with attacks to repair, three a second
        waits = measure(player, rng, options.changes)
        print(f"{'change':10} {'n':>4} {'median':>7} {'p95':>7} {'max ms':>7}")
        for word, values in waits.items():
            told = [np.median(values), np.percentile(values, 95), max(values)]
            print(f"{word:10} {len(values):4d} " + " ".join(f"{1000 * v:7.0f}" for v in told))
        print(f"underruns {player.underruns}, missing frames {player.missing}")
        player.close()
    for hog in hogs:
        hog.kill()


def measure(player: Player, rng: np.random.Generator, changes: int) -> dict[str, list[float]]:
    """Seconds until heard, by kind of change."""
    tempo, turn = 1.0, 0
    waits: dict[str, list[float]] = {w: [] for w in ("near", "far", "section", "jump", "count-in")}
    player.play(Segment("0", 5.0, 80.0))
    _wait(player, "0")
    words = rng.permutation(list(waits) * (changes // len(waits) + 1))[:changes]
    for turn, word in enumerate(words, 1):
        time.sleep(rng.uniform(0.2, 1.5))
        player.poll()
        key, start = str(turn), float(rng.uniform(1, 60))
        if word == "near":
            tempo = round(tempo - 0.05 if tempo > 0.6 else tempo + 0.05, 2)
        elif word == "far":
            other = [t for t in (1.0, 0.9, 0.8, 0.7, 0.6, 0.5) if abs(t - tempo) > 0.06]
            tempo = float(rng.choice(other))
        asked = time.perf_counter()
        if word in ("near", "far"):
            player.change(Segment(key, 1.0, 85.0, tempo))
        elif word == "jump":
            player.play(Segment(key, 1.0, 85.0, tempo), at=start)
        else:
            lead = 2.0 if word == "count-in" else 0.0
            player.play(Segment(key, start, start + 12.0, tempo, lead))
        waits[word].append(_wait(player, key) - asked)
    return waits


def _wait(player: Player, key: str) -> float:
    end = time.perf_counter() + 10
    while player.now().key != key:
        if time.perf_counter() > end:
            raise SystemExit(f"a change was never heard: {key}, {player.now()}")
        player.poll()
        time.sleep(0.001)
    return time.perf_counter()


def _burn() -> None:
    while True:
        sum(range(10_000))


if __name__ == "__main__":
    main()
