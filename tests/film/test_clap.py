"""The clap before a filmed run is found in a room, and where nothing was played it is not."""

import time
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from rehearse.cueing.clap import clap, clap_before
from rehearse.film.clap_search import find_clap, hands_heard
from rehearse.film.film_reading import ClapOnly, FilmRequest, place
from rehearse.film.skew import doubt_of, skew_of, without_skew
from rehearse.film.sound import RATE
from rehearse.music.beatmap import BeatMap
from rehearse.practice.takelog import PoseRead, TakeDone
from tests.film.test_align import at_8k, heard, quiet
from tests.helpers.films import RATE as SONG_RATE
from tests.helpers.films import music, write_film, write_song


def test_it_is_on_the_count_before_the_count_in_at_every_tempo():
    """120 BPM: a count is 0.500 s; "clap, 5, 6, 7, 8" are five counts before the music."""
    beatmap = BeatMap("0" * 64, 20.0, tuple(4 + 0.5 * k for k in range(30)), ())
    assert clap_before(beatmap, 4.0) == pytest.approx(2.5)
    assert clap_before(beatmap, 4.0, 0.5) == pytest.approx(5.0)


def test_the_clap_is_six_sharp_claps_in_a_third_of_a_second_where_a_phone_hears_them():
    rate = RATE
    sound = clap(rate)

    def power(start, end):
        return float((sound[round(start * rate) : round(end * rate)] ** 2).mean())

    begins = (0.0, 0.047, 0.081, 0.138, 0.171, 0.236)
    assert abs(sound[: rate // 1000]).max() > 0.1
    assert all(power(at, at + 0.01) > 30 * power(at - 0.01, at) for at in begins[1:])
    assert all(power(at, at + 0.01) > 0.02 for at in begins)
    assert (len(sound) / rate, abs(sound).max()) == pytest.approx((0.332, 0.7), abs=1e-3)
    assert abs(sound[-rate // 500 :]).max() < 0.01
    lines, hertz = np.abs(np.fft.rfft(sound)) ** 2, np.fft.rfftfreq(len(sound), 1 / rate)
    assert lines[(hertz > 650) & (hertz < 3400)].sum() > 0.98 * lines.sum()


def test_the_clap_is_the_same_at_every_rate_and_made_at_once():
    """It is made as a run begins, in the window: the order of magnitude only (4 ms, not 2 s)."""
    started = time.process_time()
    sound = clap.__wrapped__(48000)
    assert time.process_time() - started < 0.5
    lines, fewer = np.fft.rfft(sound)[:1300], np.fft.rfft(clap(8000))[:1300]
    assert abs(np.vdot(lines, fewer)) > 0.99 * np.linalg.norm(lines) * np.linalg.norm(fewer)


def test_the_clap_fits_over_itself_at_one_place_only():
    """At any other shift less than a fifth: an echo or a second clap is not taken for it."""
    sound = clap(8000)
    fits = np.correlate(sound, sound, "full") / (sound**2).sum()
    aside = np.abs(np.arange(len(fits)) - (len(sound) - 1)) > 0.003 * 8000
    assert np.abs(fits[aside]).max() < 0.2


@pytest.mark.parametrize("seed", range(2))
def test_it_is_found_in_a_room_with_music_as_loud(seed):
    """Echoes and noise as in the other films; the music goes on over it, as loud as the clap."""
    film = 0.1 * at_8k(music(15, seed=seed + 20))
    sound = clap(RATE)
    level = film.std() / sound[: RATE // 4].std()
    film[9 * RATE : 9 * RATE + len(sound)] += level * sound
    assert find_clap(heard(film, seed), 0.25) == pytest.approx(9.25, abs=0.002)


def test_an_echo_that_is_louder_than_the_clap_is_not_taken_for_it():
    """A bare room: echoes of 1.3 s, together 15 dB above the direct sound."""
    rng = np.random.default_rng(1)
    room = rng.standard_normal(6000) * np.exp(-np.arange(6000) / 1500) * 0.2
    room[0] = 1.0
    film, sound = 0.05 * rng.standard_normal(6 * RATE), clap(RATE)
    film[2 * RATE : 2 * RATE + len(sound)] += sound
    wet = np.convolve(film, room)[: len(film)].astype(np.float32)
    assert find_clap(wet, 0.0) == pytest.approx(2.0, abs=0.001)


def test_it_is_not_found_where_it_was_not_played():
    rng = np.random.default_rng(4)
    knocks = np.zeros(15 * RATE, np.float32)
    for at in rng.integers(0, 14 * RATE, 30):  # weights put down, hands clapped
        knocks[at : at + 400] += (rng.standard_normal(400) * np.exp(-np.arange(400) / 60)).astype(
            np.float32
        )
    noise = rng.standard_normal(15 * RATE).astype(np.float32)
    for film in (heard(at_8k(music(15, seed=31))), heard(knocks), noise, np.zeros(RATE, "f")):
        assert find_clap(film, 0.0) is None
    sound, twice = clap(RATE), np.zeros(10 * RATE, np.float32)
    for at in (2 * RATE, 6 * RATE):  # two runs: which of them is not known
        twice[at : at + len(sound)] += sound
    assert find_clap(heard(twice), 0.0) is None


def test_a_song_that_only_repeats_itself_is_laid_by_the_clap(tmp_path):
    """Two bars again and again fit at many places; the clap came once, 2.5 s before the music."""
    loop = np.tile(music(4), 5)
    song = write_song(tmp_path / "loop.wav", loop)
    film = np.concatenate([np.zeros(4 * SONG_RATE, np.float32), loop[: 12 * SONG_RATE]])
    sound = 0.3 * clap(SONG_RATE)
    at = round(1.5 * SONG_RATE)
    film[at : at + len(sound)] += sound
    path = write_film(tmp_path / "run.mp4", film, [(6.0, 0.5)], size=(64, 48))
    wanted = FilmRequest(song, (2.0, 6.0), (1.0,), clap=-2.5)
    with pytest.raises(ClapOnly, match="only the clap before a run"):
        place(path, wanted, quiet)
    found, tempo, runs = place(path, replace(wanted, by_clap=True), quiet)
    assert (found.by, tempo, runs) == ("clap", 1.0, 1)
    assert found.to_film(0.0) == pytest.approx(4.0, abs=0.005)


@pytest.mark.parametrize(("skew", "frame"), [(0.12, 1 / 30), (-0.09, 1 / 30), (0.05, 1 / 60)])
def test_a_clap_of_hands_that_is_seen_takes_out_what_the_phone_lags(skew, frame):
    """Hands meet at 3.000 s four metres away: heard 11.7 ms later (343 m/s), shown `skew` late."""
    rng = np.random.default_rng(5)
    sound = 0.05 * at_8k(music(8, seed=40))
    at = round((3.0 + 4 / 343) * RATE)
    sound[at : at + 160] += rng.standard_normal(160) * np.exp(-np.arange(160) / 40)
    assert hands_heard(sound, 3.1) == pytest.approx(3.0117, abs=0.004)
    # The first picture whose exposure's middle (11 ms after its stamp) is after the hands met.
    seen = np.ceil((3.0 + skew - 0.011) / frame) * frame
    found = skew_of(seen, hands_heard(sound, seen), frame)
    assert abs(found - skew) <= doubt_of(frame)
    filmed = datetime(2026, 11, 2, tzinfo=UTC)
    late = 0.1  # by the body; the phone makes `skew` more of it
    read = PoseRead("a", "x", 5.0, 5.0, "late", late + skew, 0.07, 0.5, 0.5, "", 5.0 + late + skew)
    take = TakeDone("t", "t.mp4", "", filmed, 1.0, 0.0, 1.0, "", (read,))
    once = without_skew(take, found, frame)
    assert once.poses[0].late == pytest.approx(late, abs=doubt_of(frame))
    assert once.poses[0].doubt == pytest.approx(0.06 + doubt_of(frame))
    again = without_skew(once, found, frame)  # the same clap twice takes nothing twice
    assert again.poses[0].late == pytest.approx(once.poses[0].late)
    assert again.poses[0].doubt == pytest.approx(once.poses[0].doubt)


def test_where_nothing_sharp_is_heard_there_is_no_clap_and_a_small_skew_is_none():
    slow = np.sin(np.arange(6 * RATE) / RATE * 2 * np.pi * 300).astype(np.float32)
    assert hands_heard(slow, 3.0) is None
    assert hands_heard(slow, 9.0) is None
    assert skew_of(3.015, 3.0117, 1 / 30) is None
