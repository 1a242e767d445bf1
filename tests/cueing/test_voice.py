"""The voice: measured onsets against an independent detector, keeping, recordings, failures."""

from __future__ import annotations

import itertools
import struct
import threading
import time
from types import SimpleNamespace

import librosa
import numpy as np
import pytest
import soundfile

from rehearse.cueing.voice import VOICES, SpeechEngine, VoiceSetting, espeak, speech_cache
from rehearse.cueing.voice.onset import stressed_onset, utterance
from rehearse.cueing.voice.recordings import load_recording
from rehearse.files.media import VOICE, open_media
from rehearse.files.user_error import UserError
from rehearse.handout.encode import encode
from rehearse.handout.formats import format_of

ENGLISH = [v.key for v in VOICES if v.key.startswith("English")]


def flux_onset(samples, rate):
    """Independent of the product's measure: peak of the mel-band spectral flux of librosa
    (log power, 300–3000 Hz, hop 1 ms) – the onset strength common in music research – within
    the first 150 ms of the word, which hold the first vowel of every count."""
    quiet = np.pad(samples, (rate // 5, rate // 5))
    hop = rate // 1000
    power = librosa.feature.melspectrogram(
        y=quiet, sr=rate, n_fft=512, hop_length=hop, n_mels=40, fmin=300, fmax=3000
    )
    flux = librosa.onset.onset_strength(S=librosa.power_to_db(power, top_db=40), sr=rate, lag=5)
    return (np.argmax(flux[: int(0.35 * rate / hop)]) - 2.5) * hop / rate - 0.2


@pytest.mark.parametrize("voice", ENGLISH)
def test_the_stressed_onset_of_every_count_is_where_an_independent_detector_hears_it(
    steady_voice, voice
):
    speech_engine = SpeechEngine(VoiceSetting(voice))
    for count in ("5", "6", "7", "8"):
        said = speech_engine.say(count, "count")
        heard = flux_onset(said.samples, said.sample_rate)
        assert abs(said.onset - heard) <= 0.010, (count, said.onset, heard)


def friction_end(samples, rate):
    """Seconds at which the f or s a word begins with is over: the spectrum, in windows of 10 ms
    a millisecond apart, then leans to the vowel's first formants (200–1500 Hz) and not to the
    hiss above 3.5 kHz. Shares nothing with the product's measure, which looks at loudness."""
    window, step = np.hanning(rate // 100), rate // 1000
    padded = np.pad(samples, (len(window) // 2, len(window)))
    hertz = np.fft.rfftfreq(len(window), 1 / rate)
    vowel, hiss = (hertz >= 200) & (hertz <= 1500), hertz >= 3500
    hissed = False
    for first in range(0, len(padded) - len(window), step):
        power = np.abs(np.fft.rfft(padded[first : first + len(window)] * window)) ** 2
        lean = power[vowel].sum() / power[hiss].sum()
        hissed = hissed or lean < 1
        if hissed and lean >= 3:
            return first / rate
    raise AssertionError("no vowel after the hiss")


#: Voices, and their counts that begin with a voiceless f or s before a plain vowel.
HISSED = {
    **dict.fromkeys(("English, British, man", "English, American, man"), "567"),
    **{"English, British, woman": "67", "English, Scottish, man": "567", "German": "5"},
    **{"French": "567", "Spanish": "6", "Italian": "67", "Portuguese, Brazil": "67"},
    **{"Polish": "67", "Russian": "67"},
}


@pytest.mark.parametrize("voice", HISSED)
@pytest.mark.parametrize("speed", [150, 230, 290])
def test_counts_of_every_voice_and_speed_are_heard_where_their_hiss_ends(
    steady_voice, voice, speed
):
    speech_engine = SpeechEngine(VoiceSetting(voice, count_speed=speed))
    for count in HISSED[voice]:
        said = speech_engine.say(count, "count")
        assert abs(said.onset - friction_end(said.samples, said.sample_rate)) <= 0.010, count


@pytest.mark.parametrize(("voice", "count"), [("German", "6"), ("German", "7"), ("Dutch", "7")])
@pytest.mark.parametrize("speed", [150, 230, 290])
def test_a_voiced_consonant_is_not_taken_for_the_vowel(steady_voice, voice, count, speed):
    # The z of "sieben" and "zeven" hums as loud as a vowel begins; the centre lies after it
    # (Morton, Marcus & Frankish 1976), in every voice some 50 to 90 ms from the word's start.
    said = SpeechEngine(VoiceSetting(voice, count_speed=speed)).say(count, "count")
    assert 0.045 < said.onset < 0.110


def test_a_tick_before_a_recorded_word_is_trimmed_with_the_silence():
    """A hundredth of the word's loudness for one sample: 5 ms around it are as good as silent."""
    rate = 16_000
    word = 0.9 * np.sin(2 * np.pi * 300 * np.arange(rate // 4) / rate).astype(np.float32)
    silence = np.zeros(rate // 2, np.float32)
    silence[100] = 0.03
    spoken = utterance("a", np.concatenate([silence, word]), rate)
    assert spoken.length == pytest.approx(0.25, abs=0.01)


def test_where_the_stress_is_known_the_measure_is_held_to_it():
    rate = 22050
    time = np.arange(rate // 2) / rate
    hum = 0.5 * np.sin(2 * np.pi * 400 * time)
    assert utterance("", hum, rate).onset < 0.02
    silence = np.zeros(rate // 10)
    said = utterance("", np.concatenate([silence, hum]), rate, stress=(0.16, 0.18))
    assert 0.055 <= said.onset <= 0.065  # the silence is trimmed, and so is what is known
    assert utterance("", hum, rate, stress=(9.0, 9.0)).onset <= 0.5
    trimmed = utterance("", np.concatenate([silence, hum]), rate, stress=(0.0, 0.05))
    assert trimmed.onset == 0.0  # it lay in the silence: no earlier than the first sample


def test_the_s_of_six_comes_before_the_beat_and_its_vowel_on_it(steady_voice):
    # Morton, Marcus & Frankish 1976: the perceptual centre of a word with a long first
    # consonant lies well after its first sound; of "eight", which has none, at its start.
    speech_engine = SpeechEngine()
    assert 0.045 < speech_engine.say("6", "count").onset < 0.110
    assert speech_engine.say("8", "count").onset < 0.015


def test_the_onset_of_a_click_after_hiss_is_the_click():
    rate = 22050
    rng = np.random.default_rng(3)
    hiss = np.diff(rng.standard_normal(rate // 10 + 1)) * 0.02  # high-pitched, as an s is
    tone = 0.5 * np.sin(2 * np.pi * 700 * np.arange(rate // 5) / rate)
    assert stressed_onset(np.concatenate([hiss, tone]), rate) == pytest.approx(0.1, abs=0.009)


@pytest.mark.parametrize("rise", [0.03, 0.06])
def test_the_onset_of_a_tone_that_swells_lies_in_its_rise_at_every_rate_and_place(rise):
    found = []
    for rate, begin in ((8000, 0.1), (22050, 0.1), (48000, 0.1), (16000, 0.13)):
        time = np.arange(rate // 2) / rate - begin
        tone = np.clip(time / rise, 0.0, 1.0) * np.sin(2 * np.pi * 500 * time)
        found.append(stressed_onset(tone, rate) - begin)
    assert 0.0 < found[0] < rise / 2
    assert found == pytest.approx([found[0]] * 4, abs=0.0005)


@pytest.mark.parametrize(("first", "onset"), [(0.3, 0.35), (0.5, 0.05)])
def test_a_syllable_far_below_the_loudest_is_not_the_stressed_one(first, onset):
    """Four tenths of the loudest are enough: a prefix is less, a first vowel is more."""
    rate = 16_000
    time = np.arange(rate // 2) / rate
    loud = np.where((time > 0.05) & (time < 0.2), first, 0.0) + np.where(time > 0.35, 1.0, 0.0)
    word = loud * np.sin(2 * np.pi * 500 * time)
    assert stressed_onset(word, rate) == pytest.approx(onset, abs=0.008)


def test_an_utterance_begins_with_sound_and_all_are_equally_loud(steady_voice):
    levels = []
    for voice in ENGLISH:
        said = SpeechEngine(VoiceSetting(voice)).say("front double biceps")
        head = np.abs(said.samples[: int(0.012 * said.sample_rate)]).max()
        assert head > np.abs(said.samples).max() * 10 ** (-40 / 20)
        assert np.abs(said.samples).max() <= 0.89 + 1e-6
        loud = np.sort(np.abs(said.samples))[len(said.samples) // 2 :]
        levels.append(20 * np.log10(np.sqrt(np.mean(loud**2))))
    assert max(levels) - min(levels) < 1.0


def test_speeds_differ_and_digits_are_said_in_the_voices_language(steady_voice):
    slow, fast = (SpeechEngine(VoiceSetting(name_speed=s)).say("most muscular") for s in (130, 300))
    assert slow.length > 1.5 * fast.length
    lengths = {v.key: SpeechEngine(VoiceSetting(v.key)).say("5", "count").length for v in VOICES}
    assert all(0.12 < length < 0.75 for length in lengths.values()), lengths


def test_a_text_is_rendered_once_and_then_read_from_disk(tmp_path, monkeypatch):
    rendered = []
    real = espeak.render
    monkeypatch.setattr(espeak, "render", lambda *a: rendered.append(a) or real(*a))
    first = SpeechEngine(kept=tmp_path / "voice").say("vacuum")
    second = SpeechEngine(kept=tmp_path / "voice").say("vacuum")
    assert len(rendered) == 1
    np.testing.assert_array_equal(first.samples, second.samples)
    assert (first.onset, first.sample_rate) == (second.onset, second.sample_rate)
    SpeechEngine(VoiceSetting(name_speed=150), kept=tmp_path / "voice").say("vacuum")
    assert len(rendered) == 2


@pytest.mark.parametrize("damage", [b"", b"PK\x03\x04 broken", b"\x00" * 400])
def test_a_damaged_kept_file_is_made_again(steady_voice, tmp_path, damage):
    whole = SpeechEngine(kept=tmp_path).say("vacuum")
    (file,) = tmp_path.iterdir()
    file.write_bytes(damage)
    again = SpeechEngine(kept=tmp_path).say("vacuum")
    np.testing.assert_array_equal(again.samples, whole.samples)
    assert speech_cache.load(tmp_path, "vacuum", VOICES[0].code, 190) is not None


def test_a_folder_that_cannot_be_written_only_costs_rendering(tmp_path):
    (tmp_path / "voice").write_text("a file where the folder should be")
    assert SpeechEngine(kept=tmp_path / "voice").say("crucifix").length > 0.3


@pytest.mark.parametrize("text", ["Кросс", "背阔肌", "وضعية", "ダブル", "💪"])
def test_another_alphabet_is_one_sentence_and_stays_unsaid(text):
    speech_engine = SpeechEngine()
    assert speech_engine.measure(text) is None
    with pytest.raises(UserError, match=text):
        speech_engine.say(text)
    assert len(speech_engine.errors) == 1
    assert "\n" not in speech_engine.errors[0]


def test_a_voice_of_that_alphabet_says_it():
    assert SpeechEngine(VoiceSetting("Russian")).say("двойной бицепс").length > 0.5
    assert SpeechEngine(VoiceSetting("Greek")).measure("δικέφαλοι") is not None


def test_and_is_said_in_the_voices_language(monkeypatch):
    heard = []
    real = espeak.render
    monkeypatch.setattr(espeak, "render", lambda t, *a: heard.append(t) or real(t, *a))
    SpeechEngine(VoiceSetting("German")).say("and", "count")
    assert heard == ["und"]


def test_an_unknown_voice_and_a_text_without_end_are_faults():
    with pytest.raises(UserError, match="choose one of"):
        SpeechEngine(VoiceSetting("nobody"))
    with pytest.raises(UserError, match="short form"):
        SpeechEngine().say("front double biceps " * 20)


@pytest.mark.parametrize("broken", ["missing", "not a library", "no data"])
def test_a_voice_that_does_not_load_is_one_sentence(tmp_path, monkeypatch, broken):
    monkeypatch.setattr(espeak, "_loaded", [])
    library = tmp_path / "library.so"
    if broken == "not a library":
        library.write_bytes(b"\x7fELF nonsense")
    if broken == "no data":
        real = espeak._packaged
        empty = {"get_data_path": str(tmp_path)}
        monkeypatch.setattr(espeak, "_packaged", lambda name: empty.get(name) or real(name))
    else:
        monkeypatch.setattr(espeak, "_packaged", lambda name: str(library))
    speech_engine = SpeechEngine()
    assert speech_engine.measure("vacuum") is None
    assert speech_engine.measure("5", "count") is None
    assert len(speech_engine.errors) == 1
    assert "clicks" in speech_engine.errors[0]


def test_an_own_recording_is_taken_instead_and_trimmed(tmp_path):
    rate = 44100
    tone = 0.3 * np.sin(2 * np.pi * 500 * np.arange(rate // 2) / rate)
    padded = np.concatenate([np.zeros(rate), tone, np.zeros(rate)])
    soundfile.write(tmp_path / "Front-Double Biceps.wav", padded, rate)
    soundfile.write(tmp_path / "5.flac", padded, rate)
    speech_engine = SpeechEngine(recordings=tmp_path)
    said = speech_engine.say("front double biceps")
    assert said.sample_rate == rate
    assert said.length == pytest.approx(0.5, abs=0.02)
    assert said.onset < 0.02
    assert speech_engine.say("5", "count").length == pytest.approx(0.5, abs=0.02)
    assert speech_engine.say("6", "count").sample_rate == 22050
    # A name as one system writes it, "U" and its dots two characters, and as it is typed.
    soundfile.write(tmp_path / "U\u0308bung.wav", padded, rate)
    assert SpeechEngine(recordings=tmp_path).say("\u00dcbung").sample_rate == rate


@pytest.mark.parametrize("ending", ["wav", "flac", "mp3", "ogg", "m4a"])
@pytest.mark.parametrize(("rate", "channels"), [(44100, 1), (48000, 2), (16000, 1)])
def test_a_recorded_count_is_short_and_may_have_any_format(tmp_path, ending, rate, channels):
    rate = max(rate, 32000) if ending == "m4a" else rate  # what is written here
    tone = 0.3 * np.sin(2 * np.pi * 500 * np.arange(int(0.25 * rate)) / rate)
    padded = np.concatenate([np.zeros(rate // 10), tone, np.zeros(rate // 10)])
    sound = np.stack([padded] * channels, axis=1)
    if ending == "m4a":
        stereo = np.stack([padded] * 2, axis=1).astype(np.float32)
        (tmp_path / "5.m4a").write_bytes(encode(stereo, rate, format_of("m4a")))
    else:
        soundfile.write(tmp_path / f"5.{ending}", sound, rate)
    said = SpeechEngine(recordings=tmp_path).say("5", "count")
    assert said.length == pytest.approx(0.25, abs=0.03)
    assert said.onset < 0.03
    assert said.sample_rate == rate


def test_a_recorded_name_is_used_with_its_turns_said_behind_it(tmp_path):
    rate = 44100
    tone = 0.3 * np.sin(2 * np.pi * 500 * np.arange(rate // 2) / rate)
    soundfile.write(tmp_path / "crucifix.mp3", tone, rate)
    speech_engine = SpeechEngine(recordings=tmp_path)
    said, name = speech_engine.say("crucifix, back, kneel"), speech_engine.say("crucifix")
    assert said.sample_rate == rate
    np.testing.assert_array_equal(said.samples[: len(name.samples)], name.samples)
    turns = speech_engine.say("back").length + speech_engine.say("kneel").length
    assert said.length == pytest.approx(name.length + turns + 0.2, abs=0.01)
    assert said.onset == name.onset
    assert speech_engine.say("crouch, back").sample_rate == 22050  # nothing of it is recorded


def test_a_recording_that_is_silent_too_long_or_broken_is_named(tmp_path):
    soundfile.write(tmp_path / "crab.wav", np.zeros(44100), 44100)
    soundfile.write(tmp_path / "vacuum.wav", 0.1 * np.ones(44100 * 16), 44100)
    (tmp_path / "victory.wav").write_bytes(b"RIFF nothing")
    speech_engine = SpeechEngine(recordings=tmp_path)
    for text in ("crab", "vacuum", "victory"):
        assert speech_engine.say(text).sample_rate == 22050  # the voice steps in
    assert [s.split(":")[0] for s in speech_engine.errors] == [
        "crab.wav",
        "vacuum.wav",
        "victory.wav",
    ]
    for content in (b"", b"\x00" * 4000, b"ID3 and nothing else", b"OggS\x00\x02"):
        (tmp_path / "victory.wav").write_bytes(content)
        speech_engine = SpeechEngine(recordings=tmp_path)
        assert speech_engine.measure("victory") is not None
        reasons = (
            "victory.wav: is no recording that can be read",
            "victory.wav: the file is empty",
        )
        assert speech_engine.errors[0].startswith(reasons)
    soundfile.write(tmp_path / "bow.wav", np.full(9000, np.nan), 44100, "FLOAT")
    speech_engine = SpeechEngine(recordings=tmp_path)
    assert speech_engine.measure("bow") is not None
    assert speech_engine.errors[0].startswith("bow.wav: is silent")


def test_samples_come_at_the_tracks_rate_with_the_onset_kept(steady_voice):
    speech_engine = SpeechEngine()
    said = speech_engine.say("7", "count")
    at_rate = speech_engine.samples("7", "count", 48000)
    assert len(at_rate) / 48000 == pytest.approx(said.length, abs=0.001)
    assert stressed_onset(at_rate, 48000) == pytest.approx(said.onset, abs=0.002)


def test_many_threads_speak_at_once():
    failures = []

    def talk(word):
        try:
            for k in range(6):
                assert SpeechEngine().say(f"{word} {k}").length > 0.2
        except Exception as error:
            failures.append(error)

    threads = [threading.Thread(target=talk, args=(w,)) for w in ("one", "two", "six", "ten")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failures


def test_a_cue_takes_milliseconds():
    speech_engine = SpeechEngine()
    speech_engine.say("warm up")
    texts = [f"side chest {k}" for k in range(20)]
    begin = time.process_time()  # whatever else the machine is doing
    for text in texts:
        speech_engine.say(text)
    assert (time.process_time() - begin) / len(texts) < 0.05


def test_silence_is_no_utterance():
    with pytest.raises(ValueError, match="nothing is heard"):
        utterance("", np.zeros(1000, np.float32), 22050)


@pytest.mark.parametrize("rate", [1, 300])
def test_a_recording_of_a_rate_that_no_voice_has_is_told(rate, tmp_path):
    data = (4000 * np.sin(np.arange(200))).astype(np.int16)
    soundfile.write(tmp_path / "bow.wav", data, rate)
    with pytest.raises(UserError, match=f"has {rate} samples a second"):
        load_recording(tmp_path / "bow.wav", "bow")


def test_a_sound_that_only_falls_has_its_onset_at_its_beginning():
    assert stressed_onset(np.ones(12, np.float32), 1) == 0.0


def test_a_recording_at_a_studios_rate_is_kept_at_48_khz(tmp_path):
    time = np.arange(192_000) / 192_000
    soundfile.write(tmp_path / "bow.wav", 0.5 * np.sin(2 * np.pi * 440 * time), 192_000)
    said = load_recording(tmp_path / "bow.wav", "bow")
    assert said.sample_rate == 48_000
    assert said.length == pytest.approx(1.0, abs=0.02)


def test_packets_that_never_give_a_sound_are_given_up(tmp_path):
    """Counted, not timed: a stream of packets that a decoder makes nothing of."""
    form = struct.pack("<HHIIHH", 6, 8, 1, 1, 1, 1)
    body = b"WAVEfmt " + struct.pack("<I", 16) + form
    body += b"data" + struct.pack("<I", 400_000) + bytes(400_000)
    (tmp_path / "bow.wav").write_bytes(b"RIFF" + struct.pack("<I", len(body)) + body)
    taken = []
    empty = SimpleNamespace(decode=lambda: taken.append(1) or [], stream_index=0)
    with open_media(tmp_path / "bow.wav", VOICE) as media:
        sound = media.sound
        media.container = SimpleNamespace(demux=lambda *streams: itertools.repeat(empty, 50_000))
        assert not [frame for _, frames in media.decoded(sound) for frame in frames]
    assert len(taken) <= 20_001
    with pytest.raises(UserError):
        load_recording(tmp_path / "bow.wav", "bow")


@pytest.mark.parametrize("hertz", [150, 400])
def test_a_sound_cut_out_of_a_louder_one_begins_and_ends_without_a_click(hertz):
    rate = 8000
    said = utterance("tone", np.sin(2 * np.pi * hertz * np.arange(rate) / rate), rate).samples
    middle = np.abs(said[rate // 4 : -rate // 4]).max()
    for end in (said[:8], said[-8:]):  # 1 ms
        assert 0.0 < np.abs(end).max() < 0.5 * middle
    assert (said[0], said[-1]) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("phonemes", "stress"),
    [
        ([(0.0, b"k"), (0.1, b"l"), (0.15, b"'a"), (0.3, b"l")], (0.1, 0.15)),  # the l glides in
        ([(0.0, b"l"), (0.02, b"j"), (0.1, b"'u"), (0.3, b"n")], (0.0, 0.1)),
        ([(0.0, b"'i"), (0.2, b"l")], (0.0, 0.0)),  # nothing before it, whatever it ends with
        ([(0.0, b"e"), (0.1, b"s"), (0.2, b"'o"), (0.3, b"'a")], (0.2, 0.2)),  # the first of two
        ([(0.0, b"e"), (0.1, b"n")], None),
    ],
)
def test_the_stressed_syllable_begins_between_its_glides_and_its_vowel(phonemes, stress):
    assert espeak._stress(phonemes) == stress


def test_the_longest_text_is_said_and_one_letter_more_is_refused(monkeypatch):
    tone = np.sin(np.arange(4000)).astype(np.float32)
    monkeypatch.setattr(espeak, "render", lambda *_: espeak.Rendering(tone, 8000, None))
    speech_engine = SpeechEngine(VoiceSetting())
    assert speech_engine.say("a" * 120, "name").text == "a" * 120
    with pytest.raises(UserError, match="too long to say"):
        speech_engine.say("a" * 121, "name")
