"""The window in German and in a made-up language that is written from right to left."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from rehearse import words
from rehearse.cueing.voice import VoiceSetting, default_voice

ROOT = Path(__file__).resolve().parents[2]


def seen(language, place):
    """What `language_pages` saw, in a process of its own: a language is settled at its start."""
    code = "de" if language == "de" else words.SOURCE
    done = subprocess.run(
        [sys.executable, "-m", "tests.ui.language_pages", language, str(place)],
        cwd=ROOT,
        env={**os.environ, words.VARIABLE: code, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_german_texts_are_read_whole_on_every_page(tmp_path):
    told = seen("de", tmp_path)
    assert told["pages"] == {"0": [], "1": [], "2": [], "3": []}
    assert told["least"] == []
    assert told["from left"] == sorted(told["from left"])
    assert told["sides"][0] >= 16


def test_every_page_is_mirrored_for_a_language_from_right_to_left(tmp_path):
    told = seen("mirrored", tmp_path)
    assert told["right to left"]
    assert told["from left"] == sorted(told["from left"], reverse=True)
    assert len(told["pages"]) == 4
    assert told["sides"][1] >= 16  # the list stood at the screen's very edge
    assert told["plain"] == []  # every text on pages and forms was looked up


@pytest.mark.parametrize(("language", "voice"), [("en", "English, British, man"), ("de", "German")])
def test_the_voice_is_of_the_language(monkeypatch, language, voice):
    monkeypatch.setattr("rehearse.cueing.voice.voices.LANGUAGE", language)
    assert default_voice().key == voice
    assert VoiceSetting().voice == "English, British, man"  # tests run in English
