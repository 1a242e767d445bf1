"""Mixing: exact frames, seams, cross-fades, ducking, volumes; the same for any block size."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rehearse.playback.loop_pass import DUCKED, FADE, SEAM, LoopPass
from rehearse.playback.mix import Follow, Mixer, Order, Start, Volume
from rehearse.playback.offline_render import render
from rehearse.playback.segment import Clip, Segment
from rehearse.playback.stretch_chunks import plain_buffer
from rehearse.playback.timeline import Timeline
from tests.helpers.playback_tools import RATE, loop_pass_of, made, true_peak_db

SEAM_FRAMES, FADE_FRAMES = int(SEAM * RATE), int(FADE * RATE)


def start(track, segment, j=None, *, keep=False, again=True):
    loop_pass = loop_pass_of(track, segment, again)
    return Start(loop_pass, loop_pass.buffer, j, keep)


def pull(mixer, frames, block=512):
    return np.concatenate([mixer.pull(min(block, frames - k)) for k in range(0, frames, block)])


def test_full_tempo_is_the_track_bit_for_bit(clicks):
    track, _ = clicks
    result = render(track, [Segment("all", 1.0, 4.0)])
    begin = round(result.starts[0] * RATE)
    heard = result.samples[begin : begin + 3 * RATE - SEAM_FRAMES]
    assert np.array_equal(heard, track.samples[RATE : 4 * RATE - SEAM_FRAMES])


@pytest.mark.parametrize("tempo", [0.5, 0.7, 1.0])
def test_loops_repeat_to_the_frame(clicks, tempo):
    track, _ = clicks
    result = render(track, [Segment("loop", 2.0, 4.0, tempo)] * 4)
    starts = [round(start * RATE) for start in result.starts]
    period = round(2 * RATE / tempo)
    assert np.diff(starts).tolist() == [period] * 3
    second, third = (result.samples[s : s + period] for s in starts[1:3])
    assert np.array_equal(second, third)


def test_a_seam_in_steady_sound_is_smoother_than_a_cut():
    """The wrap of a loop between two places of different phase, against a hard cut."""
    time = np.arange(6 * RATE) / RATE
    track = made(0.3 * np.sin(2 * np.pi * 440.3 * time) + 0.2 * np.sin(2 * np.pi * 97.7 * time))
    result = render(track, [Segment("loop", 1.0, 2.2345)] * 3)
    wrap = round(result.starts[1] * RATE)
    steps = np.abs(np.diff(result.samples[wrap - RATE // 2 : wrap + RATE // 2, 0], 2))
    assert steps.max() < 1.15 * np.percentile(steps, 99)
    before, after = track.samples[round(2.2345 * RATE) - 1], track.samples[RATE]
    assert abs(before - after).max() > 5 * np.percentile(np.abs(np.diff(track.samples[:, 0])), 50)


def test_the_first_attack_of_a_loop_is_untouched():
    samples = np.zeros(4 * RATE, np.float32)
    samples[2 * RATE : 2 * RATE + 50] = 0.7  # an attack exactly where the loop starts
    track = made(samples)
    result = render(track, [Segment("loop", 2.0, 3.0, lead=0.5)] * 2)
    for begin in result.starts:
        frame = round(begin * RATE)
        assert np.array_equal(result.samples[frame : frame + 60], track.samples[88_200:88_260])


def test_clips_sound_at_their_exact_frames(ramp):
    pulse = np.zeros(100, np.float32)
    pulse[0] = 0.5
    clips = tuple(Clip(at, pulse) for at in (-0.75, -0.25, 0.0, 0.333, 1.9999))
    silent = made(np.zeros(5 * RATE, np.float32))
    result = render(silent, [Segment("a", 1.0, 3.0, lead=1.0, clips=clips)] * 2)
    expected = [round(s * RATE) + round(c.at * RATE) for s in result.starts for c in clips]
    assert np.flatnonzero(result.samples[:, 0]).tolist() == expected


def test_a_clip_rings_on_into_the_next_pass_and_after_the_end():
    tone = np.full(RATE // 2, 0.25, np.float32)
    silent = made(np.zeros(5 * RATE, np.float32))
    segment = Segment("a", 1.0, 2.0, clips=(Clip(0.9, tone, "click"),))
    result = render(silent, [segment] * 2)
    sounding = np.flatnonzero(result.samples[:, 0])
    first, second = (round(s * RATE) + round(0.9 * RATE) for s in result.starts)
    expected = [*range(first, first + RATE // 2), *range(second, second + RATE // 2)]
    assert sounding.tolist() == expected
    assert len(result.samples) == second + RATE // 2


def test_music_ducks_under_speech_smoothly_and_comes_back():
    track = made(np.full(8 * RATE, 0.3, np.float32))
    silence = np.zeros(RATE, np.float32)
    segment = Segment("a", 0.5, 7.5, clips=(Clip(2.0, silence, "speech"), Clip(5.0, silence)))
    result = render(track, [segment])
    begin = round(result.starts[0] * RATE)
    level = result.samples[begin : begin + 7 * RATE - SEAM_FRAMES, 0] / 0.3
    at = lambda seconds: level[round(seconds * RATE)]  # noqa: E731
    assert at(1.5) == pytest.approx(1.0)
    assert at(2.05) == at(2.9) == pytest.approx(DUCKED, abs=1e-6)
    assert at(3.5) == at(5.5) == pytest.approx(1.0)
    assert np.abs(np.diff(level)).max() < 1.6 / (0.06 * RATE)


def test_the_duck_does_not_step_at_the_start_of_a_pass():
    track = made(np.full(8 * RATE, 0.3, np.float32))
    speech = Clip(0.0, np.zeros(RATE // 2, np.float32), "speech")
    result = render(track, [Segment("a", 1.0, 3.0, clips=(speech,))] * 3)
    begin, end = (round(result.starts[k] * RATE) for k in (1, 2))
    assert np.abs(np.diff(result.samples[begin - 2000 : end, 0])).max() < 0.3 * 1.6 / (0.06 * RATE)


def test_volumes_move_smoothly(ramp):
    track = made(np.full(6 * RATE, 0.5, np.float32))
    mixer = Mixer(RATE)
    mixer.commands.append(start(track, Segment("a", 1.0, 5.0)))
    pull(mixer, RATE)
    mixer.commands.append(Volume("music", 0.25))
    sound = pull(mixer, RATE)[:, 0]
    assert sound[0] == 0.5
    assert sound[-1] == 0.125
    assert np.abs(np.diff(sound)).max() < 0.5 * 1.6 / FADE_FRAMES


def test_the_mix_never_exceeds_its_ceiling(clicks):
    """True peak ≤ -1 dBFS: EBU R 128 (2020) takes this as the largest true peak permitted."""
    rng = np.random.default_rng(0)
    track = made(np.clip(rng.standard_normal(8 * RATE) * 0.5, -1, 1))
    clips = tuple(Clip(t, rng.standard_normal(3000).astype(np.float32)) for t in (0.5, 1.0, 2.2))
    result = render(track, [Segment("a", 1.0, 5.0, clips=clips)])
    assert true_peak_db(result.samples) <= -1.0


@settings(max_examples=8)
@given(st.lists(st.integers(1, 3000), min_size=5, max_size=40), st.sampled_from([1.0, 0.6]))
def test_any_block_size_gives_the_same_sound(sizes, tempo):
    track = made(np.random.default_rng(1).standard_normal(4 * RATE) * 0.4)
    speech = Clip(0.2, np.full(4000, 0.3, np.float32), "speech")
    segment = Segment("a", 1.0, 1.4, tempo, lead=0.1, rest=0.05, clips=(speech,))
    one, other = Mixer(RATE), Mixer(RATE)
    loop_pass = loop_pass_of(track, segment)
    for mixer in (one, other):
        mixer.commands.append(Start(loop_pass, loop_pass.buffer))
    total = sum(sizes)
    whole = one.pull(total)
    parts = np.concatenate([other.pull(size) for size in sizes])
    assert np.abs(whole - parts).max() < 1e-6
    assert list(one.marks) == list(other.marks)


def test_the_record_tells_which_frame_of_the_track_is_heard(ramp):
    """The track's samples say where they are from; the marks must agree, at any moment."""
    mixer, timeline = Mixer(RATE), Timeline()
    rng = np.random.default_rng(5)
    segments = [Segment(str(k), 2.0 * k + 1, 2.0 * k + 2.5, lead=0.1 * (k % 2)) for k in range(6)]
    checked = frame = 0
    quiet_until = 0
    for _ in range(700):
        turn = rng.integers(0, 8)
        if turn < 2:
            segment = segments[rng.integers(0, 6)]
            j = int(rng.uniform(0, 1.2) * RATE) if turn else None
            mixer.commands.append(start(ramp, segment, j))
        elif turn == 2:
            mixer.commands.append(Order("pause"))
        elif turn == 3:
            mixer.commands.append(Order("resume"))
        if turn < 4:
            quiet_until = frame + 3 * FADE_FRAMES
        block = mixer.pull(1500)
        while mixer.marks:
            timeline.add(mixer.marks.popleft())
        for k in range(0, 1500, 250):
            now = timeline.now(frame + k)
            if frame + k < quiet_until or now is None or now.state != "music":
                continue
            inside = SEAM_FRAMES / RATE < now.elapsed < 1.5 - 2 * SEAM
            if inside:
                value = block[k, 0] / 0.85 * 20  # seconds of the track
                assert now.source == pytest.approx(value, abs=2 / RATE)
                checked += 1
        frame += 1500
    assert checked > 500


