"""The bar-pointer model on activations made by hand, where the right answer is known."""

import mir_eval
import numpy as np
import pytest

from rehearse.music.analysis.beatpath import Beats, follow
from rehearse.music.analysis.beats import free_stretches
from rehearse.music.analysis.features import FPS
from rehearse.music.analysis.network import INTERVALS, Activation

# Flat: every tempo is as likely as every other.
FLAT = float(-np.log(len(INTERVALS)))


def activation(beats, places, duration, *, free=(), height=4.0, extra=(), extra_height=0.0):
    """Log odds with a bump on every beat (and a lower one at `extra`), noise beneath."""
    rng = np.random.default_rng(3)
    frames = int(duration * FPS)
    at = np.arange(frames) / FPS
    beat = rng.normal(-4.0, 0.5, frames)
    for times, top in ((extra, extra_height), (beats, height)):
        for t in times:
            beat = np.maximum(beat, top + 4.5 - 4.5 * (1 + ((at - t) / 0.03) ** 2))
    first = np.full(frames, -2.0)
    for t, place in zip(beats, places, strict=True):
        if place == 1:
            first[np.abs(at - t) < 0.06] = 2.0
    loose = np.full(frames, -5.0)
    for start, end in free:
        loose[(at >= start) & (at < end)] = 5.0
    tempo = np.full((frames, len(INTERVALS)), FLAT, np.float32)
    return Activation(beat.astype("f4"), first.astype("f4"), loose.astype("f4"), tempo)


def grid(bpms, bar=4, start=0.5):
    """Beats of one interval after each tempo, and their places."""
    times = start + np.concatenate([[0.0], np.cumsum(60 / np.asarray(bpms, float))])
    return times, [k % bar + 1 for k in range(len(times))]


def agreement(found: Beats, times) -> float:
    return mir_eval.beat.f_measure(np.asarray(times), found.times, 0.03)


@pytest.mark.parametrize("bpm", [41, 50, 63, 77, 96, 120, 133, 151, 174, 200, 222, 239])
def test_steady_tempo(bpm):
    times, places = grid([bpm] * int(bpm / 2))
    found = follow(activation(times, places, times[-1] + 0.3))
    assert agreement(found, times) > 0.99
    assert found.places.tolist() == places


@pytest.mark.parametrize("ratio", [0.67, 0.8, 1.25, 1.5])
def test_tempo_step(ratio):
    times, places = grid([110] * 40 + [110 * ratio] * 40)
    found = follow(activation(times, places, times[-1] + 0.3))
    assert agreement(found, times) > 0.98


def test_tempo_ramp():
    times, places = grid(np.linspace(90, 160, 120))
    found = follow(activation(times, places, times[-1] + 0.3))
    assert agreement(found, times) > 0.98
    assert found.places.tolist() == places


def test_uneven_player():
    rng = np.random.default_rng(5)
    times, places = grid([100] * 100)
    played = times + rng.normal(0, 0.012, len(times))
    found = follow(activation(played, places, times[-1] + 0.3))
    assert agreement(found, played) > 0.98


@pytest.mark.parametrize("bar", [3, 4])
def test_bars(bar):
    times, places = grid([120] * 60, bar)
    assert follow(activation(times, places, times[-1] + 0.3)).places.tolist() == places


def test_bars_change_from_four_to_three():
    times = 0.5 + 0.5 * np.arange(81)
    places = [k % 4 + 1 for k in range(40)] + [k % 3 + 1 for k in range(41)]
    found = follow(activation(times, places, times[-1] + 0.3))
    assert np.mean(np.array(places) == found.places) > 0.95


def test_half_beats_are_no_beats():
    """Off-beats half as clear as the beats must not double the tempo."""
    times, places = grid([110] * 80)
    between = (times[:-1] + times[1:]) / 2
    heard = activation(times, places, times[-1] + 0.3, extra=between, extra_height=-2.0)
    assert agreement(follow(heard), times) > 0.99


