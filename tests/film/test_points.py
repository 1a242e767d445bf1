"""Points of a body are followed through a movement that mathematics knows."""

import sys
import tomllib
from pathlib import Path

import numpy as np
import pytest

from rehearse.film import extra
from rehearse.ui.film.guide import Guide
from tests.film.test_arrival import FIFTH, speed
from tests.helpers.films import min_jerk

ROOT = Path(__file__).resolve().parents[2]
FPS, START, LENGTH, FAR = 30, 0.5, 0.5, 60.0
#: Where the body is: parts of the picture's width and height.
BOX = (0.1, 0.2, 0.75, 0.8)


def pictures(shake=0.0):
    """Two seconds of a speckled body that goes to the right, 400 × 224 pixels; a walker behind."""
    rng = np.random.default_rng(3)
    room = np.kron(rng.integers(60, 120, (40, 70)), np.ones((6, 6)))[:240, :420]
    body = np.kron(rng.integers(130, 255, (30, 15)), np.ones((4, 4)))
    walker = np.kron(rng.integers(0, 60, (8, 4)), np.ones((6, 6)))
    across = np.arange(420.0)
    for k in range(2 * FPS):
        second = k / FPS
        picture = room.copy()
        at = round(6 * second * 30)
        picture[4:52, at % 380 : at % 380 + 24] = walker
        x = 60 + FAR * min_jerk((second - START) / LENGTH)
        left = int(x)
        rows = [np.interp(across[left : left + 62] - x, np.arange(60), row) for row in body]
        picture[60:180, left : left + 62] = rows
        moved = round(shake * np.sin(9 * second))
        yield np.roll(picture, moved, axis=1)[8:232, 8:408].astype(np.uint8)


@pytest.mark.parametrize("shake", [0.0, 3.0])
def test_the_speed_is_that_of_the_body_whoever_walks_behind_and_however_the_phone_shakes(shake):
    """60 pixels in half a second by minimum jerk: 225 pixels a second at most."""
    pytest.importorskip("cv2", reason="the extra “film” is not installed")
    from rehearse.film.points import Album, speed_of_points

    album = Album()
    for picture in pictures(shake):
        album.add(picture)
    times = np.arange(2 * FPS) / FPS
    found = speed_of_points(album, times, BOX, (0.4, 1.4), 1.4)
    assert found is not None
    grid, fast = found
    true = speed(grid, START, LENGTH, FAR)
    assert np.abs(fast - true).max() < 30
    falling = np.flatnonzero((fast[:-1] >= 0.2 * true.max()) & (fast[1:] < 0.2 * true.max()))
    assert grid[falling[-1]] == pytest.approx(START + FIFTH * LENGTH, abs=0.02)


def test_where_nothing_can_be_followed_there_is_no_speed():
    pytest.importorskip("cv2", reason="the extra “film” is not installed")
    from rehearse.film.points import Album, speed_of_points

    album = Album()
    for _unused in range(40):
        album.add(np.full((224, 400), 90, np.uint8))
    times = np.arange(40) / FPS
    assert speed_of_points(album, times, BOX, (0.4, 1.0), 1.0) is None
    assert speed_of_points(album, times, BOX, (9.4, 9.9), 9.6) is None


def test_the_page_offers_the_line_that_installs_the_extra_until_it_is_there(qtbot, monkeypatch):
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["optional-dependencies"]["film"] == [extra.PACKAGE]
    monkeypatch.setattr(extra, "MODULE", "no_such_module")
    guide = Guide()
    qtbot.addWidget(guide)
    guide.resize(860, 250)
    guide.show()
    assert f'{sys.executable} -m pip install "{extra.PACKAGE}"' in guide.extra.text()
    assert "cannot be read" in guide.extra.text()
    assert guide.words.heightForWidth(guide.words.width()) <= guide.words.height()
    assert guide.extra.heightForWidth(guide.extra.width()) <= guide.extra.height()
    guide.show_run(playing=True, before=5)
    assert not guide.extra.isVisible()
    monkeypatch.setattr(sys, "frozen", True, raising=False)  # nothing can be installed into it
    assert extra.offer() == extra.LESS_SURE
    monkeypatch.setattr(extra, "MODULE", "json")
    guide.offer_extra()
    assert guide.extra.isHidden()
