"""The scheduler with a stretch cache whose moments of delivery the test decides."""

import gc
import weakref

import numpy as np
import pytest

from rehearse.playback.mix import Mixer
from rehearse.playback.mix_scheduler import MixScheduler
from rehearse.playback.segment import Clip, Segment
from rehearse.playback.stretch_chunks import chunk_at, render_chunk
from tests.helpers.playback_tools import RATE, onsets


class SlowSupply:
    """Delivers what was asked when the test says so."""

    def __init__(self, samples):
        self.samples, self.asked, self.kept = samples, {}, {}
        self.render = render_chunk

    def get(self, chunk):
        return self.kept.get(chunk)

    def ask(self, chunk, *, urgent):
        if chunk not in self.kept:
            self.asked[chunk] = self.asked.get(chunk, False) or urgent
        return self.kept.get(chunk)

    def waiting(self, *, urgent):
        return sum(1 for each in self.asked.values() if each == urgent)

    def forget(self):
        self.asked = {}

    def deliver(self, kind=None):
        for chunk in [p for p in self.asked if kind in (None, p.kind)]:
            del self.asked[chunk]
            self.kept[chunk] = self.render(self.samples, RATE, chunk)


@pytest.fixture
def stand(clicks):
    track, _ = clicks
    mixer, stretch_cache = Mixer(RATE), SlowSupply(track.samples)
    return mixer, stretch_cache, MixScheduler(mixer, stretch_cache, track.samples)


def silence(_samples, rate, chunk):
    """As long as what is stretched, made at once."""
    frames = round((chunk.last - chunk.first) / chunk.tempo) + 2 * chunk.margin(rate)
    return np.zeros((frames, 2), np.float32)


def run(mixer, scheduler, seconds, stretch_cache=None, block=1024):
    sound = []
    for _ in range(round(seconds * RATE / block)):
        scheduler.step()
        if stretch_cache is not None:
            stretch_cache.deliver()
        sound.append(mixer.pull(block))
    return np.concatenate(sound)


def test_full_tempo_starts_with_the_next_block(stand):
    mixer, _, scheduler = stand
    scheduler.play(Segment("a", 1.0, 3.0), None, True, False)
    assert run(mixer, scheduler, 0.05).any()


def test_slow_music_starts_with_its_opening_and_does_not_run_dry(stand):
    mixer, stretch_cache, scheduler = stand
    scheduler.play(Segment("a", 1.0, 9.0, 0.6), None, True, False)
    assert not run(mixer, scheduler, 0.2).any()
    assert [chunk.kind for chunk, urgent in stretch_cache.asked.items() if urgent] == ["opening"]
    stretch_cache.deliver("opening")
    scheduler.step()
    assert run(mixer, scheduler, 0.1).any()
    run(mixer, scheduler, 30, stretch_cache)
    assert mixer.missing == 0


def test_later_passes_use_the_whole_rendering(stand):
    mixer, stretch_cache, scheduler = stand
    scheduler.play(Segment("a", 1.0, 3.0, 0.8), None, True, False)
    run(mixer, scheduler, 2.6, stretch_cache)
    loop_pass, buffer, _, _ = mixer.place
    assert buffer is loop_pass.buffer
    assert len(buffer._blocks) == 1


def test_a_count_in_starts_at_once(stand):
    mixer, _, scheduler = stand
    scheduler.play(Segment("a", 1.0, 3.0, 0.8, lead=1.0), None, True, False)
    run(mixer, scheduler, 0.05)
    assert mixer.place is not None
    assert mixer.place[2] < 0


def test_what_plays_goes_on_until_the_new_tempo_is_ready(stand):
    mixer, stretch_cache, scheduler = stand
    scheduler.play(Segment("a", 1.0, 9.0, 0.8), None, True, False)
    run(mixer, scheduler, 1.0, stretch_cache)
    scheduler.play(Segment("a", 1.0, 9.0, 0.5), None, True, True)
    run(mixer, scheduler, 0.3)
    assert mixer.place[0].span.tempo == 0.8
    before = mixer.place[0].span.source_of(mixer.place[2])
    stretch_cache.deliver("opening")
    scheduler.step()
    run(mixer, scheduler, 0.1)
    assert mixer.place[0].span.tempo == 0.5
    after = mixer.place[0].span.source_of(mixer.place[2])
    assert before < after < before + 0.1
    assert mixer.missing == 0


