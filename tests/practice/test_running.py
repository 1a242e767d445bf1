"""A drill and a run-through under way: verdicts early and late, questions asked once, stops."""

from dataclasses import replace
from datetime import timedelta

import pytest

from rehearse.music.position import Length
from rehearse.practice.drill import Drill, TempoSteps, fixed
from rehearse.practice.passplan import Result, practised
from rehearse.practice.running import Phase, Running
from rehearse.practice.runthrough import RunThrough, place_of_number
from rehearse.practice.scope import section_scope, transition_scope, whole_scope

from .made import MONDAY


def begin(work, spots):
    return Running(work, spots)


def one_pass(state, at=MONDAY, press=None, late=None):
    """Play the next pass; `press` during the music, `late` in the rest."""
    state = state.count_in().music(at)
    if press:
        state, _ = state.judge(press)
    state, done = state.ended(at + timedelta(seconds=10))
    if late:
        state, judged = state.judge(late)
        assert (judged.id, judged.verdict) == (done.id, late)
    return state, done


@pytest.fixture
def drill(routine, beatmap):
    return Drill(transition_scope(routine, beatmap, "p04"), TempoSteps(), clean=1)


@pytest.fixture
def run(routine, beatmap):
    return RunThrough(whole_scope(routine, beatmap), cueing="memory")


def test_a_drill_from_sixty_to_a_hundred_with_one_button(drill, spots):
    state, heard = begin(drill, spots), []
    while state.upcoming is not None:
        heard.append(state.upcoming.percent)
        state, done = one_pass(state, press="clean")
        assert done.verdict == "clean"
        assert done.tempo == heard[-1] / 100
        assert done.transition == "p04"
    # Two passes at each of 60, 65 … 95 and one clean pass at 100: 17 in all.
    assert heard == [p for p in range(60, 100, 5) for _ in range(2)] + [100]
    assert state.phase is Phase.OVER


def test_the_change_of_tempo_is_announced_and_lined_up_before_the_pass_ends(drill, spots):
    state = begin(drill, spots)
    assert state.upcoming.say == "side triceps left to back double biceps, 60 percent"
    state, _ = one_pass(state, press="clean")
    assert state.upcoming.say == ""
    state = state.count_in().music(MONDAY)
    assert state.following.percent == 60
    state, _ = state.judge("clean")
    assert (state.following.percent, state.following.say) == (65, "up to 65 percent")
    state, _ = state.judge("missed")
    assert (state.following.percent, state.following.say) == (55, "down to 55 percent")


def test_a_miss_can_be_pressed_up_to_the_next_count_in(drill, spots):
    state, first = one_pass(begin(drill, spots), press="clean")
    state, judged = state.judge("missed")
    assert (judged.id, judged.verdict) == (first.id, "missed")
    assert state.upcoming.percent == 55


def test_in_the_count_in_it_still_counts_but_the_announced_tempo_stays(drill, spots):
    state, first = one_pass(begin(drill, spots))
    state = state.count_in()
    state, judged = state.judge("missed")
    assert judged.id == first.id
    assert state.upcoming.percent == 60
    state, second = state.music(MONDAY).ended(MONDAY)
    assert second.verdict is None
    assert state.upcoming.percent == 55


def test_once_the_music_plays_the_button_is_for_the_pass_in_progress(drill, spots):
    state, _ = one_pass(begin(drill, spots))
    state = state.count_in().music(MONDAY)
    state, judged = state.judge("missed")
    assert judged is None
    state, second = state.ended(MONDAY)
    assert second.verdict == "missed"
    assert state.results[0].verdict is None


def test_unjudged_passes_are_done_but_not_clean(routine, beatmap, spots):
    drill = Drill(section_scope(routine, beatmap, "s1"), fixed(70), passes=3)
    state = begin(drill, spots)
    for _ in range(3):
        state, done = one_pass(state)
        assert (done.verdict, done.section, done.complete) == (None, "s1", True)
    assert state.upcoming is None


