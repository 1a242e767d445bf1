"""What several films say together, and that the plan begins with it."""

from datetime import timedelta

from rehearse.practice.habits import habits, needed, needed_where_late, too_short, trend
from rehearse.practice.logbook import Logbook
from rehearse.practice.passes import PoseTaken
from rehearse.practice.plan import make_plan
from rehearse.practice.takelog import PoseRead, TakeDone

from .made import MONDAY, NAMES, make_beatmap, make_pass, make_routine


def take(k, said, late, *, pose="p1", took=0.5, refused="", tempo=1.0):
    read = PoseRead(pose, "side chest", 4.0, 5.0, said, late, 0.06, took, 0.5)
    at = MONDAY + timedelta(days=k)
    return TakeDone(f"t{k}", f"{k}.mp4", "", at, tempo, 0.0, 1.0, refused, (read,))


def test_late_on_three_of_four_takes_is_a_habit():
    takes = [take(0, "late", 0.3), take(1, "on", 0.02), take(2, "late", 0.2), take(3, "late", 0.2)]
    (habit,) = habits(takes)
    assert (habit.said, habit.times, habit.of) == ("late", 3, 4)
    assert habit.sentence.startswith("late on 3 of the last 4 takes: drill the way in at 80 %")
    assert trend(takes, "p1") == (0.3, 0.02, 0.2, 0.2)


def test_one_take_half_of_them_or_what_cannot_be_read_is_none():
    assert habits([take(0, "late", 0.3)]) == ()
    assert habits([take(0, "late", 0.3), take(1, "on", 0.0)]) == ()
    assert habits([take(0, "slow", None), take(1, "unread", None)]) == ()
    assert habits([take(k, "late", 0.3, refused="too dark") for k in range(3)]) == ()


def test_early_again_and_again_waits_for_the_count():
    (habit,) = habits([take(0, "early", -0.2), take(1, "early", -0.3)])
    assert (habit.said, habit.times, habit.of, habit.offsets) == ("early", 2, 2, (-0.2, -0.3))
    assert habit.sentence.endswith("80 % and wait for the count")


def test_half_of_four_takes_are_no_habit_and_the_most_frequent_comes_first():
    said = {"a": "late late late on", "b": "late late late late", "c": "late on late on",
            "d": "late late"}  # fmt: skip
    takes = [
        take(k, word, 0.3, pose=pose)
        for pose, words in said.items()
        for k, word in enumerate(words.split())
    ]
    assert [(h.pose, h.times) for h in habits(takes)] == [("b", 4), ("d", 2), ("a", 3)]


def test_what_a_way_needs_is_the_middle_of_the_newest_four_takes_that_read_it():
    old = [take(k, "late", 0.3, took=9.0) for k in range(3)]
    new = [take(3 + k, "late", 0.3, took=took) for k, took in enumerate((0.5, 0.9, 0.7, 1.4))]
    unread = [take(8, "unread", None, took=5.0), take(9, "slow", None, took=None)]
    assert needed([*old, *new, *unread], "p1") == 0.9
    assert needed(new[:3], "p1") == 0.7
    assert needed(new, "p2") is None
    assert needed([take(k, "late", 0.3, refused="too dark") for k in range(3)], "p1") is None
    assert trend([*old, *new, *unread], "p1") == (0.3,) * 4
    assert trend([take(0, "late", 0.3, refused="too dark")], "p1") == ()


def test_only_the_newest_four_count():
    old = [take(k, "late", 0.3) for k in range(4)]
    assert habits([*old, *(take(k, "on", 0.0) for k in range(4, 8))]) == ()


def test_a_transition_is_too_short_where_the_body_needed_more_and_came_late():
    takes = [take(k, "late", 0.3, took=1.2) for k in range(3)]
    assert needed(takes, "p1") == 1.2
    assert too_short(takes, {"p1": 0.8}) == (("p1", 1.2),)
    assert too_short(takes, {"p1": 1.5}) == ()
    assert needed_where_late(takes) == {"p1": 1.2}
    on = [take(k, "on", 0.0, took=1.2) for k in range(3)]
    assert too_short(on, {"p1": 0.8}) == ()
    slow = [take(k, "late", 0.3, took=1.2, tempo=0.5) for k in range(3)]
    assert needed(slow, "p1") is None  # slower music leaves more time


def test_the_plan_drills_what_films_show_late_and_says_so(tmp_path):
    routine, beatmap = make_routine(), make_beatmap()
    taken = tuple(
        PoseTaken(f"p{k:02d}", name, 4.0 * k, 4.0 * k + 4, f"p{k - 1:02d}" if k else "", "")
        for k, name in enumerate(NAMES)
    )
    today = (MONDAY + timedelta(days=5)).date()
    with Logbook(tmp_path / "practice.sqlite") as book:
        for k in range(12):
            at = MONDAY + timedelta(days=k // 3, minutes=k)
            book.record(make_pass(at, taken=taken, verdict="clean", tempo=1.0))
        for k in range(3):
            book.keep_take(take(k, "late", 0.3, pose="p05"))
        lines = make_plan(book, routine, beatmap, minutes=45, today=today).lines
    (told,) = [line for line in lines if line.reason.startswith("On film")][:1]
    assert "late on 3 of the last 3 takes" in told.reason
    assert NAMES[5] in told.title
    assert told.work.steps.first == 80
