"""A small film of a figure that strikes poses, read whole."""

import json

import numpy as np
import pytest

from rehearse.files.user_error import UserError
from rehearse.film import film_reading
from rehearse.film.film_reading import FilmRequest, read_film
from rehearse.film.offsets import Unread
from rehearse.film.take import kneeling
from rehearse.music.position import Seconds
from rehearse.routine.model import Placed, Routine
from tests.film.test_arrival import FIFTH
from tests.helpers.films import RATE, music, write_film, write_song

HITS = (3.0, 5.0, 7.0, 9.0, 11.0, 13.0, 22.0)
#: Seconds late of each, and the length of the way; the fourth pose is not struck.
LATE = (0.0, 0.15, -0.12, None, 0.2, 0.0, None)
WAY = 0.5


def quiet(fraction: float, text: str) -> None:
    pass


@pytest.fixture(scope="module")
def song(tmp_path_factory):
    sound = music(25)
    return sound, write_song(tmp_path_factory.mktemp("song") / "song.wav", sound)


@pytest.fixture(scope="module")
def film(song, tmp_path_factory):
    """The film begins a second before the music, and ends before the last pose."""
    sound = np.concatenate([np.zeros(RATE, np.float32), song[0][: 15 * RATE]])
    moves = [
        (1.0 + hit + late - FIFTH * WAY, WAY)
        for hit, late in zip(HITS, LATE, strict=True)
        if late is not None
    ]
    return write_film(tmp_path_factory.mktemp("film") / "run.mp4", sound, moves)


@pytest.fixture(scope="module", params=["core", "extra"])
def reading(request, song, film):
    """By the core alone, and with points followed, whatever is installed."""
    extra = request.param == "extra"
    if extra and not film_reading.installed():
        pytest.skip("the extra “film” is not installed")
    low = tuple(k == 4 for k in range(len(HITS)))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(film_reading, "installed", lambda: extra)
        found = read_film(film, FilmRequest(song[1], HITS, kneels=low), quiet)
    assert found.followed == extra
    return found


def test_each_pose_is_early_or_late_by_what_the_film_was_made_with(reading):
    """Truth: the film's own times; a frame is 33 ms."""
    assert not reading.refused
    assert reading.to_music(1.0) == pytest.approx(0.0, abs=0.001)
    for offset, late in zip(reading.offsets, LATE, strict=True):
        if late is not None:
            # The reader adds what a phone's time stamp lies before the middle of its exposure.
            assert offset.early_or_late == pytest.approx(late + 0.011, abs=0.04)
            assert abs(offset.early_or_late - late) < 2 * offset.doubt


def test_the_doubt_holds_what_a_way_down_to_the_knees_reads_early(reading):
    """97 ms early, even by exact joint speeds (measured on rendered films of known arrivals)."""
    assert 2 * reading.offsets[4].doubt > 0.097
    assert reading.offsets[2].doubt < 0.05
    names = ("front double biceps", "kneeling double biceps", "kneeling double biceps")
    poses = tuple(Placed(f"{k}", name, Seconds(2.0 * k)) for k, name in enumerate(names))
    assert kneeling(Routine("", "", poses=poses)) == (False, True, False)


def test_a_pose_that_was_not_struck_has_no_number(reading):
    assert reading.offsets[3].early_or_late is None
    assert reading.offsets[3].why is not None


def test_a_film_in_which_nobody_moves_is_refused_with_its_reason(song, tmp_path):
    film = write_film(tmp_path / "still.mp4", song[0][: 9 * RATE], [], still=True)
    found = read_film(film, FilmRequest(song[1], HITS[:2]), quiet)
    assert found.refused
    assert "cannot be read" in found.refused


def test_poses_outside_the_film_are_said_to_be_outside(reading):
    assert reading.offsets[-1].why is Unread.OUTSIDE


def test_where_the_music_is_not_in_it_one_hit_set_by_hand_is_enough(song, film, tmp_path):
    other = write_song(tmp_path / "other.wav", music(25, seed=8))
    wanted = FilmRequest(other, HITS, (1.0,))
    with pytest.raises(UserError, match="cannot be found in the film"):
        read_film(film, wanted, quiet)
    found = read_film(film, FilmRequest(other, HITS[:3], (1.0,), first_hit=4.0), quiet)
    assert found.alignment.windows == 0
    assert found.offsets[1].early_or_late == pytest.approx(0.161, abs=0.04)


def test_without_sound_or_pictures_or_poses_it_is_one_sentence(song, tmp_path):
    for wanted, film, words in (
        (FilmRequest(song[1], ()), song[1], "has no poses yet"),
        (FilmRequest(song[1], HITS), song[1], "has no pictures"),
    ):
        with pytest.raises(UserError, match=words):
            read_film(film, wanted, quiet)


def test_stopping_in_the_middle_stops(song, film):
    class Stop(Exception):
        pass

    def report(fraction, text):
        if fraction > 0.25:
            raise Stop

    with pytest.raises(Stop):
        read_film(film, FilmRequest(song[1], HITS), report)


def test_the_reading_survives_the_way_out_of_a_worker(reading):
    import pickle

    again = pickle.loads(pickle.dumps(reading))
    assert again == reading
    assert json.dumps(again.offsets[0].early_or_late)