def test_hundreds_of_changes_without_a_click():
    """Steps of the second difference stay near those of the sound itself."""
    time = np.arange(20 * RATE) / RATE
    track = made(0.3 * np.sin(2 * np.pi * 331 * time) + 0.3 * np.sin(2 * np.pi * 123 * time))
    loop_passes = []
    for k, tempo in enumerate((1.0, 0.8, 0.55, 0.95)):
        loop_pass = loop_pass_of(track, Segment(str(k), 2.0 * k + 1, 2.0 * k + 5, tempo))
        loop_passes.append(loop_pass)
    rng = np.random.default_rng(6)
    mixer = Mixer(RATE)
    sound = []
    for _ in range(400):
        loop_pass = loop_passes[rng.integers(0, 4)]
        turn = rng.integers(0, 6)
        if turn < 2:
            mixer.commands.append(
                Start(loop_pass, loop_pass.buffer, int(rng.integers(0, 3 * RATE)))
            )
        elif turn < 4:
            mixer.commands.append(Start(loop_pass, loop_pass.buffer, None, True))
        else:
            mixer.commands.append(Order("pause" if turn == 4 else "resume"))
        sound.append(mixer.pull(int(rng.integers(200, 6000))))
    sound = np.concatenate(sound)[:, 0]
    curve = np.abs(np.diff(sound, 2))
    music = [loop_pass.buffer.read(0, loop_pass.frames)[0][:, 0] for loop_pass in loop_passes]
    still = max(np.abs(np.diff(wave, 2)).max() for wave in music)
    assert curve.max() < 1.5 * still
    cut = np.abs(np.diff(np.concatenate([music[0][:40_000], music[1][50_000:]]), 2)).max()
    assert cut > 3 * still  # what a hard cut would show


