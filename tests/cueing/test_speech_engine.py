"""What is asked of the voice and how it is kept, with a hum in place of the speech library."""

from __future__ import annotations

import numpy as np
import pytest

from rehearse.cueing.voice import (
    SpeechEngine,
    VoiceSetting,
    espeak,
    form,
    recordings,
    speech_cache,
    voices,
)
from rehearse.cueing.voice.onset import at_rate, joined, utterance
from rehearse.files.user_error import UserError

RATE = 8000


@pytest.fixture
def asked(monkeypatch):
    """What the library is asked to say, each with its speed."""
    heard = []

    def hum(text, code, speed):
        heard.append((text, speed))
        time = np.arange(RATE // 4) / RATE
        return espeak.Rendering(np.sin(2 * np.pi * 440 * time).astype(np.float32), RATE)

    monkeypatch.setattr(espeak, "render", hum)
    return heard


def test_names_and_counts_have_their_own_speed_within_what_can_be_understood(asked):
    """190 and 230 words a minute unless set otherwise, 110 to 320 whatever is asked for."""
    engine = SpeechEngine()
    for text, kind, pace in (("bow", "name", 1.0), ("5", "count", 1.0), ("bow", "name", 1.5),
                             ("bow", "name", 2.0), ("bow", "name", 0.1)):  # fmt: skip
        engine.say(text, kind, pace)
    assert [speed for _text, speed in asked] == [190, 230, 285, 320, 110]


def test_what_is_not_formed_yet_is_noted_and_said_once_another_has_formed_it(asked):
    waiting = SpeechEngine(waits=False)
    assert waiting.measure("bow") is None
    assert waiting.measure("5", "count") is None
    assert waiting.measure("bow") is None
    assert (list(waiting.wanted), waiting.misses) == (
        [("bow", "name", 1.0), ("5", "count", 1.0)],
        3,
    )
    assert waiting.errors == ()  # it is no fault
    assert asked == []
    told = []
    formed = form(waiting.setting, None, None, list(waiting.wanted), 48_000,
                  lambda fraction, text: told.append((fraction, text)))  # fmt: skip
    assert told == [(0.0, "bow"), (0.5, "5")]
    waiting.take(formed)
    assert waiting.measure("bow").length == pytest.approx(0.25, abs=0.01)
    sound = waiting.samples("5", "count", 48_000)
    assert sound is formed[3][("5", "count", 1.0), 48_000]  # nothing is left to do for it
    with pytest.raises(ValueError, match="read-only"):
        sound[0] = 1.0  # everyone who asks for it gets the same
    assert len(asked) == 2


def test_a_worker_passes_on_why_a_text_cannot_be_said(asked):
    formed = form(VoiceSetting(), None, None, [("ぽーず", "name", 1.0)], RATE, lambda *_: None)
    engine = SpeechEngine(waits=False)
    engine.take(formed)
    assert engine.measure("ぽーず") is None
    assert "alphabet" in engine.errors[0]
    assert engine.misses == 0


def test_without_letters_nothing_is_said_and_figures_are(asked):
    engine = SpeechEngine()
    assert engine.measure("… – !") is None
    assert "no letter" in engine.errors[0]
    assert engine.measure("180")
    assert engine.measure("½ turn")


@pytest.mark.parametrize(
    ("language", "key"),
    [("de", "German"), ("pt", "Portuguese, Brazil"), ("xx", voices.VOICES[0].key)],
)
def test_the_voice_speaks_the_programs_language_or_else_english(monkeypatch, language, key):
    monkeypatch.setattr(voices, "LANGUAGE", language)
    assert voices.default_voice().key == key
    assert key == "German" or voices.voice_of(key.upper()).key == key


def test_a_voice_that_is_not_installed_is_told_by_its_name():
    with pytest.raises(UserError, match="gmw/nowhere"):
        espeak.render("bow", "gmw/nowhere", 190)


@pytest.mark.parametrize(
    "odd",
    [
        {"samples": np.zeros((2, 2), np.float32)},
        {"samples": np.zeros(0, np.float32)},
        {"rate": 0},
        {"onset": np.array("x")},
    ],
)
def test_a_kept_text_with_values_that_cannot_be_is_made_again(asked, tmp_path, odd):
    whole = SpeechEngine(kept=tmp_path).say("bow")
    (file,) = tmp_path.iterdir()
    values = {"samples": whole.samples, "rate": whole.sample_rate, "onset": whole.onset}
    np.savez(file, **(values | odd))
    assert speech_cache.load(tmp_path, "bow", voices.default_voice().code, 190) is None
    np.testing.assert_array_equal(SpeechEngine(kept=tmp_path).say("bow").samples, whole.samples)
    assert len(asked) == 2


def test_a_peak_far_above_the_rest_is_not_driven_over_full_scale():
    """A hard consonant: 5 ms at full level in a quiet word. 1 dB of room is left (0.89)."""
    time = np.arange(RATE) / RATE
    word = 0.05 * np.sin(2 * np.pi * 440 * time)
    word[4000:4040] *= 20.0
    said = utterance("k", word, RATE)
    assert np.abs(said.samples).max() == pytest.approx(0.89, abs=0.005)


def test_a_word_without_such_a_peak_is_as_loud_as_any_other():
    """The RMS of its louder half is 0.14 of full scale, however loud it came."""
    for level in (0.01, 1.0):
        said = utterance("a", level * np.sin(2 * np.pi * 440 * np.arange(RATE) / RATE), RATE)
        louder = np.sort(np.abs(said.samples))[len(said.samples) // 2 :]
        assert np.sqrt(np.mean(louder**2)) == pytest.approx(0.14, rel=0.03)


def test_parts_said_as_one_have_a_breath_between_and_one_rate():
    time = np.arange(4000)
    low = utterance("a", np.sin(0.3 * time), 8000)
    high = utterance("b", np.sin(0.3 * time), 16_000)
    both = joined("a, b", [low, high])
    assert (both.sample_rate, both.onset) == (16_000, low.onset)
    assert both.length == pytest.approx(low.length + 0.1 + high.length, abs=0.001)
    begin = len(at_rate(low, 16_000))
    assert not both.samples[begin : begin + 1600].any()
    np.testing.assert_array_equal(both.samples[begin + 1600 :], high.samples)


def test_at_its_own_rate_nothing_is_worked_out():
    said = utterance("a", np.sin(0.3 * np.arange(4000)), RATE)
    assert at_rate(said, RATE) is said.samples


def test_no_more_recordings_are_looked_at_than_a_routine_can_use(tmp_path, monkeypatch):
    monkeypatch.setattr(recordings, "MOST_FILES", 3)
    for name in ("a.wav", "b.WAV", "c.opus", "d.mp3", "A.txt"):
        (tmp_path / name).touch()
    assert sorted(recordings.find_recordings(tmp_path)) == ["a", "b", "c"]
    assert recordings.find_recordings(tmp_path / "none") == {}
