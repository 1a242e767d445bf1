"""Which hits get a number: by speeds and pictures made by formula."""

import numpy as np
import pytest

from rehearse.film.arrival import GRID, stops
from rehearse.film.body import MAIN, VOICES, Body
from rehearse.film.movement import Motion
from rehearse.film.offsets import EXPOSURE, Unread, _way, read_offsets
from tests.film.test_arrival import FIFTH, speed

HITS = (3.0, 6.0, 9.0)
WAY = 0.5
#: Starts of the ways that arrive at the hits.
STARTS = tuple(hit - FIFTH * WAY for hit in HITS)


def read(moves, shown, unrest=0.0):
    """The offset at the second hit.

    Args:
        moves: start, length and size of each movement in the signals. shown: starts of the ways
            in the pictures. unrest: of the body after the second hit, as a part of the peak.
    """
    times = np.arange(0, 12, 1 / GRID)
    body = np.sum([speed(times, *move) for move in moves], axis=0)
    after = (times > HITS[1] + 0.05) & (times < HITS[1] + 1.2)
    body += unrest * speed(times, 1, WAY).max() * after * np.abs(np.sin(2 * np.pi * 4 * times))
    pictures = np.arange(0, 12, 1 / 30)
    chance = np.random.default_rng(1)
    poses = chance.uniform(60, 200, (len(shown) + 1, 20, 30))
    seen = np.repeat(poses[:1], len(pictures), 0)
    for k, start in enumerate(shown):
        x = np.clip((pictures - start) / WAY, 0, 1)
        part = (10 * x**3 - 15 * x**4 + 6 * x**5)[:, None, None]
        seen += part * (poses[k + 1] - poses[k])
    seen += chance.normal(0, 2, seen.shape)
    nothing = np.zeros((len(pictures) - 1, 12, 20), np.float32)
    motion = Motion(pictures, nothing, nothing, nothing, nothing[..., :2, 0], seen.astype(np.uint8))
    cells = np.ones((12, 20), bool)
    return read_offsets(motion, Body(times, dict.fromkeys(VOICES, body), cells), HITS)[1]


def struck(*, but_second=()):
    others = [(start, WAY, 1.0) for k, start in enumerate(STARTS) if k != 1 or not but_second]
    return [*others, *but_second]


def test_a_way_that_slows_down_and_goes_on_is_one_way():
    """Of its last part alone, a tenth of the usual way, it would have hardly moved."""
    times = np.arange(0, 6, 1 / GRID)
    body = speed(times, 2.0, 0.45, 0.9) + speed(times, 2.4, 0.25, 0.1)
    parts = sorted(stops(times, body, 2.6, 1.0, 3.5), key=lambda stop: stop.time)
    assert len(parts) == 2
    assert parts[1].area < 0.12
    assert _way({MAIN: parts}, {MAIN: parts[1]}) == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize(("shown", "why"), [(STARTS, None), (STARTS[::2], Unread.RESTLESS)])
def test_unrest_is_no_reason_where_the_pictures_show_the_way(shown, why):
    offset = read(struck(), shown, unrest=0.5)
    assert offset.why is why


def test_what_moves_when_the_body_is_there_already_is_no_way_in():
    early = STARTS[1] - 0.35
    parts = [(early, WAY, 1.0), (HITS[1] - 0.1, 0.2, 0.32)]
    offset = read(struck(but_second=parts), (STARTS[0], early, STARTS[2]))
    assert offset.early_or_late == pytest.approx(-0.35 + EXPOSURE, abs=0.05)
