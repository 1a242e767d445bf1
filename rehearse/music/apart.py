"""Songs as the commands read and map them: in a process of its own, which can be ended.

The window reads songs in its workers. A command has no window to stop it by, and a decoder that
crashes or hangs over a damaged file must take neither the terminal nor the work so far with it.
Besides, a worker computes on one thread: with more of them sums come in another order, and the
same song could get another map by the command than by the window.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from rehearse.files.media import SONG
from rehearse.files.user_error import UserError
from rehearse.music.beatmap import BeatMap
from rehearse.music.decode import load_track
from rehearse.music.mapfile import check_track
from rehearse.music.sample_collector import Report
from rehearse.music.track import Track
from rehearse.work import child
from rehearse.work.pool import Workers

T = TypeVar("T")

#: Seconds after which the process is ended: reading, for which the door itself gives up a little
#: before, and mapping half an hour of music on a slow machine.
READING, MAPPING = SONG.work + 10.0, 1800.0


def load_apart(path: Path, report: Report | None = None) -> Track:
    """As `load_track`, in a process of its own; in a worker process, right there.

    Raises:
        UserError: as `load_track`, or the process had to be ended.
    """
    return _apart(load_track, path, report, READING)


def map_apart(path: Path, report: Report | None = None) -> BeatMap:
    """The beat map of a song, as the window makes it.

    Raises:
        UserError: as `load_apart`.
    """
    return _apart(_map, path, report, MAPPING)


def _map(path: Path, report: Report) -> BeatMap:
    from rehearse.music.analysis.analyse import analyse

    track = load_track(path, lambda done, text: report(0.2 * done, "Reading the song"))
    return analyse(track, lambda done, text: report(0.2 + 0.8 * done, text))


def _apart(
    function: Callable[[Path, Report], T], path: Path, report: Report | None, patience: float
) -> T:
    if child.is_one():
        return function(path, report or (lambda fraction, text: None))
    workers = Workers(1)
    try:
        return workers.submit(function, path, on_progress=report).result(patience)
    except TimeoutError as error:
        raise UserError("takes too long to read", where=path.name, do="save it again") from error
    finally:
        workers.close()


def load_mapped(path: Path, beatmap: BeatMap, report: Report | None = None) -> Track:
    """The song of a beat map.

    Raises:
        UserError: as `load_apart`, or the file holds another song than the one that was mapped.
    """
    track = load_apart(path, report)
    if fault := check_track(beatmap, track):
        raise fault
    return track
