"""The sound device as the library shows it: forms it refuses, busy, any number of channels."""

import contextlib
import sys
import types

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rehearse.files.user_error import UserError
from rehearse.playback import output as module
from rehearse.playback.output import DeviceOutput
from rehearse.playback.timeline import Clock


class Machine:
    """Stands for the sound library and one device; time passes only in `play`.

    Args:
        rates, channels: what the device accepts; own: the rate it says is its own.
        taken: another program has it.
        latency: seconds a frame takes to the speaker. ppm: how much its crystal is fast.
    """

    class PortAudioError(Exception):
        pass

    def __init__(
        self, rates, channels=(2,), *, own=None, taken=False, latency=0.05, ppm=0.0, seed=0
    ):
        self.rates, self.channels, self.taken = rates, channels, taken
        self.own = float(own or rates[0])
        self.latency, self.ppm, self.rng = latency, ppm, np.random.default_rng(seed)
        self.now = self.zero = 1000.0
        self.active, self.frame, self.heard = True, 0, []

    def query_devices(self, kind):
        return {
            "name": "box",
            "hostapi": 0,
            "index": 3,
            "max_output_channels": max(self.channels),
            "default_samplerate": self.own,
        }

    def query_hostapis(self, index):
        return {"name": "Lab"}

    def OutputStream(self, *, samplerate, channels, callback, **_):
        if self.taken:
            raise self.PortAudioError("Device unavailable", -9985)
        if samplerate not in self.rates:
            raise self.PortAudioError("Invalid sample rate", -9997)
        if channels not in self.channels:
            raise self.PortAudioError("Invalid number of channels", -9998)
        self.rate, self.count, self.callback = samplerate, channels, callback
        return self

    def start(self):
        self.pace = self.rate * (1 + self.ppm / 1e6)

    @property
    def time(self):
        return self.now

    def play(self, seconds):
        """Ask for blocks until so much has been taken; what leaves the speaker is in `heard`."""
        end = self.frame + seconds * self.rate
        while self.frame < end:
            frames = int(self.rng.integers(200, 1800))
            self.now = self.zero + self.frame / self.pace
            out = np.full((frames, self.count), np.nan, np.float32)
            off = self.rng.normal(0, 0.0003) if self.rng.random() < 0.8 else 0.03
            info = types.SimpleNamespace(outputBufferDacTime=self.now + self.latency + off)
            self.callback(out, frames, info, types.SimpleNamespace(output_underflow=False))
            self.heard.append(out)
            self.frame += frames

    def frame_at(self, time):
        """The true frame of the device that leaves the speaker."""
        return (time - self.zero - self.latency) * self.pace


@contextlib.contextmanager
def on(machine):
    """The machine in place of the sound library, and its time in place of the real."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(sys.modules, "sounddevice", machine)
        patch.setattr(module, "time", types.SimpleNamespace(perf_counter=lambda: machine.now))
        yield


def opened(machine, rate, pull):
    with on(machine):
        device = DeviceOutput(rate, pull, lambda *_: None)
        machine.play(0.1)
    return device


class Ramp:
    """Sound that tells its own place: left is the frame's number, scaled; right its negative."""

    SCALE = 1e-7

    def __init__(self):
        self.taken = 0

    def __call__(self, frames):
        values = np.arange(self.taken, self.taken + frames) * self.SCALE
        self.taken += frames
        return np.stack([values, -values], axis=1).astype(np.float32)


def test_a_device_that_takes_the_track_as_it_is_gets_its_very_samples():
    machine, ramp = Machine([48_000, 44_100]), Ramp()
    device = opened(machine, 44_100, ramp)
    heard = np.concatenate(machine.heard)
    assert machine.rate == 44_100
    assert np.array_equal(heard, Ramp()(len(heard)))
    assert ramp.taken == len(heard)
    assert device.name == "box (Lab)"


@settings(max_examples=8, deadline=None)
@given(
    rates=st.permutations([44_100, 48_000, 96_000]).map(lambda order: order[:2]),
    ppm=st.sampled_from([-100.0, 0.0, 100.0]),
    latency=st.floats(0.005, 0.4),
    seed=st.integers(0, 1000),
)
def test_on_a_device_of_another_rate_the_clock_stays_right(rates, ppm, latency, seed):
    """The place the clock tells, against the sound's own word at the speaker: within 1 ms."""
    rate, own = rates
    machine, ramp = Machine([own], latency=latency, ppm=ppm, seed=seed), Ramp()
    clock = Clock(rate)
    with on(machine):
        DeviceOutput(rate, ramp, clock.report)
        errors = []
        for _ in range(5):
            machine.play(1.2)
            heard = np.concatenate(machine.heard)[:, 0]
            assert ramp.taken / rate - machine.frame / own < 0.002  # taken in advance
            told = clock.line(1e12).frame_at(machine.now)
            index = int(machine.frame_at(machine.now))
            if index > 1000:
                errors.append((told - heard[index] / Ramp.SCALE) / rate)
    assert machine.rate == own
    assert np.abs(errors).max() < 0.001


@pytest.mark.parametrize(
    ("channels", "count"), [((1,), 1), ((2, 8), 2), ((8,), 8), ((1, 2), 2)], ids=str
)
def test_any_number_of_channels_is_served(channels, count):
    machine = Machine([44_100], channels)
    opened(machine, 44_100, lambda frames: np.tile(np.float32([0.5, 0.1]), (frames, 1)))
    heard = np.concatenate(machine.heard)
    assert heard.shape[1] == count
    expected = [0.3] if count == 1 else [0.5, 0.1] + [0.0] * (count - 2)
    assert heard == pytest.approx(np.tile(np.float32(expected), (len(heard), 1)))


def test_a_device_with_odd_rate_and_channels_at_once_is_served():
    machine = Machine([96_000], (4,))
    opened(machine, 44_100, Ramp())
    assert (machine.rate, machine.count) == (96_000, 4)


def test_a_device_that_names_a_rate_it_then_refuses_gets_a_usual_one():
    machine = Machine([48_000], own=16_000)
    opened(machine, 44_100, Ramp())
    assert machine.rate == 48_000


def test_a_device_that_another_program_holds_is_said_to_be():
    sentence = (
        "Another program keeps the sound device to itself – close that program, "
        "or rehearse silently."
    )
    with pytest.raises(UserError) as error:
        opened(Machine([44_100], taken=True), 44_100, Ramp())
    assert error.value.sentence == sentence


def test_a_device_that_accepts_nothing_is_one_sentence():
    with pytest.raises(UserError, match="No sound device can be opened"):
        opened(Machine([22_050], own=16_000), 44_100, Ramp())


def test_a_machine_without_the_sound_librarys_own_needs_is_one_sentence(tmp_path, monkeypatch):
    """As on a system without ALSA: importing the library raises what the loader says."""
    text = "raise OSError('cannot load library: libasound.so.2: No such file or directory')"
    (tmp_path / "sounddevice.py").write_text(text)
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    with pytest.raises(UserError) as error:
        DeviceOutput(44_100, Ramp(), lambda *_: None)
    assert error.value.sentence == (
        "The sound library cannot be loaded – install the system's ALSA library, "
        "or rehearse silently."
    )