def test_a_late_miss_reopens_a_drill_that_seemed_clean(routine, beatmap, spots):
    drill = Drill(section_scope(routine, beatmap, "s1"), fixed(100), clean=2)
    state, _ = one_pass(begin(drill, spots), press="clean")
    state, _ = one_pass(state, press="clean")
    assert state.phase is Phase.OVER
    state, _ = state.judge("missed")
    assert state.phase is Phase.REST
    assert state.upcoming.percent == 100


def test_a_pass_broken_off_is_logged_with_what_it_took_in(routine, beatmap, spots):
    drill = Drill(section_scope(routine, beatmap, "s1"), fixed(100), passes=2)
    state = begin(drill, spots).count_in().music(MONDAY)
    state, done = state.stop(MONDAY + timedelta(seconds=6), reached=18.4)
    assert (done.complete, done.reached) == (False, 18.4)
    assert [t.pose for t in done.taken] == ["p03"]
    assert state.upcoming is None


def test_dizzy_cramp_or_pain_stops_and_nothing_is_missed_or_asked(run, spots):
    state = begin(run, spots).count_in().music(MONDAY)
    state, _ = state.judge("missed")
    state, done = state.stop_unwell(MONDAY + timedelta(seconds=30), reached=30.0)
    assert (done.verdict, done.complete, state.unwell) == (None, False, True)
    assert (state.open_question, state.upcoming, state.following) == ("", None, None)
    assert state.judge("missed") == (state, None)
    assert state.broke(3.0) == (state, None)
    with pytest.raises(ValueError, match="count-in"):
        state.count_in()


def test_unwell_in_the_rest_leaves_the_last_verdict_as_it_was(drill, spots):
    state, _ = one_pass(begin(drill, spots), press="clean")
    state, done = state.stop_unwell(MONDAY)
    assert done is None
    assert state.results[-1].verdict == "clean"
    assert state.upcoming is None


def test_where_did_it_break_is_asked_once(run, spots):
    state, done = one_pass(begin(replace(run, runs=2), spots))
    assert state.open_question == done.id
    state, judged = state.broke(place_of_number(spots, 7))
    # Pose 7 is hit on 8:1, 28.0 s at half a second a count.
    assert (judged.id, judged.verdict, judged.broke_at) == (done.id, "missed", 28.0)
    assert state.open_question == ""
    assert state.broke(1.0) == (state, None)


def test_nowhere_is_a_clean_run_and_the_question_lapses_with_the_next_count_in(run, spots):
    state, _ = one_pass(begin(replace(run, runs=3), spots))
    state, judged = state.broke(None)
    assert (judged.verdict, judged.broke_at) == ("clean", None)
    state, _ = one_pass(state)
    assert state.open_question
    assert state.count_in().open_question == ""


def test_a_run_judged_clean_while_it_played_is_not_asked_about(run, spots):
    state, _ = one_pass(begin(run, spots), press="clean")
    assert state.open_question == ""


def test_cued_and_uncued_runs_alternate(run, spots):
    state, cueing = begin(replace(run, runs=4, alternate=True), spots), []
    while state.upcoming is not None:
        state, done = one_pass(state)
        cueing.append(done.cueing)
    assert cueing == ["memory", "all", "memory", "all"]
    assert all(r.plan.effort == "full out" for r in state.results)


def test_runs_say_how_they_are_done(run):
    marked = replace(run, effort="marked", cueing="names")
    assert marked.upcoming(()).say == "whole routine, marked, names on the hit"


def test_number_of_a_pose_is_checked(spots):
    assert place_of_number(spots, 1) == 4.0
    for wrong in (0, 15, -1):
        with pytest.raises(KeyError):
            place_of_number(spots, wrong)


def test_rest_and_count_in_go_along_with_the_plan(routine, beatmap):
    drill = Drill(section_scope(routine, beatmap, "s0"), rest=Length(8), count_in=8)
    plan = drill.upcoming(())
    assert (plan.count_in, plan.rest, plan.start, plan.end) == (8, Length(8), 0.0, 16.0)


def results_of(drill, *told):
    """Passes of a drill: (percent, verdict), each complete unless changed."""
    plan = drill.upcoming(())
    return tuple(
        Result(str(k), replace(plan, percent=percent), MONDAY, MONDAY, True, verdict)
        for k, (percent, verdict) in enumerate(told)
    )


