"""Songs as the commands read and map them: in a process of its own, which can be ended.

The window reads songs in its workers. A command has no window to stop it by, and a decoder that
crashes or hangs over a damaged file must take neither the terminal nor the work so far with it.
Besides, a worker computes on one thread: with more of them sums come in another order, and the
same song could get another map by the command than by the window.
"""

from __future__ import annotations

from pathlib import Path

from rehearse.files.media import SONG
from rehearse.music.analysis.analyse import analyse
from rehearse.music.beatmap import BeatMap
from rehearse.music.decode import load_track
from rehearse.music.mapfile import check_track
from rehearse.music.track import Track
from rehearse.words import _
from rehearse.work.pool import run_apart
from rehearse.work.progress import Report, between

#: Seconds after which the process is ended: reading, for which the door itself gives up a little
#: before, and mapping half an hour of music on a slow machine.
READING, MAPPING = SONG.work + 10.0, 1800.0


def load_apart(path: Path, report: Report | None = None) -> Track:
    """As `load_track`, in a process of its own; in a worker process, right there.

    Raises:
        UserError: as `load_track`, or the process had to be ended.
    """
    return run_apart(load_track, path, where=path.name, report=report, patience=READING)


def map_apart(path: Path, report: Report | None = None) -> BeatMap:
    """The beat map of a song, as the window makes it.

    Raises:
        UserError: as `load_apart`.
    """
    return run_apart(_map, path, where=path.name, report=report, patience=MAPPING)


def _map(path: Path, report: Report) -> BeatMap:
    track = load_track(path, between(report, 0.0, 0.2, _("Reading the song")))
    return analyse(track, between(report, 0.2, 1.0))


def load_mapped(path: Path, beatmap: BeatMap, report: Report | None = None) -> Track:
    """The song of a beat map.

    Raises:
        UserError: as `load_apart`, or the file holds another song than the one that was mapped.
    """
    track = load_apart(path, report)
    if error := check_track(beatmap, track):
        raise error
    return track
