"""The signal that the extra `film` adds: points of the body, followed through the way in.

Corners of the picture (Shi and Tomasi 1994) are chosen in the hold, where the athlete is, and
followed backward through the way in and forward through the hold by the method of Lucas and Kanade
over a pyramid (Bouguet 2000), as OpenCV has it; a point that does not come back to where it began
is let go. The speed is the mean over the points that travel: an arm counts by its outline, not by
its area, and whoever passes behind does not count at all, for no point of the hold is on them.

Constants were chosen on rendered films with known arrivals; no film of a person was among them.
"""

from __future__ import annotations

import functools
import importlib
import warnings
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter1d

from rehearse.film.arrival import GRID, Array
from rehearse.film.extra import MODULE

#: Pixels of the long side of the pictures that points are followed in, and how well they are kept.
SIDE, _QUALITY = 400, 95
#: Points chosen in a picture, at most; how strong the weakest may be; pixels between two of them.
_POINTS, _STRENGTH, _APART = 220, 0.005, 4
#: Pixels of the window, levels of the pyramid, steps and pixels at which a search ends.
_WINDOW, _LEVELS, _STEPS, _CLOSE = 13, 3, 20, 0.03
#: Pixels that a point may come back beside where it began, and that it must travel to count.
_BACK, _TRAVEL = 1.0, 3.0
#: Points that must travel, and the part of them that must still be seen for a speed.
_LEAST, _PART = 8, 0.08
#: Part of the picture that is added round the athlete; seconds before and after the middle of the
#: hold at which points are chosen.
_ROOM, _CHOSEN = 0.03, (-0.1, 0.1)
#: Seconds added before and after the part that is asked for; of the Gaussian over the speed.
_BEFORE, _AFTER, _SMOOTH = 0.35, 0.5, 0.015

Picture = npt.NDArray[np.uint8]
#: Left, upper, right and lower edge as parts of the picture's width and height.
_Box = tuple[float, float, float, float]


@functools.lru_cache(maxsize=1)
def _cv() -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # its own
        cv = importlib.import_module(MODULE)
    cv.setNumThreads(1)  # the sound has the other core
    return cv


class Album:
    """Pictures that points are followed in, kept as JPEG: raw ones of a run take 200 MB."""

    def __init__(self) -> None:
        self._kept: list[bytes] = []

    def __len__(self) -> int:
        return len(self._kept)

    def add(self, picture: Picture) -> None:
        """The next picture, grey, shape (height, width)."""
        how = [_cv().IMWRITE_JPEG_QUALITY, _QUALITY]
        self._kept.append(_cv().imencode(".jpg", picture, how)[1].tobytes())

    def __getitem__(self, k: int) -> Picture:
        packed = np.frombuffer(self._kept[k], np.uint8)
        picture: Picture = _cv().imdecode(packed, _cv().IMREAD_GRAYSCALE)
        return picture


def speed_of_points(
    album: Album, times: Array, box: _Box, part: tuple[float, float], hold: float
) -> tuple[Array, Array] | None:
    """How fast the points of the body move that are seen in the hold.

    Args:
        times: film seconds of the album's pictures. box: where the athlete is. part: film seconds
            that are asked for. hold: film second of the middle of the hold.

    Returns:
        Film seconds, `GRID` a second, and pixels a second; None: too few points can be followed.
    """
    first = int(np.searchsorted(times, part[0] - _BEFORE))
    last = min(len(times) - 1, int(np.searchsorted(times, part[1] + _AFTER)))
    pictures = [album[k] for k in range(first, last + 1)]
    times = times[first : last + 1]
    if len(pictures) < 10:
        return None
    places = []
    for away in _CHOSEN:
        at = min(len(times) - 1, int(np.searchsorted(times, hold + away)))
        points = _chosen(pictures[at], box)
        if len(points):
            places.append(_followed(pictures, at, points))
    if not places:
        return None
    at = int(np.abs(times - hold).argmin())
    return _speed(np.concatenate(places, axis=1), times, at)


