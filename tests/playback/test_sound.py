"""Playback on a real sound server whose speaker is recorded."""

import os
import signal
import time

import numpy as np
import pytest

from rehearse.playback.calibrate import Delays
from rehearse.playback.mix import Mixer, Start
from rehearse.playback.output import DeviceOutput
from rehearse.playback.player import Player
from rehearse.playback.segment import Gap, OutputBack, OutputLost, PassEnded, Segment
from rehearse.playback.timeline import Clock
from tests.helpers.playback_tools import (
    RATE,
    find_breaks,
    kinds,
    loop_pass_of,
    made,
    onsets,
    started,
    tone,
    until,
)

pytestmark = pytest.mark.sound


def playing(track):
    """A player whose device is open and settled."""
    player = Player()
    player.load(track)
    until(player, lambda events: player.device and player._frame() > RATE)
    return player


def watch(player, seconds, log):
    end = time.perf_counter() + seconds
    while time.perf_counter() < end:
        player.poll()
        log.append((time.perf_counter(), player.now()))
        time.sleep(0.004)


def test_what_is_said_to_be_audible_is_what_leaves_the_speaker(server):
    """Clicks found in the recording, against the place the player told then.

    The track has 48 kHz, the device 44.1 kHz. Detectable from 45 ms on (ITU-R BT.1359-1): never
    reached. What is left includes about 2 ms of the recording's own time. Once in many runs all of
    it lay 17 ms off, and why is not known: one of three tries is within 5 ms.
    """
    medians = []
    for _ in range(3):
        errors, underruns = _told_and_heard(server)
        medians.append(abs(float(np.median(errors))))
        assert medians[-1] < 45
        if medians[-1] < 5 and (underruns or np.percentile(np.abs(errors), 90) < 10):
            return
    raise AssertionError(f"medians of {medians} ms")


def _told_and_heard(server):
    """Milliseconds of each click heard against what was told, and breaks of sound."""
    rate = 48_000
    length, times = int(0.002 * rate), np.arange(0.5, 14, 0.25)
    samples = np.zeros(15 * rate, np.float32)
    rng = np.random.default_rng(0)
    for at in times:
        start = round(at * rate)
        samples[start : start + length] = rng.uniform(-0.8, 0.8, length)
    log = []
    with server.recording() as recording:
        player = playing(made(samples, rate))
        player.play(Segment("a", 1.0, 3.0, lead=0.2))
        watch(player, 1.8, log)
        player.pause()
        watch(player, 0.3, log)
        player.resume()
        watch(player, 0.5, log)
        player.change(Segment("a", 1.0, 3.0, 0.6))
        watch(player, 1.4, log)
        underruns, missing = player.underruns, player.missing
        player.close()
        time.sleep(0.2)
    heard = onsets(recording.samples, server.rate, least=0.05)
    at = np.array([recording.time_of(round(second * server.rate)) for second in heard])
    errors = [_error(moment, log, times) for moment in at]
    errors = [error for error in errors if error is not None]
    assert missing == 0
    assert len(errors) > 7
    return errors, underruns


def _error(moment, log, times):
    """Milliseconds the player was ahead of the sound heard at a moment."""
    moments = [entry[0] for entry in log]
    k = int(np.searchsorted(moments, moment)) - 1
    if not 0 <= k < len(log) - 1 or log[k][1].state != "music" or log[k + 1][1].state != "music":
        return None
    now = log[k][1]
    source = now.source + (moment - moments[k]) * now.tempo
    return 1000 * (source - times[np.argmin(np.abs(times - source))]) / now.tempo


def test_a_change_is_heard_within_150_ms_even_from_a_stalled_window(server):
    track = made(np.concatenate([tone(0), tone(1)]))
    segments = [Segment("low", 1.0, 6.0), Segment("high", 9.0, 14.0)]
    values = np.random.default_rng(0).random(700_000).tolist()
    asked = []
    with server.recording() as recording:
        player = playing(track)
        player.play(segments[0])
        until(player, started(1))
        for turn in range(1, 7):
            asked.append(time.perf_counter())
            player.play(segments[turn % 2], at=segments[turn % 2].start + 1.0)
            sorted(values)  # holds the interpreter lock
            time.sleep(0.15)
        player.stop()
        time.sleep(0.2)
        underruns, missing = player.underruns, player.missing
        player.close()
    samples = recording.samples[:, 0]
    assert missing == 0
    waits = [_heard(recording, samples, at, turn % 2) - at for turn, at in enumerate(asked, 1)]
    assert np.median(waits) < 0.15
    breaks, _ = find_breaks(samples)
    if underruns == 0:
        assert breaks == []


