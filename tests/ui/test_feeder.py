"""Pictures of a film that plays lie ready, each is given once, and late ones are left out."""

import time

import pytest

from rehearse.ui.film.feeder import AHEAD, Feeder
from tests.helpers.films import music, write_film

FPS = 25


@pytest.fixture(scope="module")
def film(tmp_path_factory):
    path = tmp_path_factory.mktemp("film") / "film.mp4"
    return write_film(path, music(3), [(0.5, 0.5)], size=(64, 48), fps=FPS)


@pytest.fixture
def feeder(film, qtbot):
    made = Feeder(film)
    yield made
    made.close()


def played(feeder, second, width=64):
    """What is given once the thread has worked ahead; the clock on the wall plays no part."""
    found = feeder.play(second, width, 0.0)
    until = time.monotonic() + 20
    while len(feeder._ready) < AHEAD and time.monotonic() < until:
        time.sleep(0.002)
    return feeder.play(second, width, 0.0) or found


def test_each_picture_is_given_once_in_its_turn(feeder):
    """A look every 16 ms at 25 pictures a second: every second or third look has a new one."""
    own = []
    for k in range(30):
        if (found := played(feeder, 0.5 + 0.016 * k)) is not None:
            own.append(round(found[0] * FPS))
            assert found[0] <= 0.5 + 0.016 * k + 0.001
            assert (found[1].width(), found[1].height()) == (64, 48)
    assert own == sorted(set(own))
    assert set(range(14, 24)) <= set(own)


def test_what_comes_too_late_is_left_out_and_a_step_back_is_followed(feeder):
    assert played(feeder, 0.5) is not None
    feeder.play(0.9, 64, 0.0)  # the window was busy for 0.4 s
    assert played(feeder, 0.92)[0] == pytest.approx(0.92, abs=0.001)
    assert played(feeder, 0.2)[0] == pytest.approx(0.2, abs=0.001)  # the loop begins again


def test_a_picture_that_takes_long_is_made_for_the_moment_at_which_it_is_there(feeder):
    """It took 0.2 s lately: what is right at 0.5 s would be shown at 0.7 s."""
    feeder._takes = 0.2
    assert feeder.play(0.5, 64, 1.0) is None
    until = time.monotonic() + 20
    while not feeder._ready and time.monotonic() < until:
        time.sleep(0.002)
    assert feeder._ready[0][0] > 0.7 - 1.5 / FPS


def test_a_width_that_differs_by_rounding_makes_nothing_anew(feeder):
    played(feeder, 0.5, 64)
    ready = list(feeder._ready)
    feeder.play(0.5, 62, 0.0)
    assert list(feeder._ready) == ready
    feeder.play(0.5, 32, 0.0)
    assert list(feeder._ready) != ready


def test_a_wish_ends_the_playing(feeder, qtbot):
    played(feeder, 0.5)
    with qtbot.waitSignal(feeder.shown, timeout=20_000) as shown:
        feeder.ask(1.0, 64)
    assert shown.args[0] == pytest.approx(1.0, abs=0.001)
    assert not feeder._ready
