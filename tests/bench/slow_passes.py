"""Long slow passes one after another, as a rehearsal plays them: how much memory they leave.

    python -m tests.bench.slow_passes [--passes 40] [--tempo 0.5]

Scheduler, mixer and stretch cache of the playback process run here without a device, as fast as
they can, on a made track of 75 s. Memory is what this process holds for itself (Pss). Exit status 1
when it has grown after the second pass by more than what the stretch cache may keep and 30 MB.
"""

from __future__ import annotations

import argparse
import gc
import os
import sys
import time

from rehearse.playback.mix import Mixer
from rehearse.playback.mix_scheduler import MixScheduler
from rehearse.playback.segment import Segment
from rehearse.playback.stretch_cache import KEPT, StretchCache
from rehearse.work.shared import Shared
from tests.bench.soak import memory
from tests.helpers.playback_tools import RATE, clicking

LENGTH, BLOCK = 75.0, 8192
#: Megabytes over what the stretch cache may keep: the pass that is heard and the one prepared.
ROOM = 30.0


def main() -> int:
    """Play the passes and print what is held after each."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--passes", type=int, default=40)
    parser.add_argument("--tempo", type=float, default=0.5)
    options = parser.parse_args()
    gc.disable()  # as in the playback process
    shared = Shared(clicking(76, seed=0)[0].samples)
    stretch_cache, mixer = StretchCache(shared, RATE, lambda: None), Mixer(RATE)
    scheduler = MixScheduler(mixer, stretch_cache, shared.array)
    held: list[float] = []
    scheduler.play(Segment("0", 0.5, LENGTH, options.tempo), None, False, False)
    for number in range(1, options.passes + 1):
        # Steps of tempo, so that the stretch cache cannot keep the music of all of them.
        tempo = round(options.tempo + 0.05 * (number % 4), 2)
        scheduler.then(Segment(str(number), 0.5, LENGTH, tempo), False)
        while mixer.place is None or mixer.place[0].span.key != str(number):
            scheduler.step()
            while stretch_cache.waiting(urgent=True):
                time.sleep(0.001)
            scheduler.step()
            mixer.pull(BLOCK)
            mixer.marks.clear()
        held.append(memory(os.getpid()))
        print(f"pass {number}: {held[-1]:.0f} MB", flush=True)
    stretch_cache.close()
    growth = max(held) - held[min(1, len(held) - 1)]
    bound = KEPT / 1e6 + ROOM
    print(f"growth {growth:.0f} MB, bound {bound:.0f} MB, missing frames {mixer.missing}")
    return int(growth > bound or mixer.missing > 0)


if __name__ == "__main__":
    sys.exit(main())
