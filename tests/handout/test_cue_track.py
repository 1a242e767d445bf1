"""The cue track: words on their beats in the written file, loudness, chapters, stopping.

Onsets are measured by the mel-band spectral flux of librosa (log power, 300–3000 Hz, hop 1 ms),
which shares nothing with the product's own measure.
"""

from __future__ import annotations

import contextlib
import json
from dataclasses import replace

import librosa
import numpy as np
import pyloudnorm
import pytest

from rehearse.cueing.cue_options import CueVolumes, VolumeStep
from rehearse.cueing.speech import SpeechChoice, plan_speech
from rehearse.cueing.voice import SpeechEngine
from rehearse.files.user_error import UserError
from rehearse.handout.cue_plan import CuePlan, plan_stretches, words_of
from rehearse.handout.cue_track import write_cue_track
from rehearse.handout.formats import FORMATS, format_of
from rehearse.handout.handout_source import make_source
from rehearse.handout.loudness import measure
from rehearse.music.decode import load_track
from rehearse.music.position import Length, parse_position
from rehearse.music.track import Track
from rehearse.playback.offline_render import render
from rehearse.routine.model import Move, Placed
from rehearse.session.segment_builder import segment
from tests.helpers.steady_voice import OWN

OFF, LOUD = VolumeStep.OFF, VolumeStep.LOUD
SPOKEN = CueVolumes(names=LOUD, counts=LOUD, clicks=OFF)


@pytest.fixture(scope="module")
def speech_engine(kept_speech, steady_voices):
    return SpeechEngine()


def heard_onset(samples, rate, expected, reach=0.1):
    """Seconds of the strongest rise of spectral flux within `reach` of `expected`."""
    hop = rate // 1000
    first = int((expected - 0.4) * rate)
    piece = samples[max(0, first) : int((expected + 0.3) * rate)]
    piece = np.pad(piece, (max(0, -first), 0))
    power = librosa.feature.melspectrogram(
        y=piece, sr=rate, n_fft=1024, hop_length=hop, n_mels=40, fmin=300, fmax=3000
    )
    flux = librosa.onset.onset_strength(S=librosa.power_to_db(power, top_db=40), sr=rate, lag=5)
    times = (np.arange(len(flux)) - 2.5) * hop / rate - 0.4
    near = np.abs(times) <= reach
    return expected + float(times[near][np.argmax(flux[near])])


def counts_of(source, stretch, speech_engine):
    speech = plan_speech(
        source.sheet,
        stretch.start,
        stretch.end,
        speech_engine.measure,
        tempo=stretch.tempo,
        choice=stretch.choice,
    )
    return [line for line in speech.lines if line.kind == "count"]


def assert_on_beat(counts, offsets):
    """Within 10 ms; the w of "one" glides into its vowel, where the program's measure and this
    one differ by 26 ms, less than is noticed (ITU-R BT.1359-1: 45 ms, from a copy)."""
    for line, offset in zip(counts, offsets, strict=True):
        assert abs(offset) <= (0.030 if line.text == "1" else 0.010), (line, offset)


@pytest.mark.parametrize("tempo", [1.0, 0.6])
def test_every_count_is_on_its_beat_in_the_speech_stem_and_in_the_mix(
    source, track, speech_engine, tempo
):
    plan = CuePlan(tempos=(tempo,), choice=SpeechChoice(levels=SPOKEN))
    (stretch,) = plan_stretches(source, plan)
    one = segment(stretch, source.sheet, track.sample_rate, speech_engine)
    silent = Track(np.zeros_like(track.samples), track.sample_rate, "silent")
    counts = counts_of(source, stretch, speech_engine)
    assert len(counts) >= 18
    beats = (source.beatmap.times - stretch.start) / tempo
    for song in (silent, track):
        rendered = render(song, [one])
        sound, music = rendered.samples.mean(axis=1), rendered.starts[0]
        offsets = []
        for line in counts:
            # What it is heard against is the beat of the map, not the plan's own time.
            nearest = float(beats[np.argmin(np.abs(beats - line.onset))])
            expected = line.onset if line.onset < 0 else nearest
            heard = heard_onset(sound, track.sample_rate, music + expected)
            offsets.append(heard - music - expected)
        assert_on_beat(counts, offsets)


