"""What a rehearsal may expect of a player: the real one and the tests' stand-in alike.

The stand-in, on which the session's tests run in their own time, is only worth as much as it does
what the real player does.
"""

import time

import pytest

from rehearse.playback.player import Player
from rehearse.playback.segment import OutputBack, OutputLost, PassEnded, PassStarted, Segment
from tests.session.conftest import Turntable


class Live:
    """The real player, without a device, in real time."""

    def __init__(self, track):
        self.player = Player(silent=True)
        self.player.load(track)
        self.until(lambda: self.player.device)

    def until(self, condition, seconds=15.0):
        events, end = [], time.monotonic() + seconds
        while time.monotonic() < end:
            events += self.player.poll()
            if condition():
                return events
            time.sleep(0.003)
        raise AssertionError(f"never: {self.player.now()}")

    def wait(self, seconds):
        end = time.monotonic() + seconds
        return self.until(lambda: time.monotonic() > end)

    def lose(self):
        self.player._child.process.kill()

    def close(self):
        self.player.close()


class Standing:
    """The stand-in, in its own time."""

    def __init__(self, _track):
        self.player = Turntable()

    def until(self, condition, seconds=15.0):
        events = list(self.player.poll())
        while not condition():
            self.player.advance(0.01)
            events += self.player.poll()
            seconds -= 0.01
            assert seconds > 0, f"never: {self.player.now()}"
        return events

    def wait(self, seconds):
        events = []
        for _ in range(round(seconds / 0.01)):
            self.player.advance(0.01)
            events += self.player.poll()
        return events

    def lose(self):
        self.player.lose()

    def close(self):
        pass


@pytest.fixture(params=[Live, Standing])
def stand(request, clicks):
    stand = request.param(clicks[0])
    yield stand
    stand.close()


def told(events):
    return [(type(e).__name__, e.key) for e in events if isinstance(e, PassStarted | PassEnded)]


def test_a_pass_is_counted_in_played_rested_after_and_ended(stand):
    player, states = stand.player, []
    player.play(Segment("a", 1.0, 1.4, 0.8, lead=0.3, rest=0.3), repeat=False)

    def over():
        states.append(player.now().state)
        return player.now().state == "stopped" and "music" in states

    events = stand.until(over)
    seen = list(dict.fromkeys(states))
    assert [s for s in seen if s != "stopped"] == ["lead", "music", "rest"]
    assert told(events) == [("PassStarted", "a"), ("PassEnded", "a")]
    end = events[-1]
    assert (end.complete, end.reached) == (True, pytest.approx(1.4, abs=0.01))


def test_what_follows_is_counted_in_after_the_rest(stand):
    player = stand.player
    player.play(Segment("a", 1.0, 1.4), repeat=False)
    stand.until(lambda: player.now().key == "a")
    player.then(Segment("b", 3.0, 4.0, lead=0.5), repeat=False)
    events = stand.until(lambda: player.now().key == "b")
    assert player.now().state == "lead"
    assert player.now().elapsed == pytest.approx(-0.5, abs=0.1)
    events += stand.until(lambda: player.now().state == "music")
    assert player.now().source == pytest.approx(3.0, abs=0.1)
    assert ("PassEnded", "a") in told(events)


def test_nothing_follows_when_that_was_the_last_word(stand):
    player = stand.player
    player.play(Segment("a", 1.0, 1.6), repeat=False)
    stand.until(lambda: player.now().key == "a")
    player.then(Segment("b", 3.0, 4.0), repeat=False)
    player.then(None, repeat=False)
    events = stand.until(lambda: player.now().state == "stopped")
    assert told(events)[-1] == ("PassEnded", "a")


@pytest.mark.parametrize("tempo", [0.5, 1.0])
def test_a_change_in_the_count_in_goes_on_from_the_count_it_is_at(stand, tempo):
    """2 s of count-in at 80 % are as many counts as 2 · 0.8 / tempo seconds at another."""
    player = stand.player
    player.play(Segment("a", 1.0, 9.0, 0.8, lead=2.0), repeat=False)
    stand.until(lambda: player.now().key == "a" and player.now().elapsed > -1.2)
    player.change(Segment("b", 1.0, 9.0, tempo, lead=2.0 * 0.8 / tempo), repeat=False)
    events = stand.until(lambda: player.now().key == "b")
    now = player.now()
    assert now.state == "lead"
    counts = -now.elapsed * tempo / 0.8
    assert 0.75 < counts <= 1.21  # heard within some tens of milliseconds
    assert ("PassStarted", "b") in told(events)
    stand.until(lambda: player.now().state == "music")
    assert player.now().source == pytest.approx(1.0, abs=0.1)


