"""Songs as the commands read them: in a process of its own, which can be ended.

The window reads songs in its workers. A command has no window to stop it by, and a decoder that
crashes or hangs over a damaged file must take neither the terminal nor the work so far with it.
"""

from __future__ import annotations

from pathlib import Path

from rehearse.files.fault import Fault
from rehearse.files.media import SONG
from rehearse.music.beatmap import BeatMap
from rehearse.music.decode import load_track
from rehearse.music.mapfile import check_track
from rehearse.music.take import Report
from rehearse.music.track import Track
from rehearse.work import child
from rehearse.work.pool import Workers

#: Seconds after which the process is ended; the door itself gives up a little before.
_PATIENCE = SONG.work + 10.0


def load_apart(path: Path, report: Report | None = None) -> Track:
    """As `load_track`, in a process of its own; in a worker process, right there.

    Raises:
        Fault: as `load_track`, or the process had to be ended.
    """
    if child.is_one():
        return load_track(path, report)
    workers = Workers(1)
    try:
        return workers.submit(load_track, path, on_progress=report).result(_PATIENCE)
    except TimeoutError as error:
        raise Fault("takes too long to read", where=path.name, do="save it anew") from error
    finally:
        workers.close()


def load_mapped(path: Path, beatmap: BeatMap, report: Report | None = None) -> Track:
    """The song of a beat map.

    Raises:
        Fault: as `load_apart`, or the file holds another song than the one that was mapped.
    """
    track = load_apart(path, report)
    if fault := check_track(beatmap, track):
        raise fault
    return track
