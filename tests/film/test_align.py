"""A film is laid on the music by its sound, or it is said that it cannot be."""

import csv
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr

from rehearse.film.align import RATIO, find_runs
from rehearse.film.sound import RATE, film_sound, music_sound
from rehearse.playback.stretch import stretch
from tests.helpers.films import RATE as SONG_RATE
from tests.helpers.films import music, write_song

KIT = Path(__file__).resolve().parents[3] / "shared" / "eval" / "film"


def quiet(fraction: float, text: str) -> None:
    pass


def at_8k(sound: np.ndarray) -> np.ndarray:
    return soxr.resample(sound, SONG_RATE, RATE).astype(np.float32)


def heard(sound: np.ndarray, seed: int = 3) -> np.ndarray:
    """As a phone across a room hears it: echoes and noise as loud as half the music."""
    rng = np.random.default_rng(seed)
    room = rng.standard_normal(3000) * np.exp(-np.arange(3000) / 600) * 0.15
    room[0] = 1.0
    wet = np.convolve(sound, room)[: len(sound)]
    return (wet + 0.5 * wet.std() * rng.standard_normal(len(wet))).astype(np.float32)


@pytest.fixture(scope="module")
def song() -> np.ndarray:
    return at_8k(music(40))


def test_a_film_of_a_part_is_found_to_the_millisecond_with_the_rate_of_its_clock(song):
    ppm = 40  # the phone's clock is slow: of 20 s it writes 0.8 ms too few
    part = song[10 * RATE : 34 * RATE]
    slow = np.interp(np.arange(0, len(part) - 1, 1 + ppm / 1e6), np.arange(len(part)), part)
    film = np.concatenate([np.zeros(2 * RATE), slow]).astype(np.float32)
    (run,) = find_runs(heard(film), 0.5, song, quiet)
    assert run.windows >= 4
    assert run.to_music(2.5) == pytest.approx(10.0, abs=0.001)
    assert run.to_music(22.5) == pytest.approx(30.0 + 20 * ppm / 1e6, abs=0.001)
    assert 1e6 * (run.rate - 1) == pytest.approx(ppm, abs=10)
    assert run.to_film(10.0) == pytest.approx(2.5, abs=0.001)


def test_another_song_silence_and_noise_are_refused(song):
    assert find_runs(heard(at_8k(music(24, seed=9))), 0.0, song, quiet) == []
    assert find_runs(np.zeros(20 * RATE, np.float32), 0.0, song, quiet) == []
    noise = np.random.default_rng(2).standard_normal(20 * RATE).astype(np.float32)
    assert find_runs(noise, 0.0, song, quiet) == []


def test_a_song_that_only_repeats_two_bars_is_refused():
    loop = np.tile(at_8k(music(4)), 10)
    assert find_runs(heard(loop[5 * RATE : 27 * RATE]), 0.0, loop, quiet) == []


def test_passages_that_are_alike_are_told_apart_where_every_window_agrees():
    """A chorus that comes again under another melody leaves a ratio of 1.5."""
    first, melody = at_8k(music(24, seed=5)), at_8k(music(24, seed=6))
    song = np.concatenate([first, 0.8 * first + 0.6 * melody])
    film = heard(first[2 * RATE : 22 * RATE])
    (run,) = find_runs(film, 0.0, song, quiet)
    assert run.ratio < RATIO
    assert run.to_music(0.0) == pytest.approx(2.0, abs=0.001)
    # Ten seconds of it are not enough to be certain.
    assert find_runs(film[: 10 * RATE], 0.0, song, quiet) == []


def test_two_runs_in_one_film_are_two(song):
    once = song[6 * RATE : 26 * RATE]
    film = np.concatenate([once, np.zeros(7 * RATE, np.float32), once])
    first, second = find_runs(heard(film), 0.0, song, quiet)
    assert first.to_music(0.0) == pytest.approx(6.0, abs=0.001)
    assert second.to_music(27.0) == pytest.approx(6.0, abs=0.001)


def test_music_at_practice_tempo_is_found_in_the_stretched_music_only(song):
    sound = music(26)
    slow = music_sound(stretch(np.column_stack([sound, sound]), SONG_RATE, 0.8), SONG_RATE)
    film = heard(slow[10 * RATE : 24 * RATE])
    (run,) = find_runs(film, 0.0, slow, quiet)
    assert run.to_music(0.0) == pytest.approx(10.0, abs=0.001)
    assert find_runs(film, 0.0, song, quiet) == []


def test_music_loudness_does_not_matter_but_too_short_a_film_does(song, tmp_path):
    assert len(find_runs(0.01 * heard(song), 0.0, song, quiet)) == 1
    assert find_runs(heard(song[: 5 * RATE]), 0.0, song, quiet) == []
    path = write_song(tmp_path / "part.wav", music(20))
    sound, begins = film_sound(path, quiet)
    assert begins == 0.0
    assert len(sound) == pytest.approx(20 * RATE, abs=2)


@pytest.mark.skipif(not KIT.is_dir(), reason="the films with known arrivals are not here")
def test_films_with_known_places_are_found_within_a_millisecond():
    """Truth: the kit's own table, of rendered films with room, speech and a wrong clock."""
    samples, rate = soundfile.read(KIT / "track.ogg", dtype="float32", always_2d=True)
    track = music_sound(samples, rate)
    rows = list(csv.DictReader((KIT / "truth.csv").read_text("utf-8").splitlines()))
    named = {row["file"]: row for row in rows}
    for row in (named["bench.mp4"], named["hard.mp4"], named["upright.mov"]):
        sound, begins = film_sound(KIT / "films" / row["file"], quiet)
        (run,) = find_runs(sound, begins, track, quiet)
        for second in (0.0, 24.0):
            rightly = float(row["film_zero_in_track_s"])
            rightly += second * (1 + float(row["rate_ppm"]) / 1e6)
            assert run.to_music(second) == pytest.approx(rightly, abs=0.001)