def test_a_pause_loses_nothing(ramp):
    mixer = Mixer(RATE)
    mixer.commands.append(start(ramp, Segment("a", 1.0, 9.0)))
    pull(mixer, RATE)
    mixer.commands.append(Order("pause"))
    pull(mixer, RATE)
    held = mixer.place[2]
    assert not pull(mixer, RATE).any()
    assert mixer.place[2] == held
    mixer.commands.append(Order("resume"))
    sound = pull(mixer, RATE)[:, 0]
    source = sound[3 * FADE_FRAMES] / 0.85 * 20
    expected = 1.0 + (held + 3 * FADE_FRAMES - mixer._limiter.margin) / RATE
    assert source == pytest.approx(expected, abs=2 / RATE)


def test_what_a_pause_faded_out_is_heard_again(ramp):
    block = FADE_FRAMES // 2  # the fade ends with a block, so that the place is exact
    mixer = Mixer(RATE)
    mixer.commands.append(start(ramp, Segment("a", 1.0, 9.0)))
    pull(mixer, 100 * block, block)
    before = mixer.place[2]
    mixer.commands.append(Order("pause"))
    pull(mixer, 10 * block, block)
    assert mixer.place[2] == before > FADE_FRAMES
    mixer.commands.append(Order("resume"))
    pull(mixer, 4 * block, block)
    assert mixer.place[2] == before + 4 * block


def test_keeping_the_place_goes_on_from_the_very_source(ramp):
    mixer = Mixer(RATE)
    mixer.commands.append(start(ramp, Segment("a", 1.0, 9.0)))
    pull(mixer, RATE)
    place = mixer.place
    before = place[0].span.source_of(place[2])
    mixer.commands.append(start(ramp, Segment("b", 0.5, 12.0, 0.8), keep=True))
    pull(mixer, 4410, 4410)
    loop_pass, _, j, _ = mixer.place
    assert loop_pass.span.source_of(j) == pytest.approx(before + 0.08, abs=2 / RATE)
    mixer.commands.append(start(ramp, Segment("elsewhere", 5.0, 6.0), keep=True))
    pull(mixer, 441, 441)
    loop_pass, _, j, _ = mixer.place
    assert loop_pass.span.source_of(j) == pytest.approx(5.0, abs=0.02)


def test_what_follows_is_played_after_the_pass_and_then_nothing(ramp):
    mixer, timeline = Mixer(RATE), Timeline()
    first = start(ramp, Segment("a", 1.0, 2.0))
    mixer.commands.append(first)
    pull(mixer, 1000)
    mixer.commands.append(Follow(loop_pass_of(ramp, Segment("b", 5.0, 5.5), again=False)))
    sound = pull(mixer, 2 * RATE)
    for mark in mixer.marks:
        timeline.add(mark)
    told = [(type(e).__name__, e.key) for e in timeline.events(10 * RATE)]
    assert told == [
        ("PassStarted", "a"),
        ("PassEnded", "a"),
        ("PassStarted", "b"),
        ("PassEnded", "b"),
    ]
    assert not sound[-RATE // 4 :].any()
    assert mixer.idle


def test_music_that_is_not_ready_is_silence_and_is_counted(ramp):
    loop_pass = LoopPass.of(Segment("a", 1.0, 3.0), RATE)
    loop_pass.buffer = plain_buffer(ramp.samples, LoopPass.of(Segment("a", 1.0, 1.5), RATE))
    mixer = Mixer(RATE)
    mixer.commands.append(Start(loop_pass, loop_pass.buffer))
    pull(mixer, RATE)
    assert mixer.missing > RATE // 4


def test_nothing_to_play_is_silence():
    assert not Mixer(RATE).pull(1000).any()
    assert len(render(made(np.zeros(100)), []).samples) == 0