#: Moves whose stressed syllable begins with a burst, a hum or a vowel: there both measures find one
#: beginning, in all of 60 renderings (the voice's breath is noise of its own each time). In "walk",
#: "slide", "present", "lean" or "drop" it glides into its vowel (as in "one"), and in "close" or
#: "salute" the rise before the vowel is the stronger one.
CLEAR = (
    *("step", "turn", "pivot", "reach up", "reach across", "circle", "open", "gather"),
    *("unfold", "stand up", "arch", "hands over head", "shake out", "breathe"),
)


@pytest.mark.parametrize("tempo", [1.0, 0.6])
def test_each_move_is_named_as_it_begins(source, track, speech_engine, tempo):
    """Within 10 ms of its count in the file that is written, and no pose's name makes way."""
    moves = tuple(Move(f"{k:08x}", name, Length(4)) for k, name in enumerate(CLEAR))
    last = source.routine.poses[-1].id
    way = Length(4.0 * len(moves))
    poses = (
        Placed("p", "crucifix", parse_position("9:1"), Length(4), way, moves=moves),
        Placed(last, "victory", parse_position("10:1"), Length(4), Length(2)),
    )
    made = make_source(
        source.folder, replace(source.routine, poses=poses, sections=()), source.beatmap
    )
    levels = CueVolumes(names=LOUD, counts=OFF, clicks=OFF)
    plan = CuePlan(tempos=(tempo,), choice=SpeechChoice(levels=levels))
    (stretch,) = plan_stretches(made, plan)
    silent = Track(np.zeros_like(track.samples), track.sample_rate, "silent")
    one = segment(stretch, made.sheet, track.sample_rate, speech_engine)
    rendered = render(silent, [one])
    sound, music = rendered.samples.mean(axis=1), rendered.starts[0]
    speech = plan_speech(
        made.sheet, stretch.start, stretch.end, speech_engine.measure,
        tempo=stretch.tempo, choice=stretch.choice,
    )  # fmt: skip
    assert speech.unsaid == ()
    said = {line.text for line in speech.lines if line.kind == "move"}
    checked = 0
    for move in made.sheet.cues[0].moves:
        begins = (move.start - stretch.start) / tempo
        if move.text in said and begins >= 0:
            heard = heard_onset(sound, track.sample_rate, music + begins) - music
            assert abs(heard - begins) <= 0.010, (move.text, heard - begins)
            checked += 1
    assert checked >= len(CLEAR) - 3


def test_names_have_ended_before_their_transition_as_measured_in_the_stem(
    source, track, speech_engine
):
    levels = CueVolumes(names=LOUD, counts=OFF, clicks=OFF)
    (stretch,) = plan_stretches(source, CuePlan(choice=SpeechChoice(levels=levels)))
    silent = Track(np.zeros_like(track.samples), track.sample_rate, "silent")
    rendered = render(silent, [segment(stretch, source.sheet, track.sample_rate, speech_engine)])
    sounding = np.abs(rendered.samples[:, 0]) > 10 ** (-50 / 20)
    rate, music = track.sample_rate, rendered.starts[0]
    named = 0
    for before, cue in zip(source.sheet.cues, source.sheet.cues[1:], strict=False):
        last, begin = (music + t - stretch.start for t in (before.hit, cue.start))
        quiet = sounding[int((begin - 0.299) * rate) : int(begin * rate)]
        assert not quiet.any(), cue.name
        named += bool(sounding[int(last * rate) : int((begin - 0.3) * rate)].any())
    assert named == len(source.sheet.cues) - 1


