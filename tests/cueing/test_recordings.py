"""Own recordings belong to a pose, not to the language its name was read in."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from rehearse import words
from rehearse.cueing.voice import recordings
from rehearse.cueing.voice.recordings import file_stem, recording_of

NAME = "front double biceps"
GERMAN = words.TextCatalogue(words.folder() / "de.po").messages
IN_GERMAN = GERMAN[f"name\x04{NAME}"][0]


@pytest.fixture(params=["en", "de"])
def language(request, monkeypatch):
    if request.param == "de":
        monkeypatch.setattr(words, "_messages", GERMAN)
    monkeypatch.setattr(words, "LANGUAGE", request.param)
    words._names.cache_clear()
    recordings._forms.cache_clear()
    yield request.param
    words._names.cache_clear()
    recordings._forms.cache_clear()


def test_a_recording_is_found_in_every_language(language):
    said = {"en": NAME, "de": IN_GERMAN}[language]
    stored, translated = Path("a.wav"), Path("b.wav")
    other = recordings.plain(IN_GERMAN)
    assert recording_of(said, {NAME: stored}) == stored
    assert recording_of(said, {other: translated}) == translated
    both = {NAME: stored, other: translated}
    assert recording_of(said, both) == {"en": stored, "de": translated}[language]
    assert recording_of("crucifix", both) is None


def test_a_new_recording_is_named_as_the_pose_is_stored(language):
    assert file_stem({"en": NAME, "de": IN_GERMAN}[language]) == NAME
    assert file_stem("Lantern swing, mine!") == "lantern swing mine"
    assert file_stem("5") == "5"
    assert recording_of("lantern  swing", {"lantern swing": Path("c.wav")}) == Path("c.wav")


def test_a_new_recording_keeps_the_one_before_it(tmp_path):
    """Own voice is not made twice: what is replaced or deleted lies beside the earlier saves."""
    rate, folder, made = 16_000, tmp_path / "voice", []
    for hertz in (200, 300):
        sound = 0.5 * np.sin(2 * np.pi * hertz * np.arange(rate // 2) / rate)
        made.append(tmp_path / f"take {hertz}.wav")
        soundfile.write(made[-1], sound, rate)
    kept = [recordings.take_in(path, NAME, folder, lambda *_: None) for path in made]
    assert [path.name for path in kept] == [f"{NAME}.wav"] * 2
    assert kept[1].read_bytes() == made[1].read_bytes()
    (earlier,) = (tmp_path / "versions").iterdir()
    assert earlier.name.startswith(f"{NAME} 2")
    assert earlier.read_bytes() == made[0].read_bytes()
    recordings.put_aside(kept[1])
    assert not list(folder.iterdir())
    assert len(list((tmp_path / "versions").glob(f"{NAME} *.wav"))) == 2