def test_a_change_near_the_end_of_a_loop_finds_its_place_in_the_next_pass(stand):
    mixer, stretch_cache, scheduler = stand
    scheduler.play(Segment("a", 1.0, 3.0), None, True, False)
    run(mixer, scheduler, 1.9, stretch_cache)
    scheduler.play(Segment("a", 1.0, 3.0, 0.6), None, True, True)
    run(mixer, scheduler, 0.4)  # the loop begins anew before the opening is there
    assert mixer.place[2] < RATE
    run(mixer, scheduler, 1.0, stretch_cache)
    assert mixer.place[0].span.tempo == 0.6
    assert mixer.missing == 0
    assert mixer.place[0].span.source_of(mixer.place[2]) < 2.2


def test_the_neighbouring_steps_are_prepared(stand):
    mixer, stretch_cache, scheduler = stand
    scheduler.play(Segment("a", 1.0, 9.0, 0.8), None, True, False)
    run(mixer, scheduler, 1.0, stretch_cache)
    for tempo in (0.75, 0.85):
        assert stretch_cache.get(chunk_at(2.0 * RATE, RATE, tempo)) is not None
    scheduler.play(Segment("a", 1.0, 9.0, 0.75), None, True, True)
    mixer.pull(512)
    assert mixer.place[0].span.tempo == 0.75


def test_only_the_last_of_many_wishes_is_played(stand):
    mixer, stretch_cache, scheduler = stand
    for tempo in (0.9, 0.8, 0.7, 0.6):
        scheduler.play(Segment("a", 1.0, 9.0, tempo), None, True, True)
        scheduler.step()
    assert {chunk.tempo for chunk, urgent in stretch_cache.asked.items() if urgent} == {0.6}
    run(mixer, scheduler, 1.0, stretch_cache)
    assert mixer.place[0].span.tempo == 0.6


def test_what_follows_is_ready_before_its_turn(stand):
    mixer, stretch_cache, scheduler = stand
    scheduler.play(Segment("a", 1.0, 2.0), None, True, False)
    run(mixer, scheduler, 0.3, stretch_cache)
    scheduler.then(Segment("b", 4.0, 6.0, 0.7), False)
    run(mixer, scheduler, 5.0, stretch_cache)
    assert mixer.missing == 0
    assert [(mark.span.key, mark.motion) for mark in mixer.marks if mark.began] == [
        ("a", "running"),
        ("b", "running"),
    ]
    assert mixer.place is None


def test_passes_that_are_over_hold_no_music(stand):
    """Each pass follows by `then`, as in a rehearsal; none is short enough for one piece."""
    mixer, stretch_cache, scheduler = stand
    stretch_cache.render = silence
    scheduler.play(Segment("0", 0.0, 45.0, 0.9), None, False, False)
    buffers = []
    for turn in range(1, 6):
        run(mixer, scheduler, 5.0, stretch_cache, 16384)
        buffers.append(weakref.ref(mixer.place[1]))
        scheduler.then(Segment(str(turn), 0.0, 45.0, 0.9), False)
        run(mixer, scheduler, 46.0, stretch_cache, 16384)
        stretch_cache.kept.clear()  # the store gives up what is not used for long
    gc.collect()
    assert mixer.missing == 0
    assert len({mark.span.key for mark in mixer.marks}) == 6
    assert sum(buffer() is not None for buffer in buffers) <= 1
    assert len(scheduler._fillings) <= 3
    assert len(scheduler._loop_passes) <= 3


