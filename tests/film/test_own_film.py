"""A pass filmed by the own camera is laid on the music by the clock, and by the room's sound."""

from contextlib import closing
from datetime import UTC, datetime

import pytest

from rehearse.film.camera_source import FilmCamera
from rehearse.film.known_clock import CLOCK_ALONE, WITH_SOUND, KnownPlace, place_by_clock
from rehearse.film.own_film import of_pass, own_take, read_own_film, request
from rehearse.film.recording import Recording, finish
from rehearse.film.sound import film_sound
from rehearse.music.beatmap import BeatMap
from rehearse.music.decode import load_track
from rehearse.music.position import Length, Seconds
from rehearse.routine.folder import OpenedFolder, save_folder
from rehearse.routine.model import Placed, Routine
from tests.film.test_arrival import FIFTH
from tests.helpers.films import RATE, music, write_film, write_song

HITS, LATE = (1.0, 3.0, 5.0, 7.0), (0.0, 0.0, 0.25, -0.02)
NOW = datetime(2027, 5, 1, 20, 15, tzinfo=UTC)


def silent(_done, _words):
    """Nobody waits."""


@pytest.fixture(scope="module")
def filmed(tmp_path_factory):
    """A routine, a recording of it finished, and what the microphone heard beside it."""
    folder = tmp_path_factory.mktemp("own") / "routine"
    folder.mkdir()
    sound = music(10)
    write_song(folder / "song.wav", sound)
    track = load_track(folder / "song.wav")
    poses = tuple(
        Placed(f"aa00000{k}", "victory", Seconds(hit), Length(0.5, False), Length(0.8, False))
        for k, hit in enumerate(HITS)
    )
    beats = tuple(0.5 * k for k in range(19))
    counts = tuple(k % 4 + 1 for k in range(19))
    beatmap = BeatMap(track.content_hash, track.duration, beats, counts)
    routine = Routine("Test", "song.wav", poses=poses, id="f1")
    save_folder(folder, routine, beatmap)
    moves = [(hit + late - FIFTH * 0.5, 0.5) for hit, late in zip(HITS, LATE, strict=True)]
    film = write_film(folder.parent / "run.mp4", sound[: 9 * RATE], moves)
    recording = Recording(folder)
    now = [50.0]
    camera = FilmCamera(film, clock=lambda: now[0], nap=lambda s: now.append(now.pop() + s))
    with closing(camera.pictures()) as pictures:
        for taken, frame in pictures:
            if taken > 50 + 8.9:
                break
            recording.add(taken, frame)
    heard, begins = film_sound(film, silent)
    part = recording.keep((heard, begins + 50.0))
    return OpenedFolder(folder, routine, beatmap), finish(part, NOW)


def read(filmed, known):
    opened, folder = filmed
    meant = of_pass(opened, known)
    asked = request(meant, known, folder)
    kept = read_own_film(opened.folder, folder, asked, silent)
    return kept.reading.alignment, own_take(meant, kept).take


def placed(filmed, known):
    opened, folder = filmed
    track = load_track(opened.folder / opened.routine.track)
    return place_by_clock(request(of_pass(opened, known), known, folder).clock, track, silent)


@pytest.mark.parametrize(("off", "by"), [(-0.1, "music"), (0.3, "music"), (1.0, "clock")])
def test_a_sound_that_is_near_is_believed_and_one_elsewhere_is_not(filmed, off, by):
    alignment = placed(filmed, KnownPlace(2.0, 9.0, 1.0, 2.0 + off))
    assert alignment.by == by
    at = 3.0 if by == "music" else 2.0
    assert alignment.to_music(3.0) == pytest.approx(at, abs=0.001)


@pytest.fixture(scope="module")
def with_sound(filmed):
    return read(filmed, KnownPlace(2.0, 9.0, 1.0, 2.06))


def test_the_sound_mends_what_the_clock_is_off(filmed, with_sound):
    alignment, take = with_sound
    assert alignment.by == "music"
    assert alignment.to_music(3.0) == pytest.approx(3.0, abs=0.001)
    assert [pose.pose for pose in take.poses] == ["aa000001", "aa000002", "aa000003"]
    assert [pose.said for pose in take.poses] == ["on", "late", "on"]
    assert take.poses[1].late == pytest.approx(0.25, abs=0.04)
    assert take.film == f"camera {take.filmed:%Y-%m-%d %H.%M}"
    assert (filmed[0].folder / filmed[1] / "002 hit.jpg").is_file()


def test_without_a_microphone_the_clock_alone_says_so_by_its_doubt(filmed, with_sound):
    opened, folder = filmed
    sound = opened.folder / folder / "sound.flac"
    kept = sound.read_bytes()
    sound.unlink()
    try:
        alignment, take = read(filmed, KnownPlace(2.0, 9.0, 1.0, 2.0))
    finally:
        sound.write_bytes(kept)
    assert alignment.by == "clock"
    assert [pose.said for pose in take.poses] == ["on", "late", "on"]
    more = take.poses[1].doubt - with_sound[1].poses[1].doubt
    assert more == pytest.approx(CLOCK_ALONE - WITH_SOUND, abs=0.005)


def test_a_slow_pass_lies_in_the_slow_music():
    known = KnownPlace(4.0, 8.0, 0.5, 1.0)
    assert known.alignment.to_music(1.0) == pytest.approx(8.0)
    assert known.to_film(8.0) == pytest.approx(9.0)
    assert known.alignment.end == pytest.approx(9.0)
