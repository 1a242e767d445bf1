"""What an impatient, tired or unlucky athlete does to a rehearsal."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from rehearse.cueing.cues import CueSheet
from rehearse.files.user_error import UserError
from rehearse.music.beatmap import BeatMap, Stretch
from rehearse.music.position import Length, Seconds, parse_position
from rehearse.music.track import Track, hash_samples
from rehearse.practice.drill import Drill, fixed
from rehearse.practice.guided import Guided
from rehearse.practice.logbook import Logbook
from rehearse.practice.plan import make_plan
from rehearse.practice.planbook import keep_plan
from rehearse.practice.scope import marks_scope, section_scope, transition_scope
from rehearse.routine.model import Placed, Routine, Section, StagePart
from rehearse.routine.poses import load_catalogue
from rehearse.session.rehearsal_context import RehearsalContext

from .conftest import RATE, Room

SECOND_REST = Length(2.0, in_counts=False)


def made(poses, sections=(), free=(), seconds=16.0, stage=None):
    """A score of two beats a second, without beats in its free time."""
    samples = np.zeros((round(seconds * RATE), 2), np.float32)
    track = Track(samples, RATE, hash_samples(samples, RATE))
    beats = [0.5 * k for k in range(round(2 * seconds))]
    beats = [b for b in beats if not any(s.start <= b < s.end for s in free)]
    places = tuple(k % 4 + 1 for k in range(len(beats)))
    beatmap = BeatMap(track.content_hash, seconds, tuple(beats), places, free=tuple(free))
    routine = Routine("t", "t.wav", poses=tuple(poses), sections=tuple(sections), stage=stage)
    return RehearsalContext(track, routine, CueSheet.compile(routine, beatmap, load_catalogue()))


def pose(number, name, at, hold=2, transition=2):
    where = Seconds(at) if isinstance(at, float) else parse_position(at)
    return Placed(f"p{number}", name, where, Length(hold), Length(transition))


@pytest.fixture
def edges():
    """A pose on the first beat of the song, one whose hold outlasts it, one in free time."""
    return made(
        (
            pose(0, "vacuum", "1:1"),
            pose(1, "crucifix", 9.5, hold=1),
            pose(2, "front double biceps", 15.5, hold=4),
        ),
        sections=(
            Section("short", "Short", Seconds(2.0), Seconds(3.0)),
            Section("free", "Free", Seconds(8.2), Seconds(11.9)),
        ),
        free=(Stretch(8.0, 12.0),),
    )


def drill_to_the_end(context, scope, tmp_path):
    with Logbook(tmp_path / "practice.sqlite") as book:
        room = Room(context, book)
        room.rehearsal.start(Drill(scope, fixed(100), passes=2))
        view = room.run(0.02)
        assert view.state == "count-in"
        assert view.cue_state is not None
        room.until("over")
        return book.history()


@pytest.mark.parametrize("pose_id", ["p0", "p1", "p2"])
def test_transitions_at_the_songs_very_edges_are_drilled(edges, tmp_path, pose_id):
    scope = transition_scope(edges.routine, edges.sheet.beatmap, pose_id)
    assert 0.0 <= scope.start < scope.end <= 16.0
    passes = drill_to_the_end(edges, scope, tmp_path)
    assert [p.complete for p in passes] == [True, True]
    assert all(pose_id in [t.pose for t in p.taken] for p in passes)


@pytest.mark.parametrize("section", ["short", "free"])
def test_a_section_of_a_second_and_one_in_free_time_are_drilled(edges, tmp_path, section):
    scope = section_scope(edges.routine, edges.sheet.beatmap, section)
    passes = drill_to_the_end(edges, scope, tmp_path)
    assert [(p.section, p.complete) for p in passes] == [(section, True)] * 2


def test_marks_may_be_set_in_any_order_but_not_on_each_other(edges):
    beatmap = edges.sheet.beatmap
    assert marks_scope(beatmap, 6.0, 3.0) == marks_scope(beatmap, 3.0, 6.0)
    with pytest.raises(UserError, match="less than a second apart"):
        marks_scope(beatmap, 3.0, 3.4)


def test_the_whole_of_a_routine_with_a_stage_part_past_the_song_ends_with_it(tmp_path):
    context = made((pose(0, "vacuum", "1:5"),), stage=StagePart(0.0, 99.0))
    plan = first_plan(context, tmp_path)
    assert plan.lines[0].work.scope.end == 16.0


def first_plan(context, tmp_path, routine=None):
    routine = routine or context.routine
    with Logbook(tmp_path / "practice.sqlite") as book:
        return make_plan(book, routine, context.sheet.beatmap, minutes=20, today=date(2027, 3, 1))


@pytest.mark.parametrize("show", ["", "2027-02-01", "2027-03-01", "2027-03-02", "2027-03-09"])
def test_a_plan_comes_before_on_and_after_the_show(context, tmp_path, show):
    routine = replace(context.routine, show_date=show)
    plan = first_plan(context, tmp_path, routine)
    assert plan.lines[0].group == "open"
    assert plan.lines[-1].group == "close"
    assert not any("-" in line.reason.split(" to the show")[0][:4] for line in plan.lines)
    if show == "2027-02-01":  # over: nothing is said of it any more
        assert not any("to the show" in line.reason for line in plan.lines)


def test_a_tempo_changed_in_the_count_in_holds_for_the_pass(room, context):
    scope = section_scope(context.routine, context.sheet.beatmap, "s1")
    room.rehearsal.start(Drill(scope, fixed(100), passes=2))
    room.run(0.3)
    room.rehearsal.set_percent(70)
    assert room.run(0.02).state == "count-in"
    room.until("over")
    assert [round(100 * p.tempo) for p in room.book.history()] == [70, 70]
    assert all(p.complete for p in room.book.history())


def test_a_tempo_changed_in_the_rest_holds_from_the_next_pass_on(room, context):
    scope = section_scope(context.routine, context.sheet.beatmap, "s1")
    room.rehearsal.start(Drill(scope, fixed(100), passes=2, rest=SECOND_REST))
    room.until("rest")
    room.rehearsal.set_percent(60)
    assert room.run(0.02).plan.percent == 60
    room.until("over")
    assert [round(100 * p.tempo) for p in room.book.history()] == [100, 60]


def test_a_clock_set_back_loses_no_pass(room, context):
    scope = section_scope(context.routine, context.sheet.beatmap, "s1")
    back = timedelta(0)
    true = room.rehearsal._clock
    room.rehearsal._clock = lambda: true() - back
    room.rehearsal.start(Drill(scope, fixed(100), passes=3, rest=SECOND_REST))
    room.until("music")
    back = timedelta(hours=2)
    room.until("rest")
    room.rehearsal.judge("clean")
    room.until("over")
    passes = room.book.history()
    assert len(passes) == 3
    assert all(p.complete and p.ended >= p.started for p in passes)
    (whole,) = room.book.db.execute(
        "SELECT sum(passes) FROM tally WHERE kind = 'section'"
    ).fetchone()
    assert whole == 3


def test_another_routine_breaks_a_plan_off_and_it_goes_on_later(room, context):
    today = room.clock().date()
    plan = make_plan(room.book, context.routine, context.sheet.beatmap, minutes=20, today=today)
    room.rehearsal.start(Guided(keep_plan(room.book, plan)))
    room.until("music")
    room.run(1.0)
    room.rehearsal.open(None, None)
    (broken,) = room.book.history()
    assert not broken.complete
    assert broken.line == plan.lines[0].id
