"""Any song a phone holds: formats, channels, rates, tags; and what is no song says so."""

from __future__ import annotations

import contextlib
import re
import struct
import subprocess
import sys

import numpy as np
import pytest
import soundfile

from rehearse.files.user_error import UserError
from rehearse.music.decode import load_track
from rehearse.music.sample_collector import stereo_weights
from tests.helpers.fuzz import seeds

RATE = 44100

FORMATS = {
    "pcm16.wav": [],
    "pcm24.wav": ["-c:a", "pcm_s24le"],
    "float.wav": ["-c:a", "pcm_f32le"],
    "pcm64.wav": ["-c:a", "pcm_s64le"],
    "double.wav": ["-c:a", "pcm_f64le"],
    "plain.aiff": [],
    "plain.flac": [],
    "plain.ogg": ["-c:a", "libvorbis"],
    "plain.opus": ["-c:a", "libopus"],
    "header.mp3": ["-b:a", "192k"],
    "bare.mp3": ["-b:a", "192k", "-write_xing", "0", "-id3v2_version", "0"],
    "variable.mp3": ["-q:a", "4"],
    "variable bare.mp3": ["-q:a", "4", "-write_xing", "0"],
    "plain.m4a": ["-c:a", "aac", "-b:a", "160k"],
    "early index.m4a": ["-c:a", "aac", "-b:a", "160k", "-movflags", "faststart"],
    "lossless.m4a": ["-c:a", "alac"],
    "stream.aac": ["-c:a", "aac", "-b:a", "160k"],
    "plain.webm": ["-c:a", "libopus"],
}
LOSSLESS = ("wav", "aiff", "flac", "lossless")


@pytest.mark.parametrize("name", FORMATS)
def test_every_format_gives_the_same_music(name, tone, ffmpeg, tmp_path):
    path = tmp_path / name
    ffmpeg("-i", tone, *FORMATS[name], path)
    track = load_track(path)
    assert track.samples.dtype == np.float32
    assert track.samples.flags.c_contiguous
    assert track.samples.shape[1] == 2
    assert track.sample_rate == (48000 if "opus" in name or "webm" in name else RATE)
    # A lossy encoder may pad its ends; decoders disagree by 25 to 46 ms and none is wrong.
    assert track.duration == pytest.approx(6.0, abs=0.06)
    clicks = _clicks(track)
    offset = clicks - np.arange(1, 6)
    # A lossy encoder rounds the edge of a click by a millisecond or two.
    assert np.ptp(offset) < 0.004
    assert abs(float(np.median(offset))) < 0.06
    assert _strongest(track.samples[:, 1], track.sample_rate) == pytest.approx(660, abs=2)
    if any(word in name for word in LOSSLESS):
        expected, _ = soundfile.read(tone, dtype="float32")
        assert np.abs(track.samples - expected).max() < 1e-4


