"""A song has one length, that of its own samples: what is written of it can always be read."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rehearse.files.user_error import UserErrors
from rehearse.music.analysis.analyse import analyse
from rehearse.music.beatmap import Accent, BeatMap, Build, Confidence, Part, Stretch
from rehearse.music.mapfile import load_map, map_text, save_map
from rehearse.music.settle import last_place, settle
from rehearse.music.track import Track, hash_samples

ENDINGS = ("beat", "silence", "free", "noise", "fade")
RATES = (8000, 11025, 16000, 22050, 32000, 44056, 44100, 47999, 48000)


def made(frames, rate, ending, seed=0):
    """A beat at 128 counts a minute that ends in something else over its last two fifths."""
    rng = np.random.default_rng(seed)
    time = np.arange(frames) / rate
    ticks = np.exp(-40 * (time % (60 / 128))) * rng.normal(0, 0.3, frames)
    chord = 0.2 * np.sin(2 * np.pi * 220 * time) + 0.1 * np.sin(2 * np.pi * 277.2 * time)
    last = {
        "beat": ticks,
        "silence": np.zeros(frames),
        "free": chord,
        "noise": rng.normal(0, 0.2, frames),
        "fade": chord * np.exp(-3 * np.maximum(0, time - time[-1] * 0.6)),
    }[ending]
    mono = np.where(time < 0.6 * time[-1], ticks, last).astype(np.float32)
    samples = np.ascontiguousarray(np.stack([mono, mono], axis=1))
    return Track(samples, rate, hash_samples(samples, rate))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25)
@given(
    rate=st.sampled_from(RATES),
    seconds=st.floats(1.0, 14.0),
    odd=st.integers(0, 400),
    ending=st.sampled_from(ENDINGS),
)
def test_a_map_is_read_as_it_was_made(rate, seconds, odd, ending, tmp_path):
    track = made(int(seconds * rate) + odd, rate, ending)
    beatmap = analyse(track)
    assert beatmap.duration == track.duration
    save_map(tmp_path / "beats.yaml", beatmap)
    assert load_map(tmp_path / "beats.yaml") == beatmap


@pytest.mark.parametrize("ending", ["silence", "free"])
def test_what_lasts_to_the_end_ends_with_the_last_sample(ending):
    # 20 s and one sample: the downmix at 22.05 kHz ends 45 µs after the song.
    track = made(20 * 44100 + 1, 44100, ending)
    beatmap = analyse(track)
    ends = [s.end for s in (*beatmap.free, *beatmap.quiets)]
    assert ends
    assert track.duration - 1e-6 < max(ends) <= track.duration


@given(
    frames=st.integers(100_000, 10_000_000),
    rate=st.sampled_from(RATES),
    over=st.floats(0.0, 0.00049),
)
def test_a_file_that_ends_a_little_late_is_put_right(frames, rate, over):
    duration = round(frames / rate, 6)
    text = map_text(BeatMap("ab12", duration, (0.1,), (1,), quiets=(Stretch(0.2, duration),)))
    late = text.replace(f"{0.2:.6f}\t{duration:.6f}", f"{0.2:.6f}\t{duration + over:.6f}")
    assert read(late).quiets == (Stretch(0.2, duration),)


def test_a_stretch_behind_the_end_is_left_out_and_one_far_outside_is_a_fault():
    text = map_text(BeatMap("ab12", 10.0, quiets=(Stretch(5.0, 6.0),)))
    row = f"{5.0:.6f}\t{6.0:.6f}"
    assert read(text.replace(row, "10.000020\t10.000043")).quiets == ()
    with pytest.raises(UserErrors, match="lies outside the song"):
        read(text.replace(row, "5.000000\t10.002000"))


def read(text):
    import tempfile
    from pathlib import Path

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "beats.yaml"
        path.write_text(text)
        return load_map(path)


times = st.floats(-0.3, 12.3)


@given(frames=st.integers(8000, 96_000 * 12), rate=st.sampled_from(RATES), data=st.data())
def test_any_map_in_memory_can_be_written_and_read(frames, rate, data):
    # Corrections compute freely: a beat at the end, a stretch that reaches over it.
    duration = frames / rate
    beats = sorted(data.draw(st.lists(times, unique=True, max_size=8)))
    pairs = sorted(data.draw(st.lists(times, unique=True, max_size=4)))
    spans = [(a, b) for a, b in zip(pairs[::2], pairs[1::2], strict=False)]
    beatmap = BeatMap(
        "ab12",
        duration,
        tuple(beats),
        tuple(k % 4 + 1 for k in range(len(beats))),
        accents=tuple(Accent(t, 0.123456789) for t in beats),
        builds=tuple(Build(a, b, b) for a, b in spans),
        quiets=tuple(Stretch(a, b) for a, b in spans),
        parts=tuple(Part(a, b, "A") for a, b in spans),
        confidence=tuple(Confidence(a, b, 1 / 3) for a, b in spans),
    )
    again = read(map_text(beatmap))
    assert again == settle(beatmap)
    assert settle(again) == again
    assert again.duration == duration


@given(duration=st.floats(1.0, 2000.0))
def test_the_last_place_is_within_a_microsecond_before_the_end(duration):
    assert duration - 1.1e-6 < last_place(duration) <= duration
    assert f"{last_place(duration):.6f}" == f"{float(f'{last_place(duration):.6f}'):.6f}"
