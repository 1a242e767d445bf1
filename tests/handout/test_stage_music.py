"""The stage music file: length to the sample, nothing added, nothing clipped, named safely."""

from __future__ import annotations

import json

import numpy as np
import pytest
import soundfile

from rehearse.files.inside import safe_name
from rehearse.files.user_error import UserError
from rehearse.handout import stage_music
from rehearse.handout.checklist import as_text, checklist
from rehearse.handout.encode import Label, resampled
from rehearse.handout.formats import FORMATS, format_of
from rehearse.handout.naming import file_name, length_words, target
from rehearse.handout.stage_music import stage_sound, write_stage_music
from rehearse.music.decode import load_track
from rehearse.music.track import Track
from rehearse.routine.model import StagePart

PART = StagePart(1.0, 31.0, 0.5, 2.0)


@pytest.mark.parametrize("key", list(FORMATS))
def test_each_format_decodes_to_the_part_to_the_sample(track, tmp_path, tool, key):
    path = tmp_path / f"stage.{key}"
    made = write_stage_music(
        track, PART, path, form=format_of(key), silence=1.5, label=Label("Übung")
    )
    assert made.frames == round(31.5 * 44100)
    assert made.padding == 0 or (key == "m4a" and made.padding < 1024)
    again = load_track(path)
    assert again.frames - made.padding == made.frames
    assert np.abs(again.samples[: int(1.49 * 44100)]).max() < 0.002
    shown = json.loads(
        tool("ffprobe", "-v", "error", "-show_streams", "-show_format", "-of", "json", str(path))
    )
    stream = next(s for s in shown["streams"] if s["codec_type"] == "audio")
    codec = {"mp3": "mp3", "m4a": "aac", "flac": "flac", "wav": "pcm_s16le"}[key]
    assert (stream["codec_name"], stream["sample_rate"], stream["channels"]) == (codec, "44100", 2)
    # A header counts whole blocks: mp3 states up to two of 1152 frames more.
    assert float(shown["format"]["duration"]) == pytest.approx(31.5, abs=0.06)
    assert {k.lower(): v for k, v in shown["format"]["tags"].items()}["title"] == "Übung"
    if key == "mp3":
        assert int(stream["bit_rate"]) == 320_000


def test_wav_holds_the_very_samples_of_the_song_between_its_fades(track, tmp_path):
    write_stage_music(track, PART, tmp_path / "a.wav", form=format_of("wav"))
    found, rate = soundfile.read(tmp_path / "a.wav", dtype="float32")
    assert rate == 44100
    inner = slice(int(0.6 * rate), int(27.9 * rate))
    np.testing.assert_array_equal(found[inner], track.samples[rate : 31 * rate][inner])
    assert np.abs(found[0]).max() == 0.0
    assert np.abs(found[-1]).max() < 1e-4


def test_mp3_sits_at_the_same_place_as_the_song(track, tmp_path):
    write_stage_music(track, PART, tmp_path / "a.mp3")
    again = load_track(tmp_path / "a.mp3").samples[:, 0]
    sent = stage_sound(track, PART, 0.0)[:, 0]
    first, last = 5 * 44100, 7 * 44100
    shifts = range(-30, 31)
    match = [np.dot(sent[first:last], again[first - s : last - s]) for s in shifts]
    assert shifts[int(np.argmax(match))] == 0


def test_a_48_khz_song_becomes_44_1_with_its_length_and_pitch(tmp_path):
    time = np.arange(48000 * 5) / 48000
    wave = np.stack([0.5 * np.sin(2 * np.pi * 440 * time)] * 2, axis=1).astype(np.float32)
    song = Track(wave, 48000, "x")
    made = write_stage_music(song, StagePart(1.0, 4.0), tmp_path / "a.flac", form=format_of("flac"))
    assert made.frames == 3 * 44100
    again = load_track(tmp_path / "a.flac").samples[:, 0]
    peak = np.argmax(np.abs(np.fft.rfft(again * np.hanning(len(again))))) / 3
    assert peak == pytest.approx(440, abs=0.4)
    assert len(resampled(wave, 48000, 44100)) == round(len(wave) * 44100 / 48000)


@pytest.mark.parametrize("key", ["wav", "mp3"])
def test_a_song_over_full_scale_is_turned_down_until_nothing_clips(tmp_path, key):
    rng = np.random.default_rng(1)
    noise = np.clip(rng.standard_normal((44100 * 4, 2)), -1, 1).astype(np.float32) * 1.25
    told = []
    made = write_stage_music(
        *(Track(noise, 44100, "x"), StagePart(0, 4), tmp_path / f"a.{key}"),
        form=format_of(key),
        report=lambda fraction, text: told.append(fraction),
    )
    assert told == sorted(told)  # though it may be written twice
    assert made.lowered > 1.9
    assert made.peak <= 1.0
    assert np.abs(load_track(tmp_path / f"a.{key}").samples).max() <= 1.0


def test_an_encoder_that_overshoots_anew_at_each_level_is_met(tmp_path, monkeypatch):
    # Peaks found one after another in a loud song of a game, as mp3 of 320 kbit/s.
    peaks = iter([1.02446, 1.00681, 1.00949, 0.97369])
    monkeypatch.setattr(stage_music, "_check", lambda *_: (0, next(peaks)))
    rng = np.random.default_rng(1)
    noise = np.clip(0.3 * rng.standard_normal((44100 * 2, 2)), -1, 1).astype(np.float32)
    made = write_stage_music(Track(noise, 44100, "x"), StagePart(0, 2), tmp_path / "a.mp3")
    assert made.peak == 0.97369
    assert 0.3 < made.lowered < 1.0