@pytest.mark.parametrize("key", list(FORMATS))
def test_the_file_has_its_loudness_peaks_title_chapters_and_cover(
    source, track, speech_engine, tmp_path, tool, key
):
    path = tmp_path / f"cues.{key}"
    made = write_cue_track(source, track, path, CuePlan(), speech_engine, form=format_of(key))
    again = load_track(path)
    found = pyloudnorm.Meter(again.sample_rate).integrated_loudness(
        again.samples.astype(np.float64)
    )
    assert found == pytest.approx(-16.0, abs=1.0)
    assert measure(again.samples, again.sample_rate).true_peak <= -1.0
    shown = json.loads(
        tool(
            *("ffprobe", "-v", "error", "-show_chapters", "-show_streams", "-show_format"),
            *("-of", "json", str(path)),
        )
    )
    assert float(shown["format"]["duration"]) == pytest.approx(made.length, abs=0.06)
    tags = {k.lower(): v for k, v in shown["format"]["tags"].items()}
    assert tags["title"] == "Test Night / Übung – whole routine"
    chapters = [(c["tags"]["title"], float(c["start_time"])) for c in shown["chapters"]]
    pictures = [s for s in shown["streams"] if s["codec_name"] == "png"]
    if key == "wav":
        assert not chapters
        return
    assert [title for title, _ in chapters] == ["Opening", "Back"]
    music = made.length - 30.0 - 0.5  # the part on stage and the half second it rings out in
    back = source.sheet.sections[1].start - source.sheet.start
    assert chapters[1][1] == pytest.approx(music + back, abs=0.01)
    assert pictures[0]["disposition"]["attached_pic"] == 1
    assert pictures[0]["width"] == 600


@pytest.mark.parametrize("key", ["mp3", "m4a"])
def test_what_the_encoder_takes_from_the_loudness_is_given_back(
    source, track, speech_engine, tmp_path, key
):
    # Half of white noise lies above what a lossy encoder keeps: −17.1 LUFS, once.
    noise = 0.3 * np.random.default_rng(1).standard_normal(track.samples.shape)
    song = Track(noise.astype(np.float32), track.sample_rate, "noise")
    plan = CuePlan(("Back",), choice=SpeechChoice("memory"))
    made = write_cue_track(
        source, song, tmp_path / f"a.{key}", plan, speech_engine, form=format_of(key)
    )
    again = load_track(tmp_path / f"a.{key}")
    found = pyloudnorm.Meter(again.sample_rate).integrated_loudness(
        again.samples.astype(np.float64)
    )
    assert found == pytest.approx(-16.0, abs=0.5)
    assert made.warnings == ()


def test_music_no_gain_brings_to_its_loudness_is_told(source, track, speech_engine, tmp_path):
    clicks = np.zeros_like(track.samples)
    clicks[:: track.sample_rate] = 1.0
    song = Track(clicks, track.sample_rate, "clicks")
    plan = CuePlan(("Back",), choice=SpeechChoice("memory"))
    made = write_cue_track(source, song, tmp_path / "a.flac", plan, speech_engine)
    assert made.loudness.true_peak <= -1.0
    assert "LUFS loud: its music is too quiet or too uneven" in made.warnings[0]
    silent = Track(np.zeros_like(clicks), track.sample_rate, "silent")
    with pytest.raises(UserError, match="Nothing would be heard in the cue track"):
        write_cue_track(source, silent, tmp_path / "b.flac", plan, speech_engine)


def test_what_is_written_is_what_was_rendered(source, track, speech_engine, tmp_path):
    choice = SpeechChoice(levels=SPOKEN)
    plan = CuePlan(choice=choice)
    path = tmp_path / "cues.mp3"
    write_cue_track(source, track, path, plan, speech_engine)
    again = load_track(path)
    (stretch,) = plan_stretches(source, plan)
    rendered = render(track, [segment(stretch, source.sheet, track.sample_rate, speech_engine)])
    sound, music = again.samples.mean(axis=1), rendered.starts[0]
    counts = counts_of(source, stretch, speech_engine)
    offsets = [
        heard_onset(sound, again.sample_rate, music + line.onset) - music - line.onset
        for line in counts
    ]
    assert_on_beat(counts, offsets)


