"""The clock against an injected device: unsteady reports, drift, any latency, jumps."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rehearse.playback.loop_pass import AudioBuffer, LoopPass
from rehearse.playback.mix import Mixer, Order, Start
from rehearse.playback.segment import Segment
from rehearse.playback.timeline import Clock, Timeline
from tests.helpers.playback_tools import RATE


class Device:
    """A sound device: takes blocks, plays them `latency` later, drifts, and reports badly.

    Before `settled` its reports are early by `jump` seconds; of the later ones a part is off by
    up to 40 ms, the rest by 0.3 ms (as recorded from a real sound server).
    """

    def __init__(self, seed, *, rate=RATE, ppm=0.0, latency=0.05, jump=0.0, settled=1.0):
        self.rng = np.random.default_rng(seed)
        self.rate, self.pace = rate, rate * (1 + ppm / 1e6)
        self.latency, self.jump, self.settled = latency, jump, settled
        self.frame, self.zero = 0, 100.0 + self.rng.uniform(0, 1)

    def heard(self, frame):
        """The true time at which a frame leaves the speaker."""
        return self.zero + self.latency + frame / self.pace

    def frame_at(self, time):
        """The true frame leaving the speaker."""
        return (time - self.zero - self.latency) * self.pace

    def block(self):
        """(first frame, frames, time of the callback, reported time heard)."""
        frames = int(self.rng.integers(200, 1100))
        first, self.frame = self.frame, self.frame + frames
        asked = self.heard(first) - self.latency
        off = self.rng.normal(0, 0.0003)
        if self.rng.random() < 0.25:
            off = self.rng.uniform(-0.04, 0.04)
        if asked - self.zero < self.settled:
            off -= self.jump
        return first, frames, asked, self.heard(first) + off


settings_of_devices = {
    "seed": st.integers(0, 10_000),
    "ppm": st.sampled_from([-100.0, -30.0, 0.0, 100.0]),
    "latency": st.floats(0.005, 0.4),
    "jump": st.sampled_from([0.0, 0.05, 0.9]),
}


@settings(max_examples=30)
@given(**settings_of_devices, rate=st.sampled_from([8_000, 44_100, 48_000]))
def test_a_settled_clock_is_right_within_a_millisecond(seed, ppm, latency, jump, rate):
    device = Device(seed, rate=rate, ppm=ppm, latency=latency, jump=jump)
    clock = Clock(rate)
    errors, shown, turn = [], -np.inf, 0
    while device.frame < 12 * rate:
        first, frames, now, reported = device.block()
        clock.report(first, reported)
        turn += 1
        if turn % 3:
            continue
        line = clock.line(first + frames)
        if now - device.zero > 5.0:
            truth = min(device.frame_at(now), first + frames)
            errors.append((line.frame_at(now) - truth) / rate)
            # What is shown never goes back by more than a fraction of a millisecond.
            assert line.frame_at(now) > shown - 0.001 * rate
            shown = line.frame_at(now)
    assert np.abs(np.median(errors)) < 0.0005
    assert np.percentile(np.abs(errors), 99) < 0.001


def test_nothing_is_heard_that_was_not_given():
    clock = Clock(RATE)
    clock.report(0, 10.0)
    assert clock.line(500).frame_at(11.0) == 500
    assert clock.line(500).frame_at(9.0) < 0


def test_without_a_report_there_is_no_line():
    assert Clock(RATE).line(0) is None


def test_single_wrong_reports_move_nothing_but_a_true_jump_is_followed():
    clock = Clock(RATE)
    for k in range(100):
        clock.report(k * 512, 10 + k * 512 / RATE + (0.3 if k % 9 == 0 else 0.0))
    assert clock.line(1e9).frame_at(20.0) == pytest.approx(10 * RATE, abs=1)
    for k in range(100, 112):
        clock.report(k * 512, 10.2 + k * 512 / RATE)
    assert clock.line(1e9).frame_at(20.2) == pytest.approx(10 * RATE, abs=1)


@settings(max_examples=12)
@given(**settings_of_devices)
def test_the_whole_chain_knows_what_is_heard(ramp, seed, ppm, latency, jump):
    """Device, mixer, record and clock together, through pauses, loops, jumps and tempo changes.

    The track tells its own place (value = frame / frames), so what the clock says is compared
    with the very sample that leaves the speaker.
    """
    loop_passes = _loop_passes(ramp)
    rng = np.random.default_rng(seed)
    device = Device(seed, ppm=ppm, latency=latency, jump=jump)
    mixer, clock, timeline = Mixer(RATE), Clock(RATE), Timeline()
    heard = np.zeros(13 * RATE, np.float32)
    next_change, errors, marks = 3 * RATE, [], []
    while device.frame < 12 * RATE:
        first, frames, now, reported = device.block()
        if first >= next_change:
            mixer.commands.append(_change(rng, loop_passes))
            next_change = first + int(rng.uniform(0.3, 1.2) * RATE)
        heard[first : first + frames] = mixer.pull(frames)[:, 0]
        clock.report(first, reported)
        while mixer.marks:
            marks.append(mixer.marks[0].frame)
            timeline.add(mixer.marks.popleft())
        told = timeline.now(clock.line(first + frames).frame_at(now))
        index = int(device.frame_at(now))
        if first < 5 * RATE or told is None or told.state != "music" or index >= first + frames:
            continue
        if any(abs(index - mark) < 2500 for mark in marks):
            continue  # amid a cross-fade a sample belongs to two places
        errors.append(told.source - heard[index] / 0.85 * 20)
    assume(len(errors) > 30)  # else it was paused nearly all the time
    assert np.percentile(np.abs(errors), 99) < 0.0012


def _loop_passes(ramp):
    """Passes at several tempos; slow ones by resampling, which keeps the ramp a ramp."""
    loop_passes = []
    for k, tempo in enumerate((1.0, 0.5, 0.8)):
        loop_pass = LoopPass.of(
            Segment(str(k), 3.0 * k + 1, 3.0 * k + 4, tempo, lead=0.2 * k), RATE
        )
        buffer = AudioBuffer(-1500)
        frames = loop_pass.span.first + np.arange(-1500, loop_pass.frames) * tempo
        values = (frames / len(ramp.samples) * 0.85).astype(np.float32)
        buffer.append(np.repeat(values[:, None], 2, axis=1))
        loop_pass.buffer = buffer
        loop_passes.append(loop_pass)
    return loop_passes


def _change(rng, loop_passes):
    loop_pass = loop_passes[rng.integers(0, len(loop_passes))]
    choices = [
        Start(loop_pass, loop_pass.buffer),
        Start(loop_pass, loop_pass.buffer, int(rng.uniform(0, 2) * RATE)),
        Start(loop_pass, loop_pass.buffer, None, True),
        Order("pause"),
        Order("resume"),
        Order("resume"),
    ]
    return choices[rng.integers(0, len(choices))]