def test_a_drill_is_done_after_clean_passes_in_a_row_at_its_goal(drill):
    two = replace(drill, steps=TempoSteps(first=90, top=100), clean=2)
    clean, slow, missed, unjudged = (100, "clean"), (95, "clean"), (100, "missed"), (100, None)
    for told, done in (
        ((clean, clean), True), ((clean,), False), ((slow, clean), False), ((clean, slow), False),
        ((clean, missed, clean), False), ((missed, clean, clean), True), ((clean, unjudged), False),
    ):  # fmt: skip
        assert (two.upcoming(results_of(two, *told)) is None) is done, told
    broken = replace(results_of(two, clean, clean)[1], complete=False)
    assert two.upcoming((results_of(two, clean)[0], broken)) is not None


def test_a_pass_tells_its_number_of_how_many(drill):
    counted = replace(drill, passes=3, clean=None)
    results = results_of(counted, (60, None), (60, None))
    assert [(counted.upcoming(results[:k]).number, counted.upcoming(()).of) for k in range(3)] == [
        (1, 3), (2, 3), (3, 3),
    ]  # fmt: skip
    assert counted.upcoming((*results, results[0])) is None
    assert replace(counted, clean=1).upcoming(()).of is None  # it may be over sooner
    broken = replace(results[0], complete=False)
    assert counted.upcoming((broken,)).number == 1


def test_a_torn_pass_counts_for_the_tempo_only_when_it_was_judged(drill):
    quick = replace(drill, steps=TempoSteps(after=1, unjudged=True))
    plain, judged = results_of(quick, (60, None), (60, "clean"))
    assert quick.step_after((plain,)).percent == 65
    assert quick.step_after((replace(plain, torn=True),)).percent == 60
    assert quick.step_after((replace(judged, torn=True),)).percent == 65
    for verdict, percent in (("clean", 60), (None, 60), ("missed", 55)):
        broken = replace(plain, complete=False, verdict=verdict)
        assert quick.step_after((broken,)).percent == percent, verdict


def test_a_drill_taken_up_again_goes_on_at_its_tempo_and_says_so_once(drill):
    earlier = results_of(drill, *[(60, "clean")] * 4)
    again = drill.upcoming((), earlier=earlier)
    assert again.percent == 70
    assert again.say == "side triceps left to back double biceps, 70 percent"
    assert drill.upcoming((), earlier=earlier, named=False).say == ""
    assert drill.upcoming(earlier[:1], named=True).say.endswith("60 percent")


@pytest.mark.parametrize(
    ("percent", "say"),
    [(100, "whole routine, full out, from memory"),
     (90, "whole routine, full out, from memory, 90 percent")],
)  # fmt: skip
def test_a_run_tells_its_tempo_where_it_is_not_the_musics_own(run, percent, say):
    plan = replace(run, percent=percent, count_in=8, rest=Length(4), asks=False).upcoming(())
    assert (plan.say, plan.percent, plan.count_in, plan.rest) == (say, percent, 8, Length(4))
    assert (plan.number, plan.of, plan.asks) == (1, 1, False)
    assert run.upcoming(()).asks


def test_a_run_broken_off_is_run_again_with_the_same_cues(run):
    twice = replace(run, runs=2, alternate=True, cueing="all")
    first = twice.upcoming(())
    whole = Result("1", first, MONDAY, MONDAY, True)
    broken = replace(whole, complete=False)
    assert twice.upcoming((broken,)) == first
    second = twice.upcoming((broken, whole))
    assert (second.number, second.of, second.cueing) == (2, 2, "memory")
    assert twice.upcoming((whole, whole)) is None


