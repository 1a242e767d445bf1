"""From the last pose of a pass to the first one of the next: what the stage shows of it."""

from dataclasses import replace

import pytest

from rehearse.cueing.cues import CueSheet
from rehearse.music.position import Count, Length
from rehearse.practice.drill import Drill, TempoSteps, fixed
from rehearse.practice.runthrough import RunThrough
from rehearse.practice.scope import section_scope, whole_scope
from rehearse.routine.model import Section, StagePart
from rehearse.routine.poses import load_catalogue
from rehearse.ui.stage.frame_timer import FrameTimer


def drill(context, **more):
    scope = section_scope(context.routine, context.sheet.beatmap, "s1")
    return Drill(scope, **{"steps": fixed(100), "passes": 3, **more})


def watched(room, seconds, step=0.02):
    """Frames as (second of output, view)."""
    frames = []
    for k in range(round(seconds / step)):
        room.table.advance(step)
        frames.append((k * step, room.rehearsal.tick()))
    return frames


@pytest.mark.parametrize("percent", [100, 60])
@pytest.mark.parametrize("count_in", [4, 0])
def test_the_countdown_runs_through_the_wrap_to_the_first_pose_of_the_next_pass(
    room, context, percent, count_in
):
    room.rehearsal.start(drill(context, steps=fixed(percent), count_in=count_in))
    room.until("music")
    first = context.sheet.cues[0]
    frames = watched(room, 2 * 8.0 * 100 / percent)
    behind = [
        (at, v)
        for at, v in frames
        if v.plan.number == 1 and v.state == "music" and v.heard > first.hit
    ]
    assert behind
    assert {v.cue_state.next for _, v in behind} == {first}  # never the pose behind the end
    after = [(at, v) for at, v in frames if v.plan.number == 2 and v.heard < first.hit - 1e-3]
    assert after
    # Both sides of the wrap count down to the same moment, in counts that are heard.
    count = 0.5 * 100 / percent
    hits = [at + v.cue_state.counts * count for at, v in (*behind, *after)]
    assert max(hits) - min(hits) < 0.06
    numerals = [int(v.cue_state.numeral) for _, v in (*behind, *after) if v.cue_state.numeral]
    assert numerals == sorted(numerals, reverse=True)
    assert numerals[-1] == 1


def test_what_was_hit_stays_held_although_the_pose_behind_the_end_would_begin(room, context):
    cues = context.sheet.cues
    assert cues[1].start - 0.01 < 9.5  # its transition begins before a longer section ends
    longer = replace(
        context.routine,
        sections=(Section("s1", "First", Count(1, 1), Count(3, 4)),),
    )
    other = replace(context, routine=longer)
    room.rehearsal.open(other, room.book)
    room.rehearsal.start(drill(other))
    room.until("music")
    views = [v for _, v in watched(room, 20.0) if v.plan.number == 1 and v.heard > 9.1]
    assert views
    assert all(v.cue_state.next is cues[0] for v in views)


def test_after_the_last_pass_nothing_is_announced(room, context):
    room.rehearsal.start(drill(context, passes=1))
    room.until("music")
    hit = context.sheet.cues[0].hit
    views = [v for _, v in watched(room, 7.9) if v.heard > hit and v.state == "music"]
    assert views
    assert all(v.cue_state.next is None and v.cue_state.numeral == "" for v in views)


def test_before_a_rest_the_next_pass_is_shown_and_not_counted_down_to(room, context):
    room.rehearsal.start(drill(context, rest=Length(5.0, in_counts=False)))
    room.until("music")
    hit = context.sheet.cues[0].hit
    views = [v for _, v in watched(room, 7.5) if v.heard > hit]
    assert all(
        v.cue_state.next is context.sheet.cues[0] and v.cue_state.numeral == "" for v in views
    )