def test_a_loop_of_a_section_with_rising_tempo(source, track, speech_engine, tmp_path):
    plan = CuePlan(sections=("back",), tempos=(0.6, 0.8, 1.0), rest=1.0)
    assert words_of(plan) == "back, 3 passes, 60 % to 100 %"
    made = write_cue_track(
        source, track, tmp_path / "a.flac", plan, speech_engine, form=format_of("flac")
    )
    titles = [c.title for c in made.chapters]
    assert titles == ["Back, 60 %", "Back, 80 %", "Back, 100 %"]
    lengths = [c.end - c.start for c in made.chapters]
    assert lengths[0] > lengths[1] > lengths[2] > 8.0
    assert made.chapters[0].start == 0.0
    assert made.chapters[-1].end == pytest.approx(made.length)
    assert [s.say for s in plan_stretches(source, plan)] == [
        *("60 percent", "80 percent", "100 percent"),
    ]


def test_a_failing_voice_leaves_clicks_and_one_sentence(source, track, tmp_path, monkeypatch):
    from rehearse.cueing.voice import espeak

    monkeypatch.setattr(espeak, "render", OWN)
    monkeypatch.setattr(espeak, "_loaded", [])
    monkeypatch.setattr(espeak, "_packaged", lambda name: str(tmp_path / "gone.so"))
    made = write_cue_track(source, track, tmp_path / "a.mp3", CuePlan(), SpeechEngine())
    assert len(made.warnings) == 1
    assert "clicks" in made.warnings[0]
    sound = load_track(tmp_path / "a.mp3").samples.mean(axis=1)
    assert np.abs(sound[: 44100 // 2]).max() > 0.05  # the count-in is clicked before the music


def test_a_name_without_room_is_told_once_for_all_passes(source, track, speech_engine, tmp_path):
    hits = ("2:1", "2:1&", "2:2")
    poses = [
        replace(pose, hit=parse_position(hit), hold=Length(0), transition=Length(0))
        for pose, hit in zip(source.routine.poses, hits, strict=False)
    ]
    crowded = make_source(
        source.folder, replace(source.routine, poses=tuple(poses)), source.beatmap
    )
    plan = CuePlan(tempos=(1.0, 1.05))
    made = write_cue_track(
        crowded, track, tmp_path / "a.wav", plan, speech_engine, form=format_of("wav")
    )
    assert made.warnings == (
        "1 name is not said, for want of room: side chest left (2:1&) – give it a shorter spoken "
        "form, or more room.",
    )


def test_a_wish_that_cannot_be_met_is_one_sentence(source, track, speech_engine, tmp_path):
    with pytest.raises(UserError, match="choose one of: Opening, Back"):
        write_cue_track(source, track, tmp_path / "a.mp3", CuePlan(("Nine",)), speech_engine)
    endless = CuePlan(tempos=(0.4,) * 40)  # 40 times 75 s, 5 s of counts, 2 s of rest
    with pytest.raises(UserError, match="would last 55 minutes, and 40 are the most"):
        write_cue_track(source, track, tmp_path / "a.mp3", endless, speech_engine)
    with pytest.raises(UserError, match="at least one tempo"):
        plan_stretches(source, CuePlan(tempos=()))


def test_it_can_be_stopped_and_reports_on_the_way(source, track, speech_engine, tmp_path):
    class Halt(Exception):
        pass

    def made(stop):
        told = []

        def report(fraction, text):
            told.append(fraction)
            if len(told) == stop:
                raise Halt

        with contextlib.suppress(Halt):
            write_cue_track(
                source, track, tmp_path / "a.mp3", CuePlan(), speech_engine, report=report
            )
        assert told == sorted(told)
        return told

    # At the rendering, the loudness, in the midst of the writing, and at the check.
    for stop in (1, 2, 10, 24):
        assert len(made(stop)) == stop
        assert not list(tmp_path.iterdir())
    assert max(np.diff(made(0))) < 0.51
    assert list(tmp_path.iterdir())
