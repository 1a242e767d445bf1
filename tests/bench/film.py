"""Early or late at each hit of a filmed run, as films with known arrivals are scored.

usage: python -m tests.bench.film FILM TRACK HITS [--core]

HITS is a CSV: pose_index,pose,hit_track_s. Prints pose_index,offset_ms,plus_minus_ms, both empty
where there is no reading, and what was used and what it took to standard error. `--core` reads
without the extra.
"""

from __future__ import annotations

import csv
import resource
import sys
import time
from pathlib import Path

from rehearse.film import film_reading
from rehearse.film.film_reading import FilmRequest
from rehearse.film.take import kneeling
from rehearse.music.position import Seconds
from rehearse.routine.model import Placed, Routine


def main() -> int:
    film, track, hits = (Path(name) for name in sys.argv[1:4])
    with hits.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    times = tuple(float(row["hit_track_s"]) for row in rows)
    poses = tuple(
        Placed(row["pose_index"], row["pose"], Seconds(time))
        for row, time in zip(rows, times, strict=True)
    )
    wanted = FilmRequest(track, times, kneels=kneeling(Routine("", "", poses=poses)))
    begun = time.monotonic(), time.process_time()
    if "--core" in sys.argv[4:]:
        film_reading.installed = lambda: False
    reading = film_reading.read_film(film, wanted, lambda fraction, text: None)
    for row, offset in zip(rows, reading.offsets, strict=True):
        late, doubt = offset.early_or_late, offset.doubt
        if reading.refused or late is None or doubt is None:
            print(f"{row['pose_index']},,")
        else:
            print(f"{row['pose_index']},{1000 * late:.1f},{1000 * doubt:.1f}")
    wall, used = time.monotonic() - begun[0], time.process_time() - begun[1]
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    told = reading.refused or "read"
    used_is = "points followed by the extra film" if reading.followed else "the core alone"
    print(
        f"{used_is}; {told}; {wall:.0f} s, {used:.0f} s of processor, {most:.0f} MB",
        file=sys.stderr,
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