def test_a_run_still_speaks_of_a_pose_hit_on_its_very_end(room, context):
    last = context.sheet.cues[-1]
    routine = replace(context.routine, stage=StagePart(0.0, last.hit))
    sheet = CueSheet.compile(routine, context.sheet.beatmap, load_catalogue())
    room.rehearsal.open(replace(context, routine=routine, sheet=sheet), room.book)
    room.rehearsal.start(RunThrough(whole_scope(routine, sheet.beatmap)))
    room.until("music")
    before, late = sheet.cues[-2].hit, last.hit - 1e-3
    views = [v for _, v in watched(room, 31.0) if before < v.heard < late]
    assert views
    assert {v.cue_state.next.name for v in views} == {last.name}


def test_a_frame_painted_ahead_shows_the_same(room, context):
    room.rehearsal.start(drill(context))
    room.until("music")
    pace = FrameTimer()
    views = [v for _, v in watched(room, 7.9) if v.heard > context.sheet.cues[0].hit]
    shown = [pace.ahead(v, context.sheet) for v in views if v.state == "music"]
    assert {v.cue_state.next for v in shown} == {context.sheet.cues[0]}


def test_a_tempo_key_keeps_the_place_on_the_stage_until_it_is_heard(room, context):
    room.rehearsal.start(drill(context))
    room.until("music")
    room.run(1.0)
    before = room.rehearsal.tick().heard
    change, room.table.change = room.table.change, lambda *_a, **_k: None  # not heard yet
    room.rehearsal.set_percent(80)
    assert room.run(0.1).heard == pytest.approx(before + 0.1, abs=0.03)
    room.table.change = change
    room.rehearsal.stop()


def test_a_tempo_key_in_the_count_in_keeps_the_count_on_the_stage(room, context):
    room.rehearsal.start(drill(context, steps=fixed(50)))
    view = room.run(2.3)
    assert view.state == "count-in"
    counts = view.cue_state.counts
    room.rehearsal.set_percent(100)
    view = room.run(0.04)
    assert view.cue_state.counts == pytest.approx(counts, abs=0.15)
    assert view.cue_state.count_in


def test_a_tempo_key_makes_one_passage_and_what_follows_once_it_is_heard(room, context):
    room.rehearsal.start(drill(context))
    room.until("music")
    room.run(0.5)
    made = room.rehearsal._made
    for percent in (95, 90, 85, 85, 85):
        room.rehearsal.set_percent(percent)
    assert room.rehearsal._made - made == 3
    room.run(0.1)
    assert room.rehearsal._made - made == 4
    assert room.table.follow is not None
    room.until("over")
    assert [round(100 * p.tempo) for p in room.book.history()] == [85, 85, 85]


def test_a_change_that_came_too_late_for_its_pass_does_not_play_it_again(room, context):
    room.rehearsal.start(drill(context, passes=2))
    room.until("music")
    room.run(7.9)
    change, room.table.change = room.table.change, lambda *_a, **_k: None  # the pass ends first
    room.rehearsal.set_percent(80)
    room.run(0.2)
    room.table.change = change
    assert len(room.book.history()) == 1
    room.until("over")
    assert len(room.book.history()) == 2


def torn(room, seconds=1.9):
    from rehearse.playback.segment import Gap

    room.table.events.append(Gap(seconds))
    room.run(0.04)


def test_a_pass_some_of_which_was_not_heard_is_not_clean_by_itself(room, context):
    steps = TempoSteps(first=80, after=1, up=5, unjudged=True)
    room.rehearsal.start(drill(context, steps=steps, passes=4))
    percents = []
    for number in range(1, 5):
        while (view := room.run(0.02)).plan.number != number or view.state != "music":
            assert view.state != "over"
        percents.append(view.plan.percent)
        if number in (2, 3):
            torn(room)
        if number == 3:
            room.rehearsal.judge("clean")  # whoever danced it knows
    assert percents == [80, 85, 85, 90]
    assert len(room.told) == 2
    assert "stood still for 1.9 s" in room.told[0]
    assert room.told[0].endswith("counts as clean only if you say so.")


def test_a_gap_told_at_the_end_of_a_pass_counts_for_that_pass(room, context):
    steps = TempoSteps(first=80, after=1, up=5, unjudged=True)
    room.rehearsal.start(drill(context, steps=steps, rest=Length(3.0, in_counts=False)))
    room.until("rest")
    torn(room)
    assert room.until("count-in").plan.percent == 80