def test_louder_second_beats_do_not_halve():
    """A back-beat: every other beat is far clearer, the rest still beats."""
    times, places = grid([130] * 80)
    heard = activation(times[1::2], places[1::2], times[-1] + 0.3, extra=times, extra_height=0.5)
    assert agreement(follow(heard), times) > 0.99


def test_dotted_figure_does_not_mislead():
    """Three against four: a lower bump on every three quarters of a beat."""
    times, places = grid([120] * 80)
    figure = np.arange(0.5, times[-1], 0.375)
    heard = activation(times, places, times[-1] + 0.3, extra=figure, extra_height=-1.0)
    assert agreement(follow(heard), times) > 0.99


def test_no_beats_in_free_time():
    times, places = grid([120] * 40)
    later = times + 40.0
    free = ((21.0, 40.0),)
    heard = activation([*times, *later], [*places, *places], 61.0, free=free)
    found = follow(heard)
    assert not np.any((found.times > 21.5) & (found.times < 39.9))
    assert agreement(found, np.concatenate([times, later])) > 0.97
    ((start, end),) = free_stretches(found, 61.0)
    assert start == pytest.approx(21.0, abs=0.6)
    assert end == pytest.approx(40.5, abs=0.6)


def test_nothing_but_free_time():
    found = follow(activation([], [], 30.0, free=((0.0, 30.0),)))
    assert len(found.times) == 0
    assert free_stretches(found, 30.0) == ((0.0, 30.0),)


def test_cut_in_the_middle_of_a_beat():
    """Another song begins at another tempo, off the grid of the first."""
    one, places = grid([124] * 50)
    two, _ = grid([97] * 40, start=one[-1] + 0.83)
    times = np.concatenate([one, two])
    found = follow(activation(times, places + grid([97] * 40)[1], times[-1] + 0.3))
    assert agreement(found, times) > 0.96


def test_pins_are_beats_exactly():
    times, places = grid([120] * 60)
    pins = (10.2137, 20.7011)
    found = follow(activation(times, places, times[-1] + 0.3), pins)
    for pin in pins:
        assert float(np.abs(found.times - pin).min()) == 0.0
    assert np.all(np.diff(found.times) > 0.1)


def test_a_pin_moves_its_neighbours():
    """The activation is off the beat throughout; around a pin the beats follow the pin."""
    times, places = grid([120] * 80)
    pin = float(times[40] + 0.25)
    found = follow(activation(times, places, times[-1] + 0.3), (pin,))
    near = found.times[np.abs(found.times - pin) < 2.6]
    assert pin in near
    assert len(near) in (10, 11)
    assert np.all(np.abs(np.diff(near) - 0.5) < 0.06)


def test_beats_rise_and_are_apart():
    rng = np.random.default_rng(8)
    noise = rng.normal(-1.0, 2.0, 3000).astype("f4")
    tempo = np.full((3000, len(INTERVALS)), FLAT, np.float32)
    found = follow(Activation(noise, noise, np.full(3000, -3.0, "f4"), tempo))
    assert np.all(np.diff(found.times) > 0.1)


@pytest.mark.parametrize("frames", [1, 2, 7, 20, 60])
def test_very_short(frames):
    flat = np.full(frames, -3.0, np.float32)
    tempo = np.full((frames, len(INTERVALS)), FLAT, np.float32)
    assert len(follow(Activation(flat, flat, flat, tempo)).times) <= 6


def test_long_songs_stay_within_their_numbers():
    """Scores grow with every beat; after some 800 clear ones they are lowered to fit 32 bits."""
    times, places = grid([150] * 149)
    heard = activation(times, places, 60.0)
    found = follow(heard)
    many = [np.tile(curve, 10) for curve in (heard.beat, heard.first, heard.free)]
    again = follow(Activation(*many, np.tile(heard.tempo, (10, 1))))
    assert len(found.times) == 149
    assert len(again.times) == pytest.approx(1490, abs=10)