@pytest.mark.parametrize("repeat", [True, False])
def test_a_long_slow_pass_holds_what_is_heard_and_little_more(stand, repeat):
    mixer, stretch_cache, scheduler = stand
    stretch_cache.render = silence
    scheduler.play(Segment("a", 0.0, 45.0, 0.5), None, repeat, False)
    for _ in range(12 if repeat else 8):
        run(mixer, scheduler, 10.0, stretch_cache, 16384)
        stretch_cache.kept.clear()
        held = sum(len(block) for block in mixer.place[1]._blocks) / RATE
        assert held < 22.0  # ten seconds ahead, one behind, and the pieces they lie in
    assert mixer.missing == 0


def test_a_change_in_the_count_in_goes_on_from_the_count_it_is_at(stand):
    """At 120 counts a minute, four counts in: two are left, also in the new tempo."""
    mixer, stretch_cache, scheduler = stand
    clicks = {
        tempo: tuple(Clip(-k * 0.5 / tempo, np.full(300, 0.3, np.float32)) for k in range(4, 0, -1))
        for tempo in (1.0, 0.5)
    }
    scheduler.play(Segment("a", 1.0, 5.0, 1.0, 2.0, clicks[1.0]), None, False, False)
    run(mixer, scheduler, 1.02, stretch_cache)
    left = -mixer.place[2] / RATE / 0.5
    assert left == pytest.approx(2.0, abs=0.1)
    scheduler.play(Segment("b", 1.0, 5.0, 0.5, 4.0, clicks[0.5]), None, False, True)
    run(mixer, scheduler, 0.1, stretch_cache)
    assert mixer.place[0].span.key == "b"
    assert -mixer.place[2] / RATE == pytest.approx(left * 1.0 - 0.1, abs=0.06)
    sound = run(mixer, scheduler, 4.0, stretch_cache)
    heard = onsets(np.abs(sound), RATE, least=0.05, apart=0.5)
    assert mixer.missing == 0
    assert len(heard) > 0
    assert next(m.began for m in mixer.marks if m.span.key == "b")


def test_a_count_under_way_at_a_change_is_not_cut_short(stand):
    mixer, stretch_cache, scheduler = stand
    word = np.full(RATE // 2, 0.25, np.float32)
    for key, keep in (("a", False), ("b", True)):
        segment = Segment(key, 1.0, 3.0, 1.0, 1.0, (Clip(-0.8, word, "speech"),))
        scheduler.play(segment, None, False, keep)
        sound = run(mixer, scheduler, 0.4, stretch_cache)
    assert np.abs(sound[: int(0.2 * RATE), 0]).min() > 0.1


def test_a_count_in_to_other_music_begins_from_its_beginning(stand):
    mixer, stretch_cache, scheduler = stand
    scheduler.play(Segment("a", 1.0, 5.0, 1.0, 2.0), None, False, False)
    run(mixer, scheduler, 1.0, stretch_cache)
    scheduler.play(Segment("b", 2.0, 5.0, 1.0, 2.0), None, False, True)
    run(mixer, scheduler, 0.1, stretch_cache)
    assert mixer.place[0].span.key == "b"
    assert mixer.place[2] / RATE < -1.8


def test_then_also_counts_for_a_passage_that_has_not_started_yet(stand):
    mixer, stretch_cache, scheduler = stand
    scheduler.play(Segment("a", 1.0, 2.0, 0.9), None, True, False)
    scheduler.then(None, False)
    run(mixer, scheduler, 3.0, stretch_cache)
    assert mixer.place is None
    assert [mark.span.key for mark in mixer.marks if mark.began] == ["a"]


def test_a_jump_at_full_tempo_is_the_track_itself(stand, clicks):
    mixer, stretch_cache, scheduler = stand
    scheduler.play(Segment("a", 1.0, 9.0, 0.8), None, True, False)
    run(mixer, scheduler, 0.5, stretch_cache)
    scheduler.play(Segment("a", 1.0, 9.0), 5.0, True, False)
    sound = run(mixer, scheduler, 0.5, stretch_cache)[-4096:]
    _, _, j, _ = mixer.place
    frame = RATE + j - len(sound) - mixer._limiter.margin
    assert np.array_equal(sound, clicks[0].samples[frame : frame + len(sound)])
