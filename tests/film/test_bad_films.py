"""Films that are damaged, odd or hostile end in one sentence or in a reading, never otherwise."""

import shutil
import subprocess
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from rehearse.files.user_error import UserError
from rehearse.film.film_reading import FilmRequest, read_film
from rehearse.film.keep import delete_kept, film_id, kept_file, read_and_keep
from rehearse.music.decode import load_track
from tests.helpers.films import RATE, music, write_film, write_song

HITS = (1.5, 3.2)


def quiet(fraction: float, text: str) -> None:
    pass


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bad")
    sound = music(9)
    write_song(folder / "song.wav", sound)
    write_film(folder / "run.mp4", sound[: 8 * RATE], [(1.0, 0.5), (2.7, 0.5)], fps=13)
    return folder


def end_of(film: Path, place: Path, **more) -> str:
    """How reading ends: the sentence, or how many poses were read."""
    try:
        reading = read_film(film, FilmRequest(place / "song.wav", HITS, (1.0,), **more), quiet)
    except UserError as error:
        said = error.sentence
    else:
        return f"{len(reading.offsets)} poses"
    assert said.endswith(".")
    assert "None" not in said
    return said


def test_damaged_bytes_are_a_sentence_or_a_reading(place, tmp_path):
    whole = (place / "run.mp4").read_bytes()
    rng = np.random.default_rng(4)
    for k in range(4):
        raw = bytearray(whole)
        if k % 3 == 0:
            raw = raw[: int(len(raw) * rng.uniform(0.02, 0.95))]
        else:
            for at in rng.integers(0, len(raw), 40 if k % 3 == 1 else 3000):
                raw[at] = rng.integers(256)
        film = tmp_path / f"{k}.mp4"
        film.write_bytes(bytes(raw))
        assert end_of(film, place, first_hit=1.5)


def test_what_is_no_film_says_so(place, tmp_path):
    empty, text = tmp_path / "empty.mp4", tmp_path / "text.mp4"
    empty.write_bytes(b"")
    text.write_text("#EXTM3U\nhttp://example.org/film.mp4\n")
    assert "empty" in end_of(empty, place)
    assert "list of other files" in end_of(text, place)
    assert "no such file" in end_of(tmp_path / "missing.mp4", place)
    assert "has no pictures" in end_of(place / "song.wav", place)


def test_a_film_without_sound_says_what_to_do(place, tmp_path):
    film = tmp_path / "mute.mp4"
    _remuxed(place / "run.mp4", film, sound=False)
    assert "has no sound" in end_of(film, place)


def test_of_two_streams_of_pictures_the_first_is_read(place, tmp_path):
    film = tmp_path / "two.mkv"
    _remuxed(place / "run.mp4", film, twice=True)
    assert end_of(film, place) == "2 poses"


def test_a_film_of_ten_hours_is_not_read_to_its_end(place, tmp_path):
    film = tmp_path / "long.mkv"
    _stills(film, (320, 180), [0.0, 1.0, 36_000.0])
    assert "no pictures where the routine is danced" in end_of(film, place, first_hit=9000.0)


def test_8k_pictures_are_read_or_refused(place, tmp_path):
    film = tmp_path / "8k.mkv"
    _stills(film, (7680, 4320), [0.0, 2.0, 4.0])
    assert end_of(film, place, first_hit=2.0)


def test_a_folder_that_cannot_be_written_does_not_lose_the_reading(place, tmp_path):
    folder = tmp_path / "routine"
    folder.mkdir()
    (folder / "takes").write_text("in the way")
    kept = read_and_keep(
        place / "run.mp4", FilmRequest(place / "song.wav", HITS), folder, False, quiet
    )
    assert kept.folder == ""
    assert "cannot be kept" in kept.told
    assert len(kept.reading.offsets) == 2


def test_a_stopped_reading_leaves_nothing_behind(place, tmp_path):
    class Stop(Exception):
        pass

    def report(fraction, text):
        if fraction > 0.75:
            raise Stop

    with pytest.raises(Stop):
        read_and_keep(
            place / "run.mp4", FilmRequest(place / "song.wav", HITS), tmp_path, True, report
        )
    assert list((tmp_path / "takes").iterdir()) == []


