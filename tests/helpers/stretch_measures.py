"""What slow music is measured by. Each compares the stretched sound with the same of its input.

A stretch here is a function of (audio (frames, channels), sample_rate, tempo).
"""

import numpy as np

from rehearse.playback.loop_pass import LoopPass
from rehearse.playback.offline_render import render
from rehearse.playback.segment import Segment
from rehearse.playback.stretch_chunks import render_buffer
from tests.helpers.playback_tools import RATE, frequency, onsets


def drums(seed, seconds=24.0):
    """Kick, snare and hat over a panned chord; audio (frames, 2) and onset times."""
    rng = np.random.default_rng(seed)
    time = np.arange(int(seconds * RATE)) / RATE
    audio = np.zeros((len(time), 2))
    for k, f in enumerate((110.0, 138.6, 164.8, 220.0)):
        tone = sum(np.sin(2 * np.pi * f * h * time + rng.uniform(0, 6)) / h for h in range(1, 6))
        angle = (k / 3) * np.pi / 2
        audio += 0.03 * tone[:, None] * [np.cos(angle), np.sin(angle)]
    times = 0.5 + 0.3 * np.arange(int((seconds - 1) / 0.3))
    for turn, at in enumerate(times):
        sound = _struck(("kick", "hat", "snare", "hat")[turn % 4], rng)
        start = round(at * RATE)
        audio[start : start + len(sound)] += sound[:, None] * (0.7, 0.8)
    return (0.7 * audio / np.abs(audio).max()).astype(np.float32), np.round(times * RATE) / RATE


def _struck(kind, rng):
    length = int({"kick": 0.18, "snare": 0.15, "hat": 0.06}[kind] * RATE)
    q, noise = np.arange(length) / RATE, rng.standard_normal(length)
    if kind == "kick":
        deep = np.sin(2 * np.pi * (50 * q + 3 * (1 - np.exp(-q / 0.03))))
        return 0.6 * deep * np.exp(-q / 0.04) + 0.5 * noise * np.exp(-q / 0.001)
    if kind == "snare":
        return (0.35 * noise + 0.25 * np.sin(2 * np.pi * 185 * q)) * np.exp(-q / 0.02)
    return 0.2 * np.diff(noise, prepend=0.0) * np.exp(-q / 0.008)


def timing(audio, slow, times, tempo):
    """Milliseconds: median error of onsets, p95 and maximum of its jitter; its drift in ms/s.

    An onset is found a little beside its time in `times`, in the input as in the output; that is
    not stretched with the music and so taken out.
    """
    here, there = onsets(audio, least=0.003), onsets(slow, least=0.003)
    true = times[np.argmin(np.abs(times[None] - here[:, None]), axis=1)]
    due = true / tempo + (here - true)
    error = np.array([1000 * (there[np.argmin(np.abs(there - t))] - t) for t in due])
    jitter = np.abs(error - np.median(error))
    drift = np.polyfit(due, error, 1)[0]
    return float(np.median(error)), float(np.percentile(jitter, 95)), float(jitter.max()), drift


def echo(audio, times):
    """Median pre-echo (dB, power 50..5 ms before the attack's peak against around it), and the
    share of an attack's energy within 20 ms."""
    power = np.convolve(np.diff(audio.mean(axis=1), 2) ** 2, np.hanning(65) / 32, "same")
    befores, shares = [], []
    for at in times[1:-1]:
        start = int((at - 0.02) * RATE)
        peak = start + int(np.argmax(power[start : start + int(0.06 * RATE)]))

        def part(a, b, peak=peak):
            return power[peak + int(a * RATE) : peak + int(b * RATE)]

        before = (part(-0.05, -0.005).mean() + 1e-14) / part(-0.005, 0.01).mean()
        befores.append(10 * np.log10(before))
        shares.append(part(-0.005, 0.015).sum() / part(-0.05, 0.06).sum())
    return float(np.median(befores)), float(np.median(shares))


def pitch(function, tempo):
    """Largest error in cents of single tones; energy beside a tone against it (dB)."""
    time = np.arange(6 * RATE) / RATE
    cents, spurious = [], []
    for f in (82.41, 440.0, 997.0, 3000.7):
        tone = np.repeat((0.3 * np.sin(2 * np.pi * f * time))[:, None], 2, 1).astype(np.float32)
        wave = np.asarray(function(tone, RATE, tempo))[2 * RATE : 5 * RATE, 0]
        cents.append(1200 * np.log2(frequency(wave) / f))
        spectrum = np.abs(np.fft.rfft(wave * np.blackman(len(wave)))) ** 2
        inside = np.abs(np.fft.rfftfreq(len(wave), 1 / RATE) - f) < 4
        spurious.append(10 * np.log10(spectrum[~inside].sum() / spectrum[inside].sum()))
    return float(np.abs(cents).max()), float(np.max(spurious))


def width(sound):
    """Side against mid, dB."""
    side, mid = np.diff(sound, axis=1), sound.sum(axis=1)
    return float(10 * np.log10(((side**2).mean() + 1e-20) / (mid**2).mean()))


# The wrap of a loop


def looped(track, start, end, tempo):
    """One pass of a loop as it is heard from the second time on."""
    result = render(track, [Segment("loop", start, end, tempo)] * 3)
    first, last = (round(begin * track.sample_rate) for begin in result.starts[1:])
    return result.samples[first:last]


def cut_hard(track, start, end, tempo):
    """The same without any fade."""
    loop_pass = LoopPass.of(Segment("loop", start, end, tempo), track.sample_rate)
    return render_buffer(track.samples, loop_pass).read(0, loop_pass.frames)[0]


def played_on(track, start, end, tempo):
    """No loop at all: what leads to `start` put at the end, so that its wrap is the song's own."""
    before = max(0.0, start - 1.2)
    result = render(track, [Segment("on", before, start + 1.2, tempo)])
    wrap = round((result.starts[0] + (start - before) / tempo) * track.sample_rate)
    near = int(0.46 * track.sample_rate)
    return np.concatenate([result.samples[wrap : wrap + near], result.samples[wrap - near : wrap]])


def click(loop, rate):
    """How a loop's wrap stands out.

    Returns: power above about 5 kHz within 0.5 ms of the wrap against the 99th percentile of that
        within 0.4 s (dB); the step from the last sample to the first against the 99th percentile
        of steps within 50 ms.
    """
    near, wrap = int(0.45 * rate), int(0.45 * rate)
    joined = np.concatenate([loop[-near:], loop[:near]]).astype(np.float64)
    high = np.diff(joined, 2, axis=0) ** 2
    power = np.convolve(high.sum(axis=1), np.hanning(int(0.003 * rate)), "same")
    others = np.delete(power, np.s_[wrap - int(0.02 * rate) : wrap + int(0.02 * rate)])
    at_wrap = power[wrap - 20 : wrap + 20].max()
    steps = np.abs(np.diff(joined, axis=0)).max(axis=1)
    around = int(0.05 * rate)
    usual = np.concatenate([steps[wrap - around : wrap - 20], steps[wrap + 20 : wrap + around]])
    return (
        float(10 * np.log10((at_wrap + 1e-14) / (np.percentile(others, 99) + 1e-14))),
        float(steps[wrap - 1] / (np.percentile(usual, 99) + 1e-12)),
    )