def test_a_part_outside_the_song_is_one_sentence(track, tmp_path):
    with pytest.raises(UserError, match="outside the song"):
        write_stage_music(track, StagePart(50, 60), tmp_path / "a.mp3")
    assert not list(tmp_path.iterdir())


def test_a_silent_part_and_one_too_short_are_one_sentence(tmp_path):
    quiet = Track(np.zeros((44100 * 3, 2), np.float32), 44100, "x")
    with pytest.raises(UserError, match="Nothing would be heard in the stage music"):
        write_stage_music(quiet, StagePart(0, 3), tmp_path / "a.mp3")
    loud = Track(np.full((44100 * 3, 2), 0.5, np.float32), 44100, "x")
    with pytest.raises(UserError, match="shorter than a second"):
        write_stage_music(loud, StagePart(0, 0.5), tmp_path / "a.mp3")
    assert not list(tmp_path.iterdir())


def test_stopping_leaves_nothing_behind(track, tmp_path):
    class Halt(Exception):
        pass

    def report(fraction, text):
        raise Halt

    with pytest.raises(Halt):
        write_stage_music(track, PART, tmp_path / "a.mp3", report=report)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("pattern", "values", "name"),
    [
        (
            "{number} {name} {class}",
            {"number": "12", "name": "Kim", "division": "A/B"},
            "12 Kim A B",
        ),
        ("number, name, division", {"number": "12", "name": "Kim", "division": "A"}, "12 Kim A"),
        ("name title", {"name": "Kim", "title": "Copper"}, "Kim Copper"),
        ("{name}-{length}", {"name": "Zoë", "length": "1m15s"}, "Zoë-1m15s"),
        ("{number}", {}, "fallback"),
        ("number, name, division, length", {"length": "57.7s"}, "fallback 57.7s"),
        ("{name}", {"name": 'a\\b:c*?"<>|\n'}, "a b c"),
        ("{name}", {"name": "con"}, "con file"),
        ("{name}", {"name": "x" * 300}, "x" * 100),
        # UTF-8 takes three bytes for each of these, and file systems 255 for a name.
        ("{name}", {"name": "夜" * 300}, "夜" * 66),
    ],
)
def test_names_by_pattern_are_safe(pattern, values, name):
    assert file_name(pattern, values, "fallback") == name


@pytest.mark.parametrize(
    "pattern",
    [
        "weight",
        "name, weight",
        "{name",
        "{0}",
        "{weight}",
        "{name.upper}",
        "{name!r}",
        "{name:>50}",
    ],
)
def test_a_wrong_pattern_is_one_sentence(pattern):
    with pytest.raises(UserError, match="choose among"):
        file_name(pattern, {}, "x")


def test_lengths_in_names():
    lengths = (60.0, 75.0, 58.0, 89.96, 65.1)
    assert [length_words(s) for s in lengths] == ["1m00s", "1m15s", "58s", "1m30s", "1m5.1s"]
    assert safe_name(" .. ") == ""


def test_the_target_is_a_file_or_a_name_in_a_folder(tmp_path):
    assert target(tmp_path, "name", "mp3") == tmp_path / "name.mp3"
    assert target(tmp_path / "own.wav", "name", "wav") == tmp_path / "own.wav"
    assert target(tmp_path / "own", "name", "mp3") == tmp_path / "own.mp3"
    with pytest.raises(UserError, match="no such folder"):
        target(tmp_path / "no" / "own.wav", "name", "wav")
    with pytest.raises(UserError, match=r"ends in wav, but mp3 is written"):
        target(tmp_path / "own.wav", "name", "mp3")
    with pytest.raises(UserError, match="name too long"):
        target(tmp_path / ("x" * 300), "name", "mp3")
    (tmp_path / "Show v1.2").mkdir()
    assert target(tmp_path / "Show v1.2", "name", "mp3").parent.name == "Show v1.2"


def test_a_taken_name_in_a_folder_is_left_alone(tmp_path):
    (tmp_path / "name.zip").write_text("what the coach sent back")
    (tmp_path / "sheet page 2.png").write_text("of an earlier sheet")
    assert target(tmp_path, "name", "zip").name == "name 2.zip"
    (tmp_path / "name 2.zip").write_text("")
    assert target(tmp_path, "name", "zip").name == "name 3.zip"
    assert target(tmp_path, "sheet", "png", [" page 1", " page 2"]).name == "sheet 2.png"


def test_the_checklist_keeps_the_limit_to_the_tenth():
    # facts of the trade: 60.0 s passes, 60.1 s does not.
    for length, met in ((60.0, True), (60.1, False)):
        items = checklist(length=length, limit=60, ending="mp3", labelled=True, silence=0)
        assert items[0].met is met
    text = as_text(items, "12 Kim.mp3")
    assert "[!] Length: 60.1 s, over the limit of 60 s" in text
    assert "Profanity" in text
    waiting = checklist(length=59.5, limit=60, ending="mp3", labelled=True, silence=2)
    assert "within the limit of 60 s (the file with its silence: 61.5 s)" in waiting[0].text
    unknown = checklist(length=70, limit=None, ending="wav", labelled=False, silence=2)
    assert unknown[0].met is None
    assert unknown[2].met is False