def test_a_session_lasts_as_long_as_its_music_and_its_pauses_under_five_minutes(run):
    """Music of 70 s; a meal or a sleeping laptop is no practice (common practice, no source)."""
    plan = run.upcoming(())

    def lasting(*spans):
        return practised(tuple(
            Result("", plan, MONDAY + timedelta(seconds=a), MONDAY + timedelta(seconds=b), True)
            for a, b in spans
        ))  # fmt: skip

    assert practised(()) == 0.0
    assert lasting((0, 70)) == 70
    assert lasting((0, 70), (100, 170)) == 170
    assert lasting((0, 70), (369, 439)) == 70 + 299 + 70
    assert lasting((0, 70), (370, 440)) == 140  # five minutes: a pause
    assert lasting((0, 370)) == 370
    assert lasting((0, 371)) == 70  # the machine slept in mid-pass
    slow = replace(plan, percent=50)
    assert practised((Result("", slow, MONDAY, MONDAY + timedelta(hours=9), True),)) == 140


def test_torn_is_the_pass_in_progress_or_the_last(drill, spots):
    fresh = begin(drill, spots)
    assert fresh.torn_now() == fresh
    assert (fresh.torn, fresh.dry_run) == (False, False)
    state = fresh.count_in().music(MONDAY).torn_now()
    assert state.torn
    state, _ = state.ended(MONDAY + timedelta(seconds=10))
    assert not state.torn
    for _ in range(2):
        state, _ = one_pass(state)
    after = state.torn_now().results
    assert [r.torn for r in after] == [True, False, True]
    assert [r.id for r in after] == [r.id for r in state.results]


def test_a_late_verdict_is_for_the_last_of_all_passes(drill, spots):
    state = begin(drill, spots)
    for _ in range(3):
        state, done = one_pass(state)
    state, judged = state.judge("missed")
    assert [r.verdict for r in state.results] == [None, None, "missed"]
    assert (judged.id, state.phase) == (done.id, Phase.REST)
    state, judged = state.count_in().judge("clean")
    assert (judged.verdict, state.phase) == ("clean", Phase.COUNT_IN)
    with pytest.raises(ValueError, match="count-in"):
        state.music(MONDAY).count_in()


def test_what_was_stopped_by_hand_is_judged_late_and_not_opened_again(drill, spots):
    state, _ = one_pass(begin(drill, spots))
    state, done = state.stop(MONDAY)
    assert (state.phase, state.stopped, done) == (Phase.OVER, True, None)
    state, judged = state.judge("missed")
    assert (judged.verdict, state.phase, state.upcoming) == ("missed", Phase.OVER, None)


class Noting:
    """Work that always goes on, and notes what it was asked with."""

    def __init__(self, plan):
        self.plan, self.results = plan, ()

    def upcoming(self, results):
        self.results = results
        return self.plan


def test_what_follows_is_asked_as_if_the_pass_had_ended_at_its_length(drill, spots):
    work = Noting(replace(drill.upcoming(()), percent=80))
    state = begin(work, spots).music(MONDAY).torn_now()
    assert state.judge("clean")[0].following is work.plan
    (end,) = work.results
    assert (end.ended - end.started).total_seconds() == pytest.approx(work.plan.scope.length / 0.8)
    assert (end.complete, end.verdict, end.torn) == (True, "clean", True)


@pytest.mark.parametrize(
    ("scope", "told"),
    [
        (section_scope, ("s1", "Back half", None, "")),
        (transition_scope, (None, "", "p04", "side triceps left to back double biceps")),
        (whole_scope, (None, "whole routine", None, "")),
    ],
)
def test_a_pass_names_what_was_drilled_and_all_it_took_in(routine, beatmap, spots, scope, told):
    item = {section_scope: ("s1",), transition_scope: ("p04",), whole_scope: ()}[scope]
    scope = scope(routine, beatmap, *item)
    _, done = one_pass(begin(Drill(scope), spots))
    name = done.transition_name.replace("→", "to")
    assert (done.section, done.section_name, done.transition, name) == told
    inside = [spot.pose for spot in spots if scope.start <= spot.hit < scope.end]
    assert [taken.pose for taken in done.taken] == inside
    assert (done.complete, done.reached) == (True, None)
    state = begin(Drill(scope), spots).music(MONDAY)
    _, broken = state.ended(MONDAY, complete=False)
    assert broken.taken == ()
    _, whole = state.ended(MONDAY, reached=scope.start)
    assert [taken.pose for taken in whole.taken] == inside
