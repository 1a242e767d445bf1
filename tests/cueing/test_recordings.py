"""Own recordings belong to a pose, not to the language its name was read in."""

from __future__ import annotations

from pathlib import Path

import pytest

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