def _heard(recording, samples, asked, index):
    """When the tone `index` outweighs the other after a moment."""
    zero = recording.time_of(0)
    start = int((asked - zero) * RATE)
    for frame in range(start, len(samples) - 441, 110):
        window = samples[frame : frame + 441]
        phase = 2j * np.pi * np.arange(441) / RATE
        low, high = (abs(np.dot(window, np.exp(f * phase))) for f in (1000, 2000))
        if (high > low, low > high)[index == 0] and max(low, high) > 10:
            return zero + (frame + 220) / RATE
    raise AssertionError("the change was never heard")


def test_a_killed_server_ends_the_pass_and_a_key_goes_on_when_it_is_back(server, clicks):
    player = playing(clicks[0])
    try:
        player.play(Segment("a", 1.0, 9.0))
        until(player, lambda e: player.now().source > 1.5)
        server.stop()
        events = until(player, lambda e: any(isinstance(x, OutputLost) for x in e))
        assert kinds(events)[-2:] == [("PassEnded", "a", 1), ("OutputLost", "", 0)]
        assert "connect it again" in events[-1].sentence
        reached = events[-2].reached
        assert 1.4 < reached < 3.0
        server.start()
        until(player, lambda e: any(isinstance(x, OutputBack) for x in e))
        assert player.now().source == pytest.approx(reached, abs=0.01)
        player.resume()
        until(player, lambda e: player.now().state == "music")
        assert player.now().source == pytest.approx(reached, abs=0.2)
    finally:
        player.close()


def test_an_unplugged_speaker_is_noticed(server, clicks):
    player = playing(clicks[0])
    try:
        player.play(Segment("a", 1.0, 9.0))
        until(player, lambda e: player.now().source > 1.2)
        server.remove_sink()
        events = until(player, lambda e: any(isinstance(x, OutputLost) for x in e))
        assert isinstance(events[-2], PassEnded)
        server.add_sink()
        player.play(Segment("b", 2.0, 4.0))  # at a key, without waiting to be told
        until(player, started(1))
    finally:
        player.close()


def test_music_does_not_play_on_where_nobody_hears_it(server, clicks):
    """Without any speaker left, the server plays on into a sink that leads nowhere."""
    server.never_without()
    player = playing(clicks[0])
    try:
        until(player, lambda events: player.device == server.sink)
        player.play(Segment("a", 1.0, 9.0))
        until(player, lambda e: player.now().source > 1.2)
        server.remove_sink()
        events = until(player, lambda e: any(isinstance(x, OutputLost) for x in e))
        assert isinstance(events[-2], PassEnded)
        with pytest.raises(AssertionError, match="not within"):
            until(player, lambda events: events, 4.5)  # that it opens there counts for nothing
        server.add_sink()
        events = until(player, lambda e: any(isinstance(x, OutputBack) for x in e))
        assert events[-1].device == server.sink
        player.resume()
        until(player, started(1))
    finally:
        player.close()


def test_another_speaker_chosen_while_playing_goes_on_there_with_its_own_delay(
    server, clicks, tmp_path
):
    server.add_sink("headphones")
    server.choose(server.sink)
    delays = Delays(tmp_path / "speakers.json")
    delays.set("headphones", 0.2)
    player, log = Player(delays=delays), []
    with server.recording("headphones") as recording:
        player.load(clicks[0])
        until(player, lambda events: player.device == server.sink)
        player.play(Segment("a", 1.0, 11.0))
        until(player, lambda e: player.now().source > 1.5)
        assert player.latency == 0
        server.choose("headphones")
        events = until(player, lambda e: player.device == "headphones", 5.0)
        assert events == []  # nothing was broken off
        assert player.latency == 0.2
        player.latency = 0.0  # this speaker is not really late
        watch(player, 1.0, [])  # the clock settles on the new way
        watch(player, 2.0, log)
        missing, reached = player.missing, player.now().source
        player.close()
        time.sleep(0.2)
    assert missing == 0
    assert reached > 4.0
    assert delays.of("headphones") == 0.0
    heard = onsets(recording.samples, server.rate, least=0.05)
    at = [recording.time_of(round(second * server.rate)) for second in heard]
    errors = [e for moment in at if (e := _error(moment, log, clicks[1])) is not None]
    assert len(errors) > 3
    assert abs(np.median(errors)) < 5


