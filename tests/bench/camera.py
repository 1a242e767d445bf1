"""Sound while the own camera films: `python -m tests.bench.camera FILM [--seconds S]`.

The player plays on a real sound server, in turn without and with a recorder at work that is fed
FILM in a camera's place: underruns of the device, and music that was not ready in time.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from pathlib import Path

import numpy as np

from rehearse.film.camera_client import CameraClient
from rehearse.film.camera_messages import Began, Opened
from rehearse.film.camera_source import STAND_IN
from rehearse.music.track import Track
from rehearse.playback.player import Player
from rehearse.playback.segment import Segment
from tests.helpers.sound_server import SoundServer


def main() -> int:
    """Measure in turn, twice each, and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("film", type=Path)
    parser.add_argument("--seconds", type=float, default=15.0)
    asked = parser.parse_args()
    os.environ[STAND_IN] = str(asked.film)
    sound = 0.1 * np.sin(np.arange(44_100 * 30) / 20).astype(np.float32)
    track = Track(np.repeat(sound[:, None], 2, axis=1), 44_100, "bench")
    with SoundServer() as server:
        os.environ.update(server.environment)
        for films in (False, True, False, True):
            print(_played(track, asked.seconds, films=films), flush=True)
    return 0


def _played(track: Track, seconds: float, *, films: bool) -> str:
    player, client = Player(), None
    player.load(track)
    player.play(Segment("bench", 0.0, 29.0))
    with tempfile.TemporaryDirectory() as folder:
        if films:
            client = CameraClient()
            client.start()
            _until(client, Opened)
            client.begin(Path(folder), sound=True)
            _until(client, Began)
        _wait(player, 3.0)
        before = player.underruns, player.missing
        _wait(player, seconds)
        lost = player.underruns - before[0], player.missing - before[1]
        if client is not None:
            client.close()
        player.close()
    load = os.getloadavg()[0]
    what = "filming" if films else "alone"
    return (
        f"{what:8} {seconds:.0f} s: {lost[0]} underruns, {lost[1]} frames missing, load {load:.1f}"
    )


def _wait(player: Player, seconds: float) -> None:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        player.poll()
        time.sleep(0.02)


def _until(client: CameraClient, kind: type) -> None:
    end = time.monotonic() + 60
    while time.monotonic() < end:
        if any(isinstance(one, kind) for one in client.poll()):
            return
        time.sleep(0.02)
    raise SystemExit("the recorder does not answer")


if __name__ == "__main__":
    raise SystemExit(main())
