"""The end of the fast part of a movement is found where mathematics says it is."""

import numpy as np
import pytest

from rehearse.film.arrival import GRID, stops, window

#: A minimum-jerk movement falls through a fifth of its peak speed after this part of its length:
#: 16 x²(1 - x)² = 0.2, solved for the later x (speed 30 x²(1 - x)² / T; Flash and Hogan 1985).
FIFTH = 0.5 + np.sqrt(0.25 - np.sqrt(0.2) / 4)


def speed(times: np.ndarray, start: float, length: float, size: float = 1.0) -> np.ndarray:
    x = np.clip((times - start) / length, 0, 1)
    return size * 30 * x**2 * (1 - x) ** 2 / length


@pytest.fixture
def times() -> np.ndarray:
    return np.arange(0, 6, 1 / GRID)


def best(found):
    return max(found, key=lambda stop: stop.score)


def test_the_level_is_where_mathematics_puts_it():
    assert pytest.approx(0.871, abs=0.001) == FIFTH


@pytest.mark.parametrize("length", [0.3, 0.5, 0.9])
def test_a_reach_arrives_where_a_fifth_of_its_peak_is_left(times, length):
    stop = best(stops(times, speed(times, 2.5, length), 3.0, *window(3.0, None, None)))
    assert stop.time == pytest.approx(2.5 + FIFTH * length, abs=0.012)
    assert stop.rest < 0.05


def test_settling_after_an_overshoot_does_not_move_it(times):
    moved = speed(times, 2.5, 0.4) + speed(times, 2.92, 0.12, 0.04)
    stop = best(stops(times, moved, 3.0, *window(3.0, None, None)))
    assert stop.time == pytest.approx(2.5 + FIFTH * 0.4, abs=0.02)


def test_getting_small_half_a_second_before_is_not_the_arrival(times):
    moved = speed(times, 1.9, 0.5) + speed(times, 2.65, 0.35)
    stop = best(stops(times, moved, 3.0, *window(3.0, None, None)))
    assert stop.time == pytest.approx(2.65 + FIFTH * 0.35, abs=0.02)


def test_a_third_of_a_second_late_is_found_late(times):
    stop = best(stops(times, speed(times, 2.9, 0.5), 3.0, *window(3.0, None, None)))
    assert stop.time - 3.0 == pytest.approx(2.9 + FIFTH * 0.5 - 3.0, abs=0.012)


def test_nothing_is_found_where_nothing_moves_or_no_time_is(times):
    assert stops(times, np.zeros_like(times), 3.0, *window(3.0, None, None)) == []
    assert stops(times, speed(times, 2.5, 0.5), 30.0, *window(30.0, None, None)) == []


def test_hits_close_together_still_have_a_window_each():
    start, end = window(3.0, 2.9, 3.1)
    assert start < 3.0 < end