def _chosen(picture: Picture, box: _Box) -> npt.NDArray[np.float32]:
    """Corners in the box, shape (n, 2), across and down."""
    height, width = picture.shape
    left, right = (int(width * x) for x in (max(0, box[0] - _ROOM), min(1, box[2] + _ROOM)))
    top, bottom = (int(height * y) for y in (max(0, box[1] - _ROOM), min(1, box[3] + _ROOM)))
    mask = np.zeros_like(picture)
    mask[top:bottom, left:right] = 255
    found = _cv().goodFeaturesToTrack(picture, _POINTS, _STRENGTH, _APART, mask=mask, blockSize=5)
    return np.zeros((0, 2), np.float32) if found is None else found[:, 0]


def _followed(
    pictures: list[Picture], at: int, points: npt.NDArray[np.float32]
) -> npt.NDArray[np.float32]:
    """Where points of picture `at` are in each, shape (pictures, n, 2); nan where not seen."""
    places = np.full((len(pictures), len(points), 2), np.nan, np.float32)
    places[at] = points
    for step, stop in ((-1, -1), (1, len(pictures))):
        here, seen = points, np.arange(len(points))
        for k in range(at, stop - step, step):
            there, kept = _next(pictures[k], pictures[k + step], here)
            here, seen = there[kept], seen[kept]
            if not len(seen):
                break
            places[k + step, seen] = here
    return places


def _next(
    one: Picture, other: Picture, points: npt.NDArray[np.float32]
) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.bool_]]:
    """Where points of one picture are in another, and which of them are found there for certain."""
    cv = _cv()
    ends = (cv.TERM_CRITERIA_COUNT + cv.TERM_CRITERIA_EPS, _STEPS, _CLOSE)
    how = {"winSize": (_WINDOW, _WINDOW), "maxLevel": _LEVELS, "criteria": ends}
    there, found, _error = cv.calcOpticalFlowPyrLK(one, other, points[:, None], None, **how)
    back, returned, _error = cv.calcOpticalFlowPyrLK(other, one, there, None, **how)
    there = there[:, 0]
    away = np.hypot(*(back[:, 0] - points).T)
    room = np.array(one.shape[::-1]) - 3
    inside = ((there > 2) & (there < room)).all(axis=1)
    return there, (found[:, 0] == 1) & (returned[:, 0] == 1) & (away < _BACK) & inside


def _speed(places: npt.NDArray[np.float32], times: Array, at: int) -> tuple[Array, Array] | None:
    steps = np.diff(places, axis=0)
    camera = _camera(steps)
    drift = np.concatenate([np.zeros((1, 2)), np.cumsum(camera, axis=0)])
    still = places - drift[:, None]
    away = np.hypot(*np.moveaxis(still - still[at], 2, 0))
    travels = np.nan_to_num(away).max(axis=0) > _TRAVEL
    if travels.sum() < _LEAST:
        return None
    moved = np.hypot(*np.moveaxis((steps - camera[:, None])[:, travels], 2, 0))
    seen = np.isfinite(moved).sum(axis=1)
    enough = seen > _PART * moved.shape[1]
    if enough.sum() < 10:
        return None
    middles = ((times[1:] + times[:-1]) / 2)[enough]
    speeds = (np.nansum(moved, axis=1)[enough] / seen[enough]) / np.diff(times)[enough]
    grid = np.arange(times[0], times[-1], 1 / GRID)
    smooth: Array = gaussian_filter1d(np.interp(grid, middles, speeds), _SMOOTH * GRID)
    return grid, smooth


def _camera(steps: npt.NDArray[np.float32]) -> Array:
    """The camera's own step between two pictures: the median of the points that move least."""
    paths = np.nansum(np.hypot(*np.moveaxis(steps, 2, 0)), axis=0)
    usual = float(np.median(paths))
    slow = steps[:, paths <= (usual if usual < 4 else np.percentile(paths, 20))]
    camera = np.zeros((len(steps), 2))
    known = np.isfinite(slow[..., 0]).any(axis=1)
    camera[known] = np.nanmedian(slow[known], axis=1)
    return camera