def test_a_change_in_the_music_keeps_the_place(stand):
    player = stand.player
    for _ in range(3):
        player.play(Segment("a", 1.0, 9.0), repeat=False)
        stand.until(lambda: player.now().key == "a" and player.now().source > 1.5)
        places, events = [player.now().source], []
        player.change(Segment("b", 1.0, 9.0, 0.6), repeat=False)
        while player.now().key != "b":  # how soon it is heard, tests/bench/response.py measures
            places.append(player.now().source)
            events += stand.wait(0.01)
        if places[-1] < 8.5:  # else the machine was so busy that the pass was over before
            break
    assert places[-1] - 0.05 < player.now().source < places[-1] + 0.15
    events += stand.wait(0.05)
    ended = next(e for e in events if isinstance(e, PassEnded))
    assert (ended.key, ended.complete) == ("a", False)


def test_a_change_to_music_elsewhere_begins_at_its_beginning(stand):
    player = stand.player
    player.play(Segment("a", 1.0, 9.0, lead=1.0), repeat=False)
    for moment in (lambda: player.now().elapsed > -0.8, lambda: player.now().source > 1.3):
        stand.until(lambda moment=moment: player.now().key == "a" and moment())
        player.change(Segment("b", 5.0, 9.0, lead=0.5), repeat=False)
        stand.until(lambda: player.now().key == "b")
        assert player.now().state == "lead"
        assert player.now().elapsed < -0.35
        player.play(Segment("a", 1.0, 9.0, lead=1.0), repeat=False)
        stand.until(lambda: player.now().key == "a")


@pytest.mark.parametrize("lead", [0.0, 2.0])
def test_a_change_while_paused_stays_paused_and_goes_on_from_there(stand, lead):
    player = stand.player
    player.play(Segment("a", 1.0, 9.0, 0.8, lead=lead), repeat=False)
    stand.until(lambda: player.now().key == "a" and player.now().elapsed > 0.5 - 0.75 * lead)
    player.pause()
    stand.until(lambda: player.now().state == "paused")
    stand.wait(0.2)
    held = player.now()
    player.change(Segment("b", 1.0, 9.0, 0.5, lead=lead * 1.6), repeat=False)
    stand.until(lambda: player.now().key == "b")
    assert player.now().state == "paused"
    stand.wait(0.2)
    now = player.now()
    assert (now.key, now.state) == ("b", "paused")
    assert now.elapsed * 0.5 == pytest.approx(held.elapsed * 0.8, abs=0.05)
    player.resume()
    stand.until(lambda: player.now().state in ("lead", "music"))
    stand.until(lambda: player.now().elapsed > now.elapsed + 0.1)


def test_a_stop_breaks_the_pass_off_where_it_was(stand):
    player = stand.player
    player.play(Segment("a", 1.0, 9.0), repeat=False)
    stand.until(lambda: player.now().source > 1.4)
    player.stop()
    events = stand.until(lambda: player.now().state == "stopped")
    events += stand.wait(0.05)
    (ended,) = [e for e in events if isinstance(e, PassEnded)]
    assert not ended.complete
    assert ended.reached == pytest.approx(1.4, abs=0.25)


def test_a_loss_ends_the_pass_is_told_once_and_a_new_wish_is_played(stand):
    player = stand.player
    player.play(Segment("a", 1.0, 9.0), repeat=False)
    stand.until(lambda: player.now().source > 1.3)
    stand.lose()
    events = stand.until(lambda: player.now().state == "lost")
    events += stand.wait(0.05)
    assert [type(e) for e in events if not isinstance(e, PassStarted)] == [PassEnded, OutputLost]
    player.play(Segment("b", 2.0, 4.0, lead=0.3), repeat=False)
    if hasattr(player, "come_back"):
        player.come_back()
    events = stand.until(lambda: player.now().key == "b")
    assert any(isinstance(e, OutputBack) for e in events)
    stand.until(lambda: player.now().state == "music")
