"""A round as it runs: on the tests' own time, and heard through a real sound server."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from rehearse.music.track import Track
from rehearse.practice.logbook import Logbook
from rehearse.routine.poses import load_catalogue
from rehearse.routine.rounds import RoundWish, make_round
from rehearse.routine.rules import load_rules
from rehearse.session.round_run import RoundRun
from rehearse.session.round_timeline import lay_out

from .conftest import Turntable

CATALOGUE = load_catalogue()
EVENING = datetime(2026, 11, 2, 18, 0, tzinfo=UTC)
SILENCE = Track(np.zeros((8000 * 20, 2), np.float32), 8000, "silence")


class Evening:
    """A round on the turntable, its log in a file."""

    def __init__(self, book, kind="mandatories", **wishes):
        made = make_round(load_rules("nga-amateur"), RoundWish(kind, **wishes), CATALOGUE)
        self.book, self.player, self.told = book, Turntable(), []
        self.laid = lay_out(made, lambda text: 1.0)
        self.run = RoundRun(
            self.player, self.laid, SILENCE, None, book, on_error=self.told.append,
            clock=lambda: EVENING, steady=lambda: self.player.time,
        )  # fmt: skip

    def to(self, cue_state):
        """Let time run to a second of the round, looked at as a window does."""
        while self.player.time < cue_state - 1e-9:
            self.player.advance(min(0.05, cue_state - self.player.time))
            self.view = self.run.tick()
        return self.view

    @property
    def kept(self):
        (done,) = self.book.rounds()
        return done


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "practice.sqlite", tmp_path / "spare.sqlite") as opened:
        yield opened


def test_a_round_runs_by_itself_and_each_call_is_kept_as_it_ends(book):
    evening = Evening(book)
    first, second = evening.laid.calls[:2]
    evening.to(first.relax - 0.1)
    assert book.rounds() == ()
    evening.to(first.relax + 0.1)
    assert len(evening.kept.calls) == 1
    assert not evening.kept.complete
    view = evening.to(evening.laid.end + 0.5)
    assert view.state == "over"
    done = evening.kept
    assert done.complete
    assert len(done.calls) == 8
    for call, one in zip(done.calls, evening.laid.calls, strict=True):
        assert (call.called - EVENING).total_seconds() == pytest.approx(one.at, abs=0.001)
        assert call.hold == pytest.approx(one.call.hold, abs=0.002)
    assert second.at > first.relax


def test_clean_and_missed_belong_to_the_hold_under_way_or_the_one_before(book):
    evening = Evening(book)
    a, b, c = evening.laid.calls[:3]
    evening.to(a.hit + 2.0)
    evening.run.judge("clean")
    evening.to(b.hit + 4.0)
    assert evening.view.verdict is None
    evening.run.judge("missed")  # lost it here
    assert evening.run.tick().verdict == "missed"
    evening.to(c.relax + 0.5)
    evening.run.judge("missed")  # said in the rest: where is not known
    evening.to(evening.laid.calls[3].at + 0.5)  # the next is being said
    evening.run.judge("clean")  # changed one's mind about the third
    evening.run.stop()
    calls = evening.kept.calls
    assert [call.verdict for call in calls] == ["clean", "missed", "clean"]
    assert calls[1].lost_at == pytest.approx(4.0, abs=0.06)
    assert calls[1].tension == pytest.approx(4.0, abs=0.06)
    assert calls[2].lost_at is None


def test_before_the_first_hold_there_is_nothing_to_judge(book):
    evening = Evening(book)
    evening.to(1.0)
    evening.run.judge("missed")
    evening.to(evening.laid.calls[0].relax + 0.1)
    assert evening.kept.calls[0].verdict is None


def test_a_pause_inside_a_hold_has_it_called_again(book):
    evening = Evening(book)
    one = evening.laid.calls[0]
    evening.to(one.hit + 6.0)
    evening.run.judge("missed")
    evening.run.pause()
    assert evening.run.tick().state == "paused"
    evening.player.time += 30.0
    evening.run.resume()
    view = evening.run.tick()
    assert view.state == "rest"  # a second before the call
    later = evening.player.time
    while evening.run.tick().heard < one.relax + 0.2:
        evening.player.advance(0.05)
    call = evening.kept.calls[0]
    assert call.hold == pytest.approx(10.0, abs=0.01)
    assert call.verdict is None
    assert (call.called - EVENING).total_seconds() == pytest.approx(later + 1.0, abs=0.06)


def test_the_emergency_stop_marks_nothing_and_keeps_what_was_held(book):
    evening = Evening(book)
    evening.to(evening.laid.calls[1].hit + 3.0)
    evening.run.stop_unwell()
    view = evening.run.tick()
    assert (view.state, view.unwell) == ("over", True)
    done = evening.kept
    assert [call.verdict for call in done.calls] == [None, None]
    assert done.calls[1].hold == pytest.approx(3.0, abs=0.06)
    assert not done.complete
    (stopped,) = book.db.execute("SELECT stopped FROM sessions").fetchone()
    assert stopped == "unwell"
    assert evening.player.current is None


def test_a_lost_speaker_holds_the_round_and_the_call_is_made_again(book):
    evening = Evening(book)
    one = evening.laid.calls[1]
    evening.to(one.hit + 2.0)
    evening.player.lose()
    view = evening.run.tick()
    assert (view.state, bool(view.sentence)) == ("paused", True)
    assert len(evening.told) == 1
    evening.run.resume()
    while evening.run.tick().heard < one.relax + 0.2:
        evening.player.advance(0.05)
    assert len(evening.kept.calls) == 2


def test_a_stop_before_anything_was_held_leaves_no_round(book):
    evening = Evening(book)
    evening.to(2.0)
    evening.run.stop()
    assert book.rounds() == ()


def test_a_verdict_after_the_end_does_not_lengthen_the_round(book):
    evening = Evening(book, "turns")
    evening.to(evening.laid.end + 0.2)
    ended = evening.kept.ended
    evening.player.time += 600
    evening.run.judge("clean")
    assert evening.kept.calls[-1].verdict == "clean"
    assert evening.kept.ended - ended < timedelta(seconds=1)