def test_read_again_it_replaces_what_was_kept(place, tmp_path):
    wanted = FilmRequest(place / "song.wav", HITS)
    before = tmp_path / "takes" / film_id(place / "run.mp4")
    before.mkdir(parents=True)
    (before / "009 hit.jpg").write_bytes(b"of a reading before")
    again = read_and_keep(place / "run.mp4", wanted, tmp_path, True, quiet)
    assert tmp_path / again.folder == before
    (kept,) = (tmp_path / "takes").iterdir()
    names = sorted(path.name for path in kept.iterdir())
    assert names == [
        "001 arrived.jpg", "001 hit.jpg", "002 arrived.jpg", "002 hit.jpg", "film.mp4",
        "original.mp4", "sound.flac",
    ]  # fmt: skip
    assert (kept / "original.mp4").read_bytes() == (place / "run.mp4").read_bytes()


@pytest.mark.parametrize(
    "named",
    ["takes/..", "takes/../../outside", "takes", ".", "..", "/", "", "takes/x/..", "takes/l"],
)
def test_a_name_out_of_a_strangers_logbook_shows_and_deletes_nothing_else(tmp_path, named):
    """The logbook may come from anyone; what it calls a kept film is only a name."""
    routine, outside = tmp_path / "routine", tmp_path / "outside"
    (routine / "takes" / "x").mkdir(parents=True)
    outside.mkdir()
    (routine / "takes" / "l").symlink_to("../../outside")
    for folder in (routine, routine / "takes", routine / "takes" / "x", outside, tmp_path):
        (folder / "film.mp4").write_bytes(b"film")
    before = sorted(tmp_path.rglob("*"))
    assert kept_file(routine, named, "film.mp4") is None
    with pytest.raises(UserError, match="no kept film"):
        delete_kept(routine, named)
    assert sorted(tmp_path.rglob("*")) == before
    assert kept_file(routine, "takes/x", "film.mp4")
    delete_kept(routine, "takes/x")
    assert not (routine / "takes" / "x").exists()


@pytest.mark.parametrize("more", [{}, {"first_hit": 1.5}])
def test_no_film_is_laid_on_another_song_than_was_mapped(place, more):
    mapped = load_track(place / "song.wav").content_hash
    assert end_of(place / "run.mp4", place, mapped=mapped, **more) == "2 poses"
    assert "belongs to another song" in end_of(place / "run.mp4", place, mapped="5e1f", **more)


def _remuxed(source: Path, target: Path, *, sound: bool = True, twice: bool = False) -> None:
    maps = ["-map", "0:v", *(["-map", "0:v"] if twice else []), *(["-map", "0:a"] if sound else [])]
    if shutil.which("ffmpeg") is None:
        pytest.skip("needs ffmpeg to put streams together")
    command = ["ffmpeg", "-v", "error", "-i", str(source), *maps, "-c", "copy", str(target)]
    subprocess.run(command, check=True, timeout=60)


def _stills(path: Path, size: tuple[int, int], seconds: list[float]) -> None:
    with av.open(str(path), "w") as file:
        stream = file.add_stream(
            "libx264", rate=30, options={"preset": "ultrafast", "threads": "1"}
        )
        stream.width, stream.height, stream.pix_fmt = *size, "yuv420p"
        stream.time_base = stream.codec_context.time_base = Fraction(1, 1000)
        for second in seconds:
            frame = av.VideoFrame(*size, "yuv420p")
            frame.pts, frame.time_base = round(1000 * second), Fraction(1, 1000)
            file.mux(stream.encode(frame))
        file.mux(stream.encode(None))


def test_a_phone_that_is_unplugged_meanwhile_is_a_sentence(place, tmp_path, monkeypatch):
    monkeypatch.setattr("rehearse.film.keep.read_film", lambda *args: None)
    with pytest.raises(UserError, match=r"gone\.mp4: there is no such file – check the name\."):
        read_and_keep(
            tmp_path / "gone.mp4", FilmRequest(place / "song.wav", HITS), tmp_path, False, quiet
        )
