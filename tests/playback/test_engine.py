"""The playback process's watch over its device and over the machine's sleep."""

import gc
import time

import pytest

from rehearse.files.user_error import UserError
from rehearse.playback import engine as module
from rehearse.playback.engine import Engine
from rehearse.playback.messages import DeviceOpened, Heard, Load, Play
from rehearse.playback.segment import Segment
from rehearse.playback.stretch_chunks import StretchChunk
from rehearse.work.shared import Shared
from tests.helpers.playback_tools import RATE


class Listener:
    """Stands for the window."""

    def __init__(self):
        self.messages = []

    def send(self, message):
        self.messages.append(message)


@pytest.fixture
def engine(clicks, monkeypatch):
    # This process is not the playback process: no frozen collector, no priority for its threads.
    monkeypatch.setattr(module, "raise_priority", lambda **_: "")
    engine = Engine(Listener())
    engine._take(Load(Shared(clicks[0].samples), RATE, silent=True))
    yield engine
    engine._output.close()
    engine._stretch_cache.close()
    gc.unfreeze()


def test_marks_and_the_clock_are_told(engine):
    engine._take(Play(Segment("a", 1.0, 2.0), None, True, False))
    end = time.monotonic() + 10
    told = engine._channel.messages
    while not any(isinstance(m, Heard) and m.marks and m.line for m in told):
        assert time.monotonic() < end
        engine._tick()
        time.sleep(0.01)
    assert any(isinstance(m, DeviceOpened) and m.device == "silent" for m in told)
    mark = next(m.marks[0] for m in told if isinstance(m, Heard) and m.marks)
    assert (mark.span.key, mark.number, mark.began) == ("a", 1, True)


def test_sleep_of_the_machine_stops_the_music_with_a_sentence(engine, monkeypatch):
    engine._tick()
    asleep = module._sleep()
    monkeypatch.setattr(module, "_sleep", lambda: asleep + 600)
    with pytest.raises(UserError, match="The machine was asleep – press play to go on"):
        engine._tick()


def test_a_process_that_stood_still_does_not_blame_the_device(engine):
    engine._tick()
    engine._ticked -= 4.0
    engine._output.called -= 4.0
    with pytest.raises(UserError, match="The sound was held up – press play to go on"):
        engine._tick()


def test_a_device_that_has_stopped_asking_for_sound_counts_as_gone(engine, monkeypatch):
    engine._tick()
    engine._output.close()
    engine._opened -= 60
    engine._output.called -= 60
    with pytest.raises(UserError, match="The sound device is gone"):
        engine._tick()


def test_a_request_before_a_track_does_no_harm():
    Engine(Listener())._take(Play(Segment("a", 1.0, 2.0), None, True, False))


def test_a_mistake_in_mixing_is_not_taken_for_a_lost_device(engine):
    engine._tick()
    engine._output.failure = "Traceback: where it rose"
    with pytest.raises(Exception, match="where it rose") as caught:
        engine._tick()
    assert not isinstance(caught.value, UserError)


def test_music_that_can_never_be_made_is_told_and_not_asked_for_for_ever(engine):
    impossible = StretchChunk("odd", 0, RATE, 0.8)

    def ask():
        end = time.monotonic() + 20
        while time.monotonic() < end:
            engine._stretch_cache.ask(impossible, urgent=True)
            time.sleep(0.01)

    with pytest.raises(KeyError, match="odd"):
        ask()
