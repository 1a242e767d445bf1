"""A rehearsal of its own that says what happens in it, a line each time something changes.

It is started by `test_freeze`, which stops and continues its processes. When the sound is lost
it presses the one key that goes on; it ends after one complete pass.
"""

import sys
import time
from pathlib import Path

import numpy as np

from rehearse.cueing.cues import CueSheet
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Length, parse_position
from rehearse.music.track import Track, hash_samples
from rehearse.playback.player import Player
from rehearse.practice.drill import Drill, fixed
from rehearse.practice.logbook import Logbook
from rehearse.practice.scope import section_scope
from rehearse.routine.model import Placed, Routine, Section
from rehearse.routine.poses import load_catalogue
from rehearse.session.rehearsal import Rehearsal
from rehearse.session.rehearsal_context import RehearsalContext

RATE = 44_100


def context():
    """Three seconds to drill, with two poses in them."""
    wave = np.sin(np.arange(12 * RATE) / 30).astype(np.float32) / 8
    samples = np.repeat(wave[:, None], 2, axis=1)
    track = Track(samples, RATE, hash_samples(samples, RATE))
    beats = tuple(0.25 * k for k in range(48))
    beatmap = BeatMap(track.content_hash, 12.0, beats, tuple(k % 4 + 1 for k in range(48)))
    poses = tuple(
        Placed(f"pose{k}", name, parse_position(f"{k + 1}:3"), Length(2), Length(1))
        for k, name in enumerate(("vacuum", "crucifix"))
    )
    section = Section("s1", "First", parse_position("1:1"), parse_position("2:5"))
    routine = Routine("t", "t.wav", poses=poses, sections=(section,))
    return RehearsalContext(track, routine, CueSheet.compile(routine, beatmap, load_catalogue()))


def say(*words):
    print(f"{time.monotonic():.3f}", *words, flush=True)


def main(path, silent):
    made = context()
    player = Player(silent=silent)
    player.load(made.track)
    with Logbook(path) as book:
        rehearsal = Rehearsal(player, on_error=lambda sentence: say("told", sentence))
        rehearsal.open(made, book)
        scope = section_scope(made.routine, made.sheet.beatmap, "s1")
        say("playback", player._child.process.pid)
        rehearsal.start(Drill(scope, fixed(100), count_in=1, rest=Length(0.5, in_counts=False)))
        state = ""
        while not any(p.complete for p in book.history()):
            view = rehearsal.tick()
            if view.state != state:
                state = view.state
                say("state", state)
                if state == "paused":
                    rehearsal.resume()
            if view.state == "music":
                say("heard", f"{view.heard:.3f}")
            time.sleep(0.02)
        rehearsal.stop()
    say("end")
    player.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2:] == ["silent"])
