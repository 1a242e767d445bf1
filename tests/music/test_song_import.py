"""A song comes into the routine's folder whole or not at all, and over nothing."""

from __future__ import annotations

import pytest

from rehearse.files.user_error import UserError
from rehearse.music.song_import import import_song


def quiet(fraction, text):
    """Nobody listens."""


@pytest.fixture
def folder(tmp_path):
    folder = tmp_path / "routine"
    folder.mkdir()
    return folder


def test_a_song_is_read_and_copied(tone, folder):
    name, track = import_song(tone, folder, quiet)
    assert name == "tone.wav"
    assert (folder / name).read_bytes() == tone.read_bytes()
    assert track.duration == pytest.approx(6.0)


def test_the_same_song_is_not_copied_twice_and_another_goes_beside_it(tone, folder):
    import_song(tone, folder, quiet)
    assert import_song(tone, folder, quiet)[0] == "tone.wav"
    assert import_song(folder / "tone.wav", folder, quiet)[0] == "tone.wav"
    (folder / "tone.wav").write_bytes(b"notes of the athlete")
    assert import_song(tone, folder, quiet)[0] == "tone 2.wav"
    assert (folder / "tone.wav").read_bytes() == b"notes of the athlete"


def test_a_name_becomes_one_that_every_file_system_takes(tone, folder, tmp_path):
    song = tmp_path / "Part 2: rise?.wav"
    song.write_bytes(tone.read_bytes())
    assert import_song(song, folder, quiet)[0] == "Part 2  rise.wav"


def test_what_is_no_song_is_not_copied(folder, tmp_path):
    (tmp_path / "letter.mp3").write_text("Dear coach")
    with pytest.raises(UserError, match="not a song"):
        import_song(tmp_path / "letter.mp3", folder, quiet)
    assert not list(folder.iterdir())


def test_stopped_while_copying_it_leaves_nothing(tone, folder):
    class Stop(Exception):
        pass

    def stop(fraction, text):
        if text == "Copying the song":
            raise Stop

    with pytest.raises(Stop):
        import_song(tone, folder, stop)
    assert not list(folder.iterdir())
