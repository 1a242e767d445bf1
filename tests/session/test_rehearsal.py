"""Practice, player and logbook stay in step through verdicts, tempo changes, stops and losses."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rehearse.cueing.voice import SpeechEngine, espeak
from rehearse.files.user_error import UserError
from rehearse.music.position import Length
from rehearse.playback.loop_pass import DUCKED
from rehearse.playback.offline_render import render
from rehearse.practice.drill import Drill, TempoSteps, fixed
from rehearse.practice.logbook import Logbook
from rehearse.practice.runthrough import RunThrough
from rehearse.practice.scope import section_scope, whole_scope
from rehearse.session.segment_builder import SegmentSpec, segment, speech_of
from tests.helpers.playback_tools import made

from .conftest import RATE

SECOND_REST = Length(2.0, in_counts=False)


def drill(context, **more):
    scope = section_scope(context.routine, context.sheet.beatmap, "s1")
    return Drill(scope, **{"steps": TempoSteps(first=80, after=1), "passes": 3, **more})


def tempos(room):
    return [round(100 * p.tempo) for p in room.book.history()]


def test_nothing_can_be_begun_without_music(room):
    room.rehearsal.open(None, None)
    with pytest.raises(UserError, match="open a routine"):
        room.rehearsal.start(None)


def test_a_drill_counts_in_plays_and_logs_each_pass_at_its_end(room, context):
    room.rehearsal.start(drill(context, steps=fixed(50)))
    view = room.run(0.1)
    assert view.state == "count-in"
    assert room.until("music").plan.percent == 50
    assert room.book.history() == ()
    room.until("over")
    passes = room.book.history()
    assert tempos(room) == [50, 50, 50]
    assert all(p.complete and p.section == "s1" for p in passes)
    seconds = [(p.ended - p.started).total_seconds() for p in passes]
    assert seconds == pytest.approx([passes[0].end / 0.5] * 3, abs=0.1)


def test_a_voice_that_fails_is_told_once_and_the_drill_goes_on_with_clicks(
    room, context, monkeypatch, tmp_path
):
    monkeypatch.setattr(espeak, "_loaded", [])
    monkeypatch.setattr(espeak, "_packaged", lambda name: str(tmp_path / "gone.so"))
    room.rehearsal.open(replace(context, speech_engine=SpeechEngine()), room.book)
    room.rehearsal.start(drill(context, steps=fixed(50)))
    room.until("over")
    assert len(room.told) == 1
    assert "the cues go on with clicks" in room.told[0]
    assert len(room.book.history()) == 3


def test_the_music_steps_back_under_the_voice_and_not_under_clicks(context):
    stretch, speech_engine = SegmentSpec("s1", 0.0, 8.0), SpeechEngine()
    spoken = [
        x for x in speech_of(stretch, context.sheet, speech_engine).lines if x.kind != "click"
    ]
    one = segment(stretch, context.sheet, RATE, speech_engine)
    assert [c.at for c in one.clips if c.kind == "speech"] == [x.at for x in spoken]
    assert {c.kind for c in segment(stretch, context.sheet, RATE).clips} == {"click"}
    steady = made(np.full(8 * RATE, 0.05), RATE)
    heard, voice = (render(t, [one]) for t in (steady, made(np.zeros(8 * RATE), RATE)))
    music = (heard.samples - voice.samples)[:, 0] / 0.05
    said = [x for x in spoken if x.at > 0.5]
    assert said
    for line in said:
        middle = round((heard.starts[0] + (line.at + line.end) / 2) * RATE)
        assert music[middle] == pytest.approx(DUCKED, abs=0.01)


def test_what_the_voice_cannot_read_is_told_in_one_sentence(room, context):
    from rehearse.session.rehearsal import Rehearsal

    told = []
    rehearsal = Rehearsal(room.table, on_error=told.append)
    speech_engine = SpeechEngine()
    for text in ("背阔肌", "💪", "Кросс"):
        assert speech_engine.measure(text) is None
    rehearsal.open(replace(context, speech_engine=speech_engine), None)
    rehearsal.start(drill(context))
    (sentence,) = told
    assert sentence.startswith("背阔肌: is in an alphabet the voice")
    assert sentence.endswith("And 2 more.")
    rehearsal.stop()


def test_a_pass_is_in_the_log_while_its_rest_still_lasts(room, context):
    room.rehearsal.start(drill(context, rest=SECOND_REST))
    view = room.until("rest")
    assert len(room.book.history()) == 1
    assert view.rest == pytest.approx(2.0, abs=0.1)


def test_clean_passes_raise_the_tempo_and_a_miss_lowers_it(room, context):
    room.rehearsal.start(drill(context, passes=4, rest=SECOND_REST))
    for verdict in ("clean", "clean", "missed", None):
        room.until("music")
        if verdict:
            room.rehearsal.judge(verdict)
        room.until("rest" if verdict else "over")
    assert tempos(room) == [80, 85, 90, 85]
    assert [p.verdict for p in room.book.history()] == ["clean", "clean", "missed", None]


def test_a_verdict_in_the_rest_still_changes_the_next_pass(room, context):
    room.rehearsal.start(drill(context, rest=SECOND_REST, passes=2))
    room.until("rest")
    room.rehearsal.judge("clean")
    assert room.until("count-in").plan.percent == 85
    room.until("over")
    assert tempos(room) == [80, 85]


def test_a_verdict_in_the_count_in_is_for_the_pass_before(room, context):
    room.rehearsal.start(drill(context, passes=3))
    room.until("music")
    assert room.until("count-in").plan.percent == 80
    room.rehearsal.judge("clean")
    assert room.run(0.04).plan.percent == 80
    room.until("music")
    room.until("count-in")
    room.until("over")
    assert room.book.history()[0].verdict == "clean"
    assert tempos(room)[:2] == [80, 80]
    assert tempos(room)[2] == 85


def test_a_verdict_a_moment_too_late_leaves_the_pass_that_is_heard(room, context):
    room.rehearsal.start(drill(context, passes=2, rest=SECOND_REST))
    room.until("rest")
    room.table.advance(2.5)  # the next pass sounds already, nobody has looked yet
    room.rehearsal.judge("clean")
    assert room.run(0.02).plan.percent == 80
    room.until("over")
    assert tempos(room) == [80, 80]


def test_a_late_miss_opens_a_finished_drill_again(room, context):
    room.rehearsal.start(drill(context, steps=fixed(100), passes=None, clean=1))
    room.until("music")
    room.rehearsal.judge("clean")
    room.until("over")
    room.rehearsal.judge("missed")
    assert room.run(0.1).state == "count-in"


def test_a_pass_counts_at_the_slowest_tempo_it_had(room, context):
    room.rehearsal.start(drill(context, steps=fixed(100), passes=1))
    room.until("music")
    room.run(1.0)
    heard = room.rehearsal.tick().heard
    room.rehearsal.set_percent(60)
    assert room.run(0.02).heard == pytest.approx(heard, abs=0.1)
    room.rehearsal.set_percent(100)
    room.until("over")
    assert tempos(room) == [60]


def test_paused_music_goes_on_where_it_was(room, context):
    room.rehearsal.start(drill(context, passes=1))
    room.until("music")
    room.run(1.0)
    room.rehearsal.pause()
    view = room.run(5.0)
    assert view.state == "paused"
    room.rehearsal.resume()
    assert room.run(0.02).heard == pytest.approx(view.heard, abs=0.1)
    room.until("over")
    assert [p.complete for p in room.book.history()] == [True]


def test_a_stop_logs_the_pass_as_broken_off_where_it_was(room, context):
    room.rehearsal.start(drill(context))
    room.until("music")
    room.run(2.0)
    room.rehearsal.stop()
    assert room.run(0.1).state == "over"
    (one,) = room.book.history()
    assert not one.complete
    assert one.reached == pytest.approx(one.start + 2.0 * 0.8, abs=0.1)


def test_stopped_unwell_marks_nothing_and_asks_nothing(room, context):
    whole = whole_scope(context.routine, context.sheet.beatmap)
    room.rehearsal.start(RunThrough(whole))
    room.until("music")
    room.rehearsal.judge("missed")
    room.rehearsal.stop_unwell()
    view = room.run(1.0)
    assert (view.state, view.asks) == ("over", False)
    assert [p.verdict for p in room.book.history()] == [None]
    room.rehearsal.judge("missed")
    assert [p.verdict for p in room.book.history()] == [None]


def test_unwell_right_after_a_run_takes_its_question_away(room, context):
    room.rehearsal.start(RunThrough(whole_scope(context.routine, context.sheet.beatmap)))
    assert room.until("over").asks
    room.rehearsal.stop_unwell()
    view = room.run(0.1)
    assert (view.asks, view.unwell) == (False, True)
    room.rehearsal.judge("missed")
    (run,) = room.book.history()
    assert run.verdict is None
    assert room.book.db.execute("SELECT stopped FROM sessions").fetchall() == [("unwell",)]


def test_a_run_asks_once_where_it_broke(room, context):
    whole = whole_scope(context.routine, context.sheet.beatmap)
    room.rehearsal.start(RunThrough(whole))
    assert room.until("over").asks
    room.rehearsal.broke(9.0)
    assert not room.run(0.1).asks
    (run,) = room.book.history()
    assert (run.verdict, run.broke_at) == ("missed", 9.0)


def test_lost_sound_breaks_the_pass_off_and_a_key_begins_it_again(room, context):
    room.rehearsal.start(drill(context, passes=1))
    room.until("music")
    room.run(1.0)
    room.table.lose()
    view = room.run(0.5)
    assert view.state == "paused"
    assert view.sentence in room.told
    assert [p.complete for p in room.book.history()] == [False]
    room.table.come_back()
    assert room.run(0.1).sentence == ""
    room.rehearsal.resume()
    assert room.run(0.1).state == "count-in"
    room.until("over")
    assert [p.complete for p in room.book.history()] == [False, True]


def test_sound_lost_in_the_count_in_logs_nothing(room, context):
    room.rehearsal.start(drill(context, passes=1))
    room.run(0.5)
    room.table.lose()
    room.run(0.2)
    assert room.book.history() == ()
    room.rehearsal.resume()
    room.until("over")
    assert [p.complete for p in room.book.history()] == [True]


def test_another_start_breaks_off_what_was_under_way(room, context):
    room.rehearsal.start(drill(context))
    room.until("music")
    room.rehearsal.start(drill(context, passes=1))
    room.until("over")
    assert [p.complete for p in room.book.history()] == [False, True]


ACTIONS = st.sampled_from(
    ["clean", "missed", "pause", "resume", "slower", "faster", "stop", "start", "unwell", "lose"]
)


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(st.tuples(ACTIONS, st.floats(0.02, 6.0)), min_size=1, max_size=12))
def test_whatever_is_pressed_the_log_holds_each_pass_once(context, tmp_path_factory, presses):
    from tests.session.conftest import Room

    with Logbook(tmp_path_factory.mktemp("log") / "practice.sqlite") as book:
        room = Room(context, book)
        room.rehearsal.start(drill(context, rest=SECOND_REST))
        for action, wait in presses:
            _press(room, context, action)
            view = room.run(wait, step=0.1)
            assert view.state in ("count-in", "music", "rest", "paused", "over")
            assert (view.cue_state is not None) or view.state == "over"
        room.rehearsal.stop()
        passes = book.history()
        assert len({p.id for p in passes}) == len(passes)
        assert room.rehearsal.busy is False
        for one in passes:
            assert one.complete or one.start <= one.reached <= one.end


def _press(room, context, action):
    rehearsal = room.rehearsal
    if action in ("clean", "missed"):
        rehearsal.judge(action)
    elif action in ("slower", "faster"):
        rehearsal.set_percent(60 if action == "slower" else 100)
    elif action == "start":
        rehearsal.start(drill(context, passes=2))
    elif action == "lose":
        if room.table.current is not None and not room.table.lost:
            room.table.lose()
    else:
        getattr(rehearsal, {"unwell": "stop_unwell"}.get(action, action))()


@pytest.mark.parametrize("hours", [-168, -1, 168])
def test_a_clock_set_anew_in_mid_pass_changes_no_length(room, context, hours):
    room.rehearsal.start(drill(context, steps=fixed(50), passes=2))
    room.until("music")
    room.run(1.0)
    table, noon = room.table, room.clock() + timedelta(hours=hours)
    room.rehearsal._clock = lambda: noon + timedelta(seconds=table.time)
    room.until("over")
    passes = room.book.history()
    seconds = [(p.ended - p.started).total_seconds() for p in passes]
    assert seconds == pytest.approx([passes[0].end / 0.5] * 2, abs=0.1)


def test_what_follows_waits_where_something_is_looked_at_first(room, context):
    room.rehearsal.start(drill(context, passes=2))
    room.until("count-in")
    assert not room.rehearsal.closes  # one more follows
    room.rehearsal.wait_after()
    room.until("paused")
    assert len(room.book.history()) == 1
    assert room.rehearsal.waits
    assert room.rehearsal.last.complete
    assert room.run(5.0).state == "paused"
    room.rehearsal.judge("missed")  # changes the next pass, and begins none
    assert room.run(1.0).state == "paused"
    room.rehearsal.resume()
    room.until("music")
    assert not room.rehearsal.waits
    assert room.rehearsal.closes
    assert tempos(room) == [80]
    room.until("over")  # nothing was said about this one
    assert tempos(room) == [80, 75]


def test_a_verdict_that_ends_it_while_it_waits_lets_another_begin(room, context):
    clean_once = drill(context, steps=fixed(100), passes=None, clean=1)
    room.rehearsal.start(clean_once)
    room.until("music")
    assert room.rehearsal.closes
    room.rehearsal.wait_after()
    room.until("paused")
    room.rehearsal.judge("clean")
    assert room.run(0.1).state == "over"
    assert not room.rehearsal.paused
    room.rehearsal.start(clean_once)
    assert room.until("music").state == "music"


def test_what_no_longer_waits_follows_without_a_gap(room, context):
    room.rehearsal.start(drill(context, passes=2))
    room.until("music")
    room.rehearsal.wait_after()
    room.rehearsal.wait_after(False)
    room.until("count-in")
    room.until("over")
    assert len(room.book.history()) == 2
