"""The player without a sound device: passes, events, the place; crashes and killed parents."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from rehearse.playback import player as module
from rehearse.playback.calibrate import Delays
from rehearse.playback.messages import UNEXPECTED
from rehearse.playback.player import Player
from rehearse.playback.segment import OutputBack, OutputLost, PassEnded, PassStarted, Segment
from tests.helpers.playback_tools import kinds, made, started, until


@pytest.fixture
def player(clicks):
    player = Player(silent=True)
    player.load(clicks[0])
    yield player
    player.close()


def test_a_section_repeats_until_told_otherwise(player):
    player.play(Segment("a", 1.0, 1.3))
    events = until(player, started(3))
    player.then(None)
    events += until(player, lambda e: any(isinstance(x, PassEnded) for x in e))
    events += until(player, lambda e: not player.now().playing)
    assert kinds(events) == [
        ("PassStarted", "a", 1),
        ("PassEnded", "a", 1),
        ("PassStarted", "a", 2),
        ("PassEnded", "a", 2),
        ("PassStarted", "a", 3),
        ("PassEnded", "a", 3),
    ]
    ends = [e for e in events if isinstance(e, PassEnded)]
    assert all(e.complete and e.reached == pytest.approx(1.3, abs=1e-4) for e in ends)
    assert player.now().state == "stopped"
    assert player.missing == 0


def test_the_place_moves_at_the_tempo_and_never_back(player):
    player.play(Segment("a", 1.0, 9.0, 0.5, lead=0.2))
    until(player, started(1))
    seen = []
    end = time.perf_counter() + 1.2
    while time.perf_counter() < end:
        seen.append((time.perf_counter(), player.now()))
        time.sleep(0.004)
    sources = np.array([now.source for _, now in seen])
    assert (np.diff(sources) >= 0).all()
    assert seen[0][1].state == "lead"
    music = [(t, now.source) for t, now in seen if now.state == "music"]
    times, places = np.array(music[10:]).T
    assert np.polyfit(times, places, 1)[0] == pytest.approx(0.5, abs=0.01)


def test_pause_holds_and_resume_goes_on(player):
    player.play(Segment("a", 1.0, 9.0))
    until(player, lambda e: player.now().source > 1.2)
    player.pause()
    until(player, lambda e: player.now().state == "paused")
    held = player.now().source
    time.sleep(0.2)
    assert player.now().source == held
    player.resume()
    until(player, lambda e: player.now().source > held + 0.1)
    player.stop()
    events = until(player, lambda e: any(isinstance(x, PassEnded) for x in e))
    assert events[-1].complete is False
    assert events[-1].reached == pytest.approx(held + 0.1, abs=0.15)


def test_a_change_of_tempo_keeps_the_place(player):
    player.play(Segment("a", 1.0, 9.0))
    until(player, lambda e: player.now().source > 1.5)
    player.change(Segment("a", 1.0, 9.0, 0.7))
    seen = [(time.perf_counter(), player.now())]
    while seen[-1][1].tempo == 1.0:
        assert time.perf_counter() < seen[0][0] + 20
        player.poll()
        time.sleep(0.004)
        seen.append((time.perf_counter(), player.now()))
    (before, old), (after, new) = seen[-2:]
    assert old.source - 0.1 <= new.source <= old.source + after - before + 0.1
    player.play(Segment("b", 3.0, 9.0, 0.7), at=6.0)
    until(player, lambda e: player.now().key == "b")
    assert player.now().source == pytest.approx(6.0, abs=0.1)


def test_looking_at_the_clock_is_cheap(player):
    player.play(Segment("a", 1.0, 9.0))
    until(player, started(1))
    begin = time.perf_counter()
    for _ in range(2000):
        player.now()
    assert (time.perf_counter() - begin) / 2000 < 100e-6


def test_another_track_replaces_the_first_whatever_its_rate(player):
    player.play(Segment("a", 1.0, 9.0))
    until(player, started(1))
    player.load(made(np.zeros(22_050 * 3), 22_050, "other"))
    assert player.now().state == "stopped"
    player.play(Segment("b", 1.0, 1.5))
    events = until(player, lambda e: any(isinstance(x, PassEnded) for x in e))
    assert ("PassStarted", "b", 1) in kinds(events)


def test_a_crash_ends_the_pass_says_so_and_a_key_goes_on(player):
    player.play(Segment("a", 1.0, 9.0))
    until(player, lambda e: player.now().source > 1.3)
    player._child.process.kill()
    events = until(player, lambda e: any(isinstance(x, OutputLost) for x in e))
    end = next(e for e in events if isinstance(e, PassEnded))
    assert not end.complete
    assert end.reached == pytest.approx(1.4, abs=0.2)
    assert player.now().state == "lost"
    assert player.now().source == pytest.approx(end.reached, abs=0.02)
    player.resume()
    events = until(player, started(1))
    assert any(isinstance(e, OutputBack) for e in events)
    begun = next(e for e in events if isinstance(e, PassStarted))
    assert begun.source == pytest.approx(end.reached, abs=0.05)


def test_a_device_that_never_opens_is_given_up_with_a_sentence(clicks, monkeypatch):
    monkeypatch.setattr(module, "_OPENING", 0.5)
    player = Player(silent=True)
    player.load(clicks[0])
    try:
        os.kill(player._child.process.pid, signal.SIGSTOP)
        player.play(Segment("a", 1.0, 2.0))
        events = until(player, lambda events: events)
        assert [type(event) for event in events] == [OutputLost]
        assert "does not answer" in events[0].sentence
        monkeypatch.undo()
        player.play(Segment("a", 1.0, 2.0))  # at a key, with a device that answers
        until(player, started(1))
    finally:
        player.close()


def test_after_a_device_that_never_opened_the_next_process_is_given_its_time(clicks, monkeypatch):
    monkeypatch.setattr(module, "_OPENING", 0.5)
    player = Player(silent=True)
    player.load(clicks[0])
    try:
        os.kill(player._child.process.pid, signal.SIGSTOP)
        until(player, lambda events: events)
        player.play(Segment("a", 1.0, 2.0))
        child = player._child
        for _ in range(3):
            assert player.poll() == ()
        assert player._child is child
        assert child.process.poll() is None
    finally:
        player.close()


@pytest.mark.expects_log
def test_a_process_gone_deaf_says_so_and_is_started_anew(player, caplog):
    player.play(Segment("a", 1.0, 9.0))
    until(player, started(1))
    player._child.send("nothing that could be read")
    events = until(player, lambda e: any(isinstance(x, OutputLost) for x in e), 2.0)
    assert events[-1].sentence == UNEXPECTED
    assert "listener ended" in caplog.text
    player.resume()
    until(player, started(1))


@pytest.mark.expects_log
def test_what_nobody_understands_ends_the_process_with_a_sentence(player, monkeypatch):
    player.play(Segment("a", 1.0, 9.0))
    until(player, started(1))
    child = player._child

    def garbled():
        raise AttributeError("can't get attribute 'Heard'")

    monkeypatch.setattr(child, "receive", garbled)
    events = until(player, lambda e: any(isinstance(x, OutputLost) for x in e), 2.0)
    assert events[-1].sentence == UNEXPECTED


def test_a_second_failure_is_told_again_to_whoever_asks(clicks, monkeypatch):
    monkeypatch.setattr(module, "_RETRY", 0.1)
    player = Player(silent=True)
    player.load(clicks[0])
    lost = lambda events: any(isinstance(e, OutputLost) for e in events)  # noqa: E731
    try:
        until(player, lambda _: player.device)
        player.play(Segment("a", 1.0, 9.0))
        player._child.process.kill()
        until(player, lost)
        # As long as nobody asks, tries in vain are not told.
        player._child and player._child.process.kill()
        end = time.monotonic() + 0.5
        while time.monotonic() < end:
            if player._child is not None:
                player._child.process.kill()
            assert not lost(player.poll())
            time.sleep(0.01)
        player.resume()
        player._child.process.kill()
        until(player, lost)
        player.play(Segment("b", 1.0, 9.0))
        events = until(player, started(1))
        assert any(isinstance(e, OutputBack) for e in events)
    finally:
        player.close()


@pytest.mark.expects_log
def test_a_system_short_of_everything_is_one_sentence_and_the_next_key_goes_on(
    player, clicks, monkeypatch
):
    until(player, lambda _: player.device)
    player.play(Segment("a", 1.0, 9.0))
    until(player, started(1))

    def refused(*_arguments, **_more):
        raise OSError(11, "Resource temporarily unavailable")

    for _ in range(2):
        with monkeypatch.context() as refusing:
            refusing.setattr(subprocess, "Popen", refused)
            if player._child is not None:
                player._child.process.kill()
                until(player, lambda e: any(isinstance(x, OutputLost) for x in e))
            player.resume()
            (told,) = until(player, lambda e: e)
        assert told.sentence.startswith("The sound could not be started – close other programs")
    with monkeypatch.context() as full:
        full.setattr(module, "dumps", refused)
        player.resume()
        (told,) = [e for e in until(player, lambda e: e) if isinstance(e, OutputLost)]
        assert told.sentence.startswith("There is no room for the sound")
        full.setattr(module, "Shared", refused)
        player.load(clicks[0])
        player.play(Segment("a", 1.0, 9.0))
        assert any(isinstance(e, OutputLost) for e in player.poll())
        player.play(Segment("a", 1.0, 9.0))
        assert any(isinstance(e, OutputLost) for e in player.poll())
    player.load(clicks[0])
    player.play(Segment("b", 1.0, 9.0))
    until(player, started(1))


def test_a_process_that_does_not_die_does_not_hold_the_window_up(clicks):
    player = Player(silent=True)
    player.load(clicks[0])
    until(player, lambda _: player.device)
    kill, player._child.process.kill = player._child.process.kill, lambda: None
    try:
        begin = time.monotonic()
        player.close()
        assert time.monotonic() - begin < 3.0
    finally:
        kill()


def test_sound_lost_in_a_count_in_begins_with_the_count_in_again(player):
    player.play(Segment("a", 1.0, 9.0, lead=3.0))
    until(player, lambda _: player.now().elapsed > -2.5 and player.now().state == "lead")
    player._child.process.kill()
    until(player, lambda e: any(isinstance(x, OutputLost) for x in e))
    player.poll()
    player.resume()
    events = until(player, started(1))
    assert player.now().state == "lead"
    assert player.now().elapsed < -2.0
    assert [e.source for e in events if isinstance(e, PassStarted)] == [1.0]


def test_calibration_shifts_what_is_audible_and_is_kept(clicks, tmp_path):
    delays = Delays(tmp_path / "speakers.json")
    player = Player(silent=True, delays=delays)
    try:
        player.load(clicks[0])
        player.play(Segment("a", 1.0, 9.0))
        until(player, lambda e: player.now().source > 1.5)
        player.latency = 0.3
        assert delays.of("silent") == 0.3
        one = player.now().source
        time.sleep(0.1)
        assert player.now().source == one  # waits until what it showed is heard
        until(player, lambda e: player.now().source > one + 0.05)
    finally:
        player.close()


def test_before_a_track_is_loaded_nothing_happens():
    player = Player(silent=True)
    player.play(Segment("a", 1.0, 2.0))
    assert player.poll() == ()
    assert player.now().state == "stopped"
    player.close()
    player.close()


@pytest.mark.skipif(os.name != "posix", reason="POSIX signals")
def test_the_playback_process_dies_with_a_killed_window():
    code = (
        "import numpy as np, time\n"
        "from rehearse.music.track import Track\n"
        "from rehearse.playback.player import Player\n"
        "player = Player(silent=True)\n"
        "player.load(Track(np.zeros((44100, 2), np.float32), 44100, 'x'))\n"
        "while not player.device: player.poll(); time.sleep(0.01)\n"
        "time.sleep(0.5)\n"
        "print(player._child.process.pid, flush=True)\n"
        "time.sleep(600)\n"
    )
    parent = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    engine = int(parent.stdout.readline())
    family = [engine, *_children(engine)]
    assert len(family) >= 3
    parent.send_signal(signal.SIGKILL)
    parent.wait()
    parent.stdout.close()
    end = time.monotonic() + 5
    while any(_runs(pid) for pid in family) and time.monotonic() < end:
        time.sleep(0.02)
    assert not [pid for pid in family if _runs(pid)]


def _children(pid):
    tasks = Path(f"/proc/{pid}/task")
    text = " ".join((task / "children").read_text() for task in tasks.iterdir())
    return [int(child) for child in text.split()]


def _runs(pid):
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False
