"""What hardly anyone asks for: tiny segments, the track's edges, odd rates, wish upon wish."""

import gc
import threading
import time
from collections import Counter

import numpy as np
import pytest

from rehearse.playback.loop_pass import AudioBuffer, LoopPass
from rehearse.playback.mix import Mixer, Order
from rehearse.playback.mix_scheduler import MixScheduler
from rehearse.playback.offline_render import render
from rehearse.playback.segment import Clip, Segment
from rehearse.playback.stretch import FASTEST, SLOWEST
from rehearse.playback.stretch_cache import StretchCache
from rehearse.work.pool import Job
from rehearse.work.shared import Shared
from tests.helpers.playback_tools import RATE, frequency, made


def sine(rate, seconds=3.0, pitch=440.0):
    return made(0.3 * np.sin(2 * np.pi * pitch * np.arange(int(seconds * rate)) / rate), rate)


@pytest.mark.parametrize("rate", [8_000, 11_025, 96_000, 192_000])
@pytest.mark.parametrize("tempo", [SLOWEST, 1.0, FASTEST])
def test_tracks_of_any_rate_sound_at_their_pitch_and_length(rate, tempo):
    """A4 = 440 Hz (ISO 16)."""
    track = sine(rate)
    result = render(track, [Segment("a", 0.5, 2.5, tempo)] * 2)
    period = round(2.0 / tempo * rate)
    begin, again = (round(start * rate) for start in result.starts)
    assert again - begin == period
    inside = result.samples[begin + period // 4 : begin + 3 * period // 4, 0]
    assert frequency(inside, rate) == pytest.approx(440.0, abs=0.1)
    assert np.abs(inside).max() == pytest.approx(0.3, abs=0.03)


@pytest.mark.parametrize("frames", [0.2, 1, 2, 100, 352, 353])
def test_passages_shorter_than_a_seam_loop_without_a_step(frames):
    """No step of the sound is larger than the tone's own where passes cross."""
    track = sine(RATE, pitch=100.0)
    segment = Segment("a", 1.0, 1.0 + frames / RATE)
    result = render(track, [segment] * 50)
    periods = np.diff(np.round(np.array(result.starts) * RATE))
    assert set(periods.tolist()) == {max(1.0, float(round(frames)))}
    steps = np.abs(np.diff(result.samples[: round(result.starts[-1] * RATE), 0]))
    largest_rise = 0.6 * 1.5 / max(2, min(352, round(frames)))  # of a fade over the whole pass
    assert steps.max() < 0.3 * 2 * np.pi * 100 / RATE + largest_rise


def test_a_passage_beyond_the_end_of_the_track_is_silent_there():
    track = sine(RATE, seconds=2.0)
    for tempo in (1.0, 0.5):
        result = render(track, [Segment("a", 1.5, 3.0, tempo)])
        begin = round(result.starts[0] * RATE)
        assert np.abs(result.samples[begin : begin + int(0.3 * RATE / tempo)]).max() > 0.25
        assert not result.samples[begin + int(0.8 * RATE / tempo) :].any()
        far = render(track, [Segment("a", 60.0, 61.0, tempo)])
        assert not far.samples.any()
        assert len(far.samples) == pytest.approx(RATE / tempo, abs=400)


@pytest.fixture(scope="module")
def song():
    """A track and what stretches it: three processes, started once."""
    shared = Shared(sine(RATE, seconds=6.0).samples)
    before = threading.enumerate()  # workers that windows share are among them
    stretch_cache = StretchCache(shared, RATE, lambda: None)
    while sum(t.name == "child writer" and t not in before for t in threading.enumerate()) < 3:
        time.sleep(0.01)  # its threads are not left over by the first test
    yield shared, stretch_cache
    stretch_cache.close()


@pytest.fixture
def stand(song):
    shared, stretch_cache = song
    mixer = Mixer(RATE)
    yield mixer, MixScheduler(mixer, stretch_cache, shared.array), stretch_cache
    stretch_cache.forget()


def hear(stand, seconds):
    mixer, scheduler, stretch_cache = stand
    blocks = []
    for _ in range(round(seconds * RATE / 512)):
        scheduler.step()
        while stretch_cache.waiting(urgent=True):
            time.sleep(0.001)
        scheduler.step()
        blocks.append(mixer.pull(512))
    return np.concatenate(blocks)


def test_beyond_the_end_nothing_counts_as_missing(stand):
    mixer, scheduler, _ = stand
    for tempo in (1.0, 0.7):
        scheduler.play(Segment("a", 5.5, 8.0, tempo), None, False, False)
        hear(stand, 1.5)
    assert mixer.missing == 0


def test_what_was_played_is_let_go_without_a_collector(stand):
    """The playback process collects no cycles: whatever is part of one would stay for good."""
    _, scheduler, _ = stand
    gc.collect()
    before = Counter(type(each) for each in gc.get_objects())
    gc.disable()
    try:
        for turn in range(8):
            start = 0.1 * (turn % 7)
            scheduler.play(
                Segment("a", start, start + 3.0, 0.5 + 0.02 * (turn % 15)), None, True, False
            )
            hear(stand, 0.1)
        more = Counter(type(each) for each in gc.get_objects()) - before
    finally:
        gc.enable()
    # What is under way, and what each worker did last; some hundred with one cycle.
    assert more[Job] <= 20
    assert more[LoopPass] <= 12
    assert more[AudioBuffer] <= 20


def test_the_last_of_several_followers_counts(stand):
    mixer, scheduler, _ = stand
    scheduler.play(Segment("a", 1.0, 1.5), None, True, False)
    hear(stand, 0.1)
    for key in ("b", "c", "d"):
        scheduler.then(Segment(key, 2.0, 2.3, 0.9), False)
    hear(stand, 1.2)
    assert [mark.span.key for mark in mixer.marks if mark.began] == ["a", "d"]
    assert mixer.place is None


def test_a_follower_may_be_taken_back(stand):
    mixer, scheduler, _ = stand
    scheduler.play(Segment("a", 1.0, 1.5), None, True, False)
    hear(stand, 0.1)
    scheduler.then(Segment("b", 2.0, 2.3), False)
    scheduler.then(None, False)
    hear(stand, 0.8)
    assert mixer.place is None
    assert [mark.span.key for mark in mixer.marks if mark.began] == ["a"]


def test_orders_without_anything_playing_do_no_harm(stand):
    mixer, scheduler, _ = stand
    mixer.commands.extend([Order("pause"), Order("resume"), Order("stop")])
    scheduler.then(Segment("a", 1.0, 2.0), True)
    assert not hear(stand, 0.1).any()
    assert mixer.place is None


def test_a_clip_longer_than_its_loop_and_one_before_its_lead_do_no_harm():
    track = made(np.zeros(3 * RATE, np.float32))
    long = Clip(0.0, np.full(RATE, 0.05, np.float32))
    early = Clip(-2.0, np.full(100, 0.05, np.float32))
    empty = Clip(0.1, np.zeros(0, np.float32))
    result = render(track, [Segment("a", 1.0, 1.25, lead=0.1, clips=(long, early, empty))] * 4)
    assert np.isfinite(result.samples).all()
    assert np.abs(result.samples).max() == pytest.approx(0.05 * 3, abs=0.01)


@pytest.mark.parametrize(
    ("span", "words"),
    [
        ({"start": 2.0, "end": 2.0}, "cannot run"),
        ({"start": 2.0, "end": 1.0}, "cannot run"),
        ({"start": -1.0, "end": 1.0}, "cannot run"),
        ({"start": float("nan"), "end": 1.0}, "cannot run"),
        ({"start": 0.0, "end": float("inf")}, "cannot run"),
        ({"start": 0.0, "end": 1.0, "tempo": 0.24}, "outside"),
        ({"start": 0.0, "end": 1.0, "tempo": 1.06}, "outside"),
        ({"start": 0.0, "end": 1.0, "lead": -0.1}, "negative"),
    ],
)
def test_what_cannot_be_played_is_refused_with_a_reason(span, words):
    with pytest.raises(ValueError, match=words):
        Segment("a", **span)