def test_a_device_that_refuses_the_rate_plays_in_tune_and_in_time(server, clicks, monkeypatch):
    """The real device, made to take 48 kHz only; the track has 44.1 kHz."""
    import sounddevice

    class Picky(sounddevice.OutputStream):
        def __init__(self, *, samplerate, **rest):
            if samplerate == RATE:
                raise sounddevice.PortAudioError("Invalid sample rate", -9997)
            super().__init__(samplerate=samplerate, **rest)

    monkeypatch.setattr(sounddevice, "OutputStream", Picky)
    mixer, clock, reports = Mixer(RATE), Clock(RATE), []
    loop_pass = loop_pass_of(clicks[0], Segment("a", 1.0, 11.0))
    with server.recording() as recording:
        device = DeviceOutput(RATE, mixer.pull, lambda *report: reports.append(report))
        time.sleep(1.5)
        mixer.commands.append(Start(loop_pass, loop_pass.buffer))
        time.sleep(3.0)
        device.close()
        time.sleep(0.2)
    for report in reports[-len(reports) // 2 :]:
        clock.report(*report)
    line, (mark, *_) = clock.line(mixer.frame), mixer.marks
    times = clicks[1]
    errors = []
    for second in onsets(recording.samples, server.rate, least=0.05):
        moment = recording.time_of(round(second * server.rate))
        source = mark.now(line.frame_at(moment)).source
        if source > 1.3:
            errors.append(1000 * (source - times[np.argmin(np.abs(times - source))]))
    assert len(errors) > 3
    assert abs(np.median(errors)) < 5
    if device.underruns == 0:
        assert np.ptp(errors) < 5


def test_sound_lost_to_a_busy_machine_is_told_with_its_length(server, clicks):
    """The playback process is held up; what the recorded speaker was silent is what is told."""
    noise = np.random.default_rng(1).uniform(-0.3, 0.3, 40 * RATE)
    player = playing(made(noise))
    with server.recording() as recording:
        try:
            until(player, lambda _: time.monotonic() > player._gaps._settled)
            player.play(Segment("a", 1.0, 39.0))
            until(player, lambda _: player.now().source > 2.0)
            os.kill(player._child.process.pid, signal.SIGSTOP)
            time.sleep(1.0)
            os.kill(player._child.process.pid, signal.SIGCONT)
            events = until(player, lambda e: any(isinstance(x, Gap) for x in e), 6.0)
            events += until(player, lambda _: player.now().source > 4.5)
        finally:
            player.close()
    gaps = [e.seconds for e in events if isinstance(e, Gap)]
    loud = np.abs(recording.samples).max(axis=1) > 0.01
    first = int(np.argmax(loud))
    quiet = np.flatnonzero(loud[first:])
    silence = np.diff(quiet).max() / RATE
    assert sum(gaps) == pytest.approx(silence, abs=0.1)
    assert silence > 0.5


def test_a_mistake_in_the_callback_is_kept_and_leaves_silence(server):
    def pull(_frames):
        raise ZeroDivisionError("division by zero")

    device = DeviceOutput(RATE, pull, lambda *_: None)
    end = time.monotonic() + 10
    while not device.failure and time.monotonic() < end:
        time.sleep(0.01)
    assert "division by zero" in device.failure
    assert device.alive
    device.close()


def test_going_on_in_vain_is_told_each_time_and_silence_is_always_offered(server, clicks):
    server.stop()
    player = Player()
    try:
        player.load(clicks[0])
        until(player, lambda e: e)
        for _ in range(2):
            player.play(Segment("a", 1.0, 2.0))
            (told,) = until(player, lambda e: e)
            assert told.sentence.startswith("No sound device can be opened")
        server.start()
        player.play(Segment("a", 1.0, 2.0))
        events = until(player, started(1))
        assert any(isinstance(e, OutputBack) for e in events)
    finally:
        player.close()


def test_without_a_device_one_sentence_offers_silence(server, clicks):
    server.stop()
    player = Player()
    try:
        player.load(clicks[0])
        events = until(player, lambda e: e)
        assert isinstance(events[0], OutputLost)
        assert events[0].sentence == (
            "No sound device can be opened – connect a speaker or headphones, or rehearse silently."
        )
        player.silent = True
        player.play(Segment("a", 1.0, 2.0))
        until(player, started(1))
    finally:
        player.close()