def _clicks(track):
    jump = np.abs(np.diff(track.samples[:, 0]))
    edges = []
    for second in range(1, 6):
        first = int((second - 0.2) * track.sample_rate)
        edges.append(
            (first + int(np.argmax(jump[first : first + track.sample_rate // 2])))
            / track.sample_rate
        )
    return np.asarray(edges)


def _strongest(channel, rate):
    spectrum = np.abs(np.fft.rfft(channel * np.hanning(len(channel))))
    return np.argmax(spectrum) * rate / len(channel)


@pytest.mark.parametrize("rate", [8000, 11025, 22050, 44056, 48000])
def test_a_song_keeps_its_own_rate(rate, tone, ffmpeg, tmp_path):
    path = tmp_path / "song.flac"
    ffmpeg("-i", tone, "-ar", rate, path)
    track = load_track(path)
    assert track.sample_rate == rate
    assert track.duration == pytest.approx(6.0, abs=0.01)


@pytest.mark.parametrize(
    ("rate", "kept"), [(50000, 48000), (88200, 44100), (96000, 48000), (192000, 48000)]
)
def test_more_than_48_khz_is_brought_down_while_it_is_read(rate, kept, tmp_path):
    # Left tones of known height – 30 kHz can't be there at 48 kHz –, right a click at 3 s.
    time = np.arange(6 * rate) / rate
    wave = 0.2 * np.sin(2 * np.pi * 1000 * time) + 0.2 * np.sin(2 * np.pi * 15000 * time)
    if rate > 60000:
        wave += 0.2 * np.sin(2 * np.pi * 30000 * time)
    click = np.where(np.arange(6 * rate) == 3 * rate, 0.9, 0.0)
    soundfile.write(tmp_path / "song.wav", np.stack([wave, click], axis=1), rate, subtype="FLOAT")
    track = load_track(tmp_path / "song.wav")
    assert track.sample_rate == kept
    assert track.frames == 6 * kept
    spectrum = np.abs(np.fft.rfft(track.samples[: 2 * kept, 0] * np.hanning(2 * kept)))
    high = np.sort(np.argsort(spectrum)[::-1][:2]) / 2
    assert high == pytest.approx([1000, 15000], abs=0.6)
    assert spectrum[2 * 20000 :].max() < 1e-4 * spectrum.max()
    assert int(np.argmax(np.abs(track.samples[:, 1]))) == pytest.approx(3 * kept, abs=1)


def test_a_long_song_at_a_high_rate_takes_no_more_memory(ffmpeg, tmp_path):
    # 2 min at 192 kHz are 184 MB of floats; at 48 kHz 46 MB.
    path = tmp_path / "song.flac"
    ffmpeg("-f", "lavfi", "-i", "sine=440:r=192000:d=120", "-ac", "2", path)
    code = (
        "import re, sys; from pathlib import Path; import av, soxr; from rehearse.music.decode "
        "import load_track; most = lambda: int(re.search(r'VmHWM:\\s*(\\d+)', "
        "Path('/proc/self/status').read_text())[1]); before = most(); "
        "track = load_track(Path(sys.argv[1])); print(track.duration, most() - before)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, path], check=True, capture_output=True, text=True
    )
    seconds, kilobytes = map(float, done.stdout.split())
    assert seconds == pytest.approx(120.0, abs=0.01)
    assert kilobytes < 100_000


@pytest.mark.parametrize(
    ("layout", "channels"),
    [("mono", 1), ("stereo", 2), ("3.0", 3), ("quad", 4), ("5.1", 6), ("7.1", 8)],
)
def test_any_number_of_channels_becomes_two(layout, channels, ffmpeg, tmp_path):
    path = tmp_path / "song.wav"
    tones = "|".join(["0.2*sin(880*PI*t)"] + ["0"] * (channels - 1))
    ffmpeg("-f", "lavfi", "-i", f"aevalsrc={tones}:c={layout}:s=44100:d=3", path)
    # Only the first channel sounds: front left, or the one channel of mono.
    track = load_track(path)
    assert np.abs(track.samples[:, 0]).max() == pytest.approx(0.2, abs=0.01)
    assert np.abs(track.samples[:, 1]).max() == pytest.approx(
        0.2 if layout == "mono" else 0.0, abs=0.01
    )


@pytest.mark.parametrize("name", ["song.opus", "song.ogg", "song.m4a"])
def test_eight_channels_in_planes_of_their_own(name, ffmpeg, tmp_path):
    # Lossy decoders hand out a plane a channel; behind the eighth there is no ninth.
    path = tmp_path / name
    tones = "|".join(["0.2*sin(880*PI*t)"] + ["0"] * 7)
    ffmpeg("-f", "lavfi", "-i", f"aevalsrc={tones}:c=7.1:s=48000:d=3", path)
    samples = load_track(path).samples
    assert np.abs(samples[4800:-4800, 0]).max() == pytest.approx(0.2, abs=0.02)
    assert np.abs(samples[4800:-4800, 1]).max() < 0.02


def test_five_channels_mix_as_the_standard_says():
    # ITU-R BS.775-4, annex 4, table 2 (two channels from 3/2): centre and surround at 0.7071.
    weights = stereo_weights(("FL", "FR", "FC", "LFE", "SL", "SR"))
    root = 0.7071
    expected = [[1, 0], [0, 1], [root, root], [0, 0], [root, 0], [0, root]]
    assert weights == pytest.approx(np.asarray(expected), abs=1e-4)


def test_a_loud_mix_is_turned_down_not_cut(ffmpeg, tmp_path):
    path = tmp_path / "loud.wav"
    loud = "|".join(["0.9*sin(880*PI*t)"] * 6)
    ffmpeg("-f", "lavfi", "-i", f"aevalsrc={loud}:c=5.1:s=44100:d=2", path)
    samples = load_track(path).samples
    assert np.abs(samples).max() == pytest.approx(1.0, abs=1e-3)
    assert np.mean(np.abs(samples) > 0.999) < 0.05


def test_a_float_file_of_a_wrong_scale_is_turned_down(tmp_path):
    wave = np.sin(np.arange(2 * RATE) * 0.05) * 32767.0
    soundfile.write(tmp_path / "loud.wav", wave, RATE, subtype="FLOAT")
    assert np.abs(load_track(tmp_path / "loud.wav").samples).max() == pytest.approx(1.0)


def test_a_film_may_go_on_after_its_music(tone, ffmpeg, tmp_path):
    for name, codec in (("film.mp4", "mpeg4"), ("film.webm", "libvpx")):
        pictures = ["-f", "lavfi", "-i", "testsrc=s=64x64:r=5:d=9"]
        ffmpeg(*pictures, "-i", tone, "-c:v", codec, tmp_path / name)
        assert load_track(tmp_path / name).duration == pytest.approx(6.0, abs=0.1)


def test_a_name_with_a_colon_is_no_address(tone, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "Part 2: Rise.wav").write_bytes(tone.read_bytes())
    (tmp_path / "data:song.wav").write_bytes(tone.read_bytes())
    assert load_track("Part 2: Rise.wav").duration == pytest.approx(6.0)
    assert load_track("data:song.wav").duration == pytest.approx(6.0)


def test_cover_art_and_odd_tags_do_no_harm(tone, ffmpeg, tmp_path):
    picture = tmp_path / "cover.png"
    ffmpeg("-f", "lavfi", "-i", "color=red:s=64x64", "-frames:v", "1", picture)
    plain, dressed = tmp_path / "plain.mp3", tmp_path / "dressed.mp3"
    ffmpeg("-i", tone, "-map_metadata", "-1", plain)
    tags = [
        "-metadata",
        "title=Ünï☃ \u202e",
        "-metadata",
        "TBPM=not a number",
        "-metadata",
        "x=" * 999,
    ]
    art = ["-i", picture, "-map", "0", "-map", "1", "-c:v", "png", "-disposition:v", "attached_pic"]
    ffmpeg("-i", tone, *art, *tags, dressed)
    assert load_track(dressed).content_hash == load_track(plain).content_hash
    assert np.array_equal(load_track(dressed).samples, load_track(plain).samples)


def test_the_hash_names_the_sound_not_the_file(tone, ffmpeg, tmp_path):
    one, same, other = (tmp_path / f"{n}.flac" for n in ("one", "renamed", "other"))
    ffmpeg("-i", tone, one)
    same.write_bytes(one.read_bytes())
    ffmpeg("-i", tone, "-af", "volume=0.99", other)
    assert load_track(one).content_hash == load_track(same).content_hash
    assert load_track(one).content_hash != load_track(other).content_hash


def test_a_tag_behind_the_sound_changes_no_hash(tone, ffmpeg, tmp_path):
    plain, tagged = tmp_path / "plain.mp3", tmp_path / "tagged.mp3"
    ffmpeg("-i", tone, "-write_xing", "0", plain)
    # An APE tag, version 2: one item, then the footer.
    item = struct.pack("<II", 3, 0) + b"Title\0abc"
    footer = b"APETAGEX" + struct.pack("<IIII8x", 2000, len(item) + 32, 1, 0)
    tagged.write_bytes(plain.read_bytes() + item + footer)
    assert load_track(tagged).content_hash == load_track(plain).content_hash


def test_decoding_twice_is_the_same_to_the_bit(tone, ffmpeg, tmp_path):
    path = tmp_path / "song.mp3"
    ffmpeg("-i", tone, path)
    assert np.array_equal(load_track(path).samples, load_track(path).samples)


def test_sound_that_cannot_be_a_number_is_silent(tmp_path):
    samples = np.random.default_rng(0).normal(0, 0.1, (RATE * 2, 2)).astype(np.float32)
    samples[1000] = np.nan
    samples[2000] = np.inf
    soundfile.write(tmp_path / "odd.wav", samples, RATE, subtype="FLOAT")
    assert np.isfinite(load_track(tmp_path / "odd.wav").samples).all()


@pytest.mark.parametrize(
    ("name", "content", "sentence"),
    [
        ("empty.mp3", b"", "the file is empty"),
        ("letter.mp3", b"Dear coach,\nhere is my song.\n" * 40, "is not a song"),
        ("letter.txt", b"Dear coach", "is not a song"),
        ("noise.wav", bytes(range(256)) * 20, "is not a song|has no sound"),
    ],
)
def test_what_is_no_song_says_so(name, content, sentence, tmp_path):
    path = tmp_path / name
    path.write_bytes(content)
    assert re.search(sentence, _error(path))


def test_a_song_of_more_than_half_an_hour_says_so_at_once(ffmpeg, tmp_path):
    path = tmp_path / "long.flac"
    ffmpeg("-f", "lavfi", "-i", "anoisesrc=a=0.1:r=8000:d=1900", path)
    told = []
    with pytest.raises(UserError, match="longer than 30 minutes"):
        load_track(path, lambda fraction, text: told.append(fraction))
    assert not told


@pytest.mark.parametrize("named", ["song.wav", "gone.wav"])
def test_a_list_of_other_files_is_no_song(named, tone, tmp_path):
    (tmp_path / "song.wav").write_bytes(tone.read_bytes())
    (tmp_path / "list.mp3").write_text(f"ffconcat version 1.0\nfile '{named}'\n")
    assert "list.mp3: is a list of other files" in _error(tmp_path / "list.mp3")


def test_a_missing_file_and_a_folder_say_so(tmp_path):
    assert "no such file" in _error(tmp_path / "gone.mp3")
    assert "folder" in _error(tmp_path)


@pytest.mark.parametrize("name", ["picture.png", "picture.mp3", "picture.jpg"])
def test_a_picture_says_so(name, ffmpeg, tmp_path):
    picture = tmp_path / ("x.jpg" if name.endswith("jpg") else "x.png")
    ffmpeg("-f", "lavfi", "-i", "color=red:s=64x64", "-frames:v", "1", picture)
    path = picture.rename(tmp_path / name)
    assert "is not a song" in _error(path)


def test_a_film_without_sound_says_so(ffmpeg, tmp_path):
    ffmpeg("-f", "lavfi", "-i", "testsrc=s=64x64:r=5:d=2", "-c:v", "mpeg4", tmp_path / "film.mp4")
    assert "has no sound in it" in _error(tmp_path / "film.mp4")


@pytest.mark.parametrize(
    "name", [n for n in FORMATS if n not in ("bare.mp3", "variable bare.mp3", "stream.aac")]
)
def test_a_cut_off_file_says_how_much_is_left(name, tone, ffmpeg, tmp_path):
    # An mp3 without header and a bare aac stream do not say how long they are: they just end.
    path = tmp_path / name
    ffmpeg("-i", tone, *FORMATS[name], path)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    sentence = _error(path)
    assert "is cut off" in sentence
    assert re.search(r"only \d\.\d s|nothing can be read", sentence)


@pytest.mark.parametrize("name", ["plain.aiff", "plain.flac", "plain.webm", "early index.m4a"])
def test_a_lost_fraction_of_a_second_is_noticed(name, tone, ffmpeg, tmp_path):
    path = tmp_path / name
    ffmpeg("-i", tone, *FORMATS[name], path)
    path.write_bytes(path.read_bytes()[: int(path.stat().st_size * 0.96)])
    assert "is cut off" in _error(path)


def test_a_file_cut_off_in_its_head_says_so(tone, ffmpeg, tmp_path):
    path = tmp_path / "song.mka"
    ffmpeg("-i", tone, "-c:a", "libvorbis", path)
    path.write_bytes(path.read_bytes()[:1000])
    assert "song.mka: is cut off: nothing can be read" in _error(path)


def test_cut_off_in_the_cover_art_a_song_is_still_whole(tone, ffmpeg, tmp_path):
    picture, path = tmp_path / "cover.png", tmp_path / "song.m4a"
    ffmpeg("-f", "lavfi", "-i", "mandelbrot=s=400x400", "-frames:v", "1", picture)
    art = ["-map", "0", "-map", "1", "-c:v", "copy", "-disposition:v", "attached_pic"]
    ffmpeg("-i", tone, "-i", picture, *art, "-c:a", "aac", path)
    path.write_bytes(path.read_bytes()[:-1000])
    assert load_track(path).duration == pytest.approx(6.0, abs=0.06)


def test_a_recorder_that_never_wrote_its_size_is_not_cut_off(tone, tmp_path):
    piped = subprocess.run(
        ["ffmpeg", "-v", "error", "-i", str(tone), "-f", "wav", "-"],
        check=True,
        capture_output=True,
    ).stdout
    (tmp_path / "piped.wav").write_bytes(piped)
    assert load_track(tmp_path / "piped.wav").duration == pytest.approx(6.0)


def test_a_protected_file_says_so(tone, ffmpeg, tmp_path):
    path = tmp_path / "bought.m4a"
    key = [
        "-encryption_scheme",
        "cenc-aes-ctr",
        "-encryption_key",
        "76a6c65c5ea762046bd749a2e632ccbb",
        "-encryption_kid",
        "a7e61c373e219033c21091fa607bf3b8",
    ]
    ffmpeg("-i", tone, "-c:a", "aac", *key, path)
    assert "is protected" in _error(path)
    plain = tmp_path / "older.m4a"
    ffmpeg("-i", tone, "-c:a", "aac", plain)
    data = plain.read_bytes()
    entry = data.index(b"mp4a", data.index(b"stsd"))
    plain.write_bytes(data[:entry] + b"drms" + data[entry + 4 :])
    assert "is protected" in _error(plain)


def test_a_song_that_states_less_than_no_length_is_read(tmp_path):
    """Its preroll outlasts it (Advanced Systems Format, revision 01.20.06, section 3.2)."""
    data = bytearray(seeds.sound("wma", 1.2))
    head = data.find(bytes.fromhex("a1dcab8c47a9cf118ee400c00c205365"))
    data[head + 80 : head + 88] = (3_600_000).to_bytes(8, "little")  # an hour, in milliseconds
    (tmp_path / "song.wma").write_bytes(data)
    assert load_track(tmp_path / "song.wma").duration == pytest.approx(1.2, abs=0.1)


def test_silence_and_a_blip_say_so(ffmpeg, tmp_path):
    silent, short, offset = (tmp_path / n for n in ("silent.mp3", "short.wav", "offset.wav"))
    ffmpeg("-f", "lavfi", "-i", "anullsrc", "-t", "6", silent)
    ffmpeg("-f", "lavfi", "-i", "sine=440:d=0.4", short)
    assert "is silent" in _error(silent)
    soundfile.write(offset, np.full(RATE * 2, 0.3), RATE)
    assert "is silent" in _error(offset)
    assert "less than a second" in _error(short)


def test_progress_is_told_and_may_stop(tone, ffmpeg, tmp_path):
    long = tmp_path / "long.mp3"
    ffmpeg("-stream_loop", "9", "-i", tone, long)
    told = []
    load_track(long, lambda fraction, text: told.append(fraction))
    assert told == sorted(told)
    assert 0 < told[0] < 0.3
    assert told[-1] > 0.9

    class Stop(Exception):
        pass

    def stop(fraction, text):
        raise Stop

    with pytest.raises(Stop):
        load_track(long, stop)


def test_the_library_is_only_loaded_to_decode():
    code = "import sys, rehearse.music.decode; print('av' in sys.modules, 'librosa' in sys.modules)"
    out = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert out.stdout.split() == ["False", "False"]


def _error(path):
    with pytest.raises(UserError) as caught:
        load_track(path)
    sentence = caught.value.sentence
    assert sentence.endswith(".")
    assert "\n" not in sentence
    return sentence


@pytest.mark.parametrize(
    "name", ["pcm16.wav", "plain.flac", "plain.ogg", "header.mp3", "plain.m4a"]
)
def test_damage_anywhere_gives_a_song_or_a_sentence(name, tone, ffmpeg, tmp_path):
    path = tmp_path / name
    ffmpeg("-i", tone, *FORMATS[name], path)
    whole = path.read_bytes()
    rng = np.random.default_rng(7)
    for _ in range(25):
        data = bytearray(whole[: rng.integers(1, len(whole) + 1)])
        for at in rng.integers(0, min(len(data), 4000), rng.integers(0, 12)):
            data[at] = rng.integers(0, 256)
        path.write_bytes(bytes(data))
        with contextlib.suppress(UserError):
            assert np.isfinite(load_track(path).samples).all()
