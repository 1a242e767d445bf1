"""Events come when they are heard, not when they are mixed."""

import pytest

from rehearse.playback.segment import Now, PassEnded, PassStarted
from rehearse.playback.timeline import PlayheadMark, Span, Timeline

SPAN = Span("a", 0.5, 1000, 2000, 4000, 4000)  # 2 s .. 4 s of the track, heard in 4 s


def filled():
    timeline = Timeline()
    timeline.add(PlayheadMark(100, SPAN, 1, -500, "running", began=True))
    timeline.add(PlayheadMark(4600, SPAN, 2, -500, "running", began=True, ended=True))
    timeline.add(PlayheadMark(6100, SPAN, 2, 1000, "stopped", ended=False))
    return timeline


def test_what_is_heard_at_each_frame():
    timeline = filled()
    assert timeline.now(99) is None
    assert timeline.now(350) == Now(2.0, -0.25, 0.5, "a", 1, "lead")
    assert timeline.now(1600) == Now(2.5, 1.0, 0.5, "a", 1, "music")
    assert timeline.now(4599.0).source == pytest.approx(3.9995)
    assert timeline.now(5100) == Now(2.0, 0.0, 0.5, "a", 2, "music")
    assert timeline.now(9999) == Now(2.5, 1.0, 0.5, "a", 2, "stopped")


def test_events_wait_until_they_are_heard():
    timeline = filled()
    assert timeline.events(99) == ()
    assert timeline.events(100) == (PassStarted("a", 1, 2.0),)
    assert timeline.events(4599) == ()
    assert timeline.events(4600) == (PassEnded("a", 1, True, 4.0, 2.0), PassStarted("a", 2, 2.0))
    assert timeline.events(1e9) == (PassEnded("a", 2, False, 2.5, 2.0),)
    assert timeline.events(2e9) == ()


def test_a_break_off_ends_the_pass_where_it_was_heard():
    timeline = filled()
    assert timeline.break_off(1600) == (
        PassStarted("a", 1, 2.0),
        PassEnded("a", 1, False, 2.5, 2.0),
    )
    assert timeline.break_off(9999) == ()
    assert timeline.now(9999) is None


def test_rest_follows_the_music():
    timeline = Timeline()
    timeline.add(PlayheadMark(0, SPAN, 1, 0, "running", began=True))
    assert timeline.now(4500) == Now(4.0, 4.5, 0.5, "a", 1, "rest")
