"""Filmed runs in the logbook: kept with each pose, over a second reading and a shut folder."""

from dataclasses import replace
from datetime import timedelta, timezone

import pytest

from rehearse.files.user_error import UserError
from rehearse.practice.logbook import Logbook
from rehearse.practice.takelog import PoseRead, TakeDone, takes_until

from .made import MONDAY


def make_take(at=MONDAY, name="run.mp4", late=0.21):
    poses = (
        PoseRead("c0a10001", "front double biceps", 3.0, 4.5, "late", late, 0.07, 0.4, 0.5),
        PoseRead("c0a10002", "side chest left", 6.0, 7.5, "slow", None, None, 1.1, 0.5),
        PoseRead("c0a10003", "victory", 9.0, 10.5, "unread", why="hardly moved"),
    )
    return TakeDone(f"id of {name}", name, "takes/1", at, 0.8, -1.2, 1.000012, "", poses)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "practice.sqlite"


def test_a_take_is_kept_with_each_pose_and_read_as_it_was(path):
    take = make_take()
    with Logbook(path) as book:
        book.keep_take(take)
    with Logbook(path) as book:
        assert book.notice == ""
        assert book.takes() == (take,)
        assert book.history() == ()  # a film is no pass


@pytest.mark.parametrize("minutes", [345, -210])
def test_a_take_keeps_the_zone_it_was_filmed_in_and_its_day_there(path, minutes):
    """5:45 hours east, as in Nepal, and 3:30 west, as in Newfoundland."""
    at = MONDAY.replace(hour=23, tzinfo=timezone(timedelta(minutes=minutes)))
    with Logbook(path) as book:
        book.keep_take(make_take(at))
        (take,) = book.takes()
        assert takes_until(book.db, MONDAY.date()) == (take,)
        assert takes_until(book.db, MONDAY.date() - timedelta(days=1)) == ()
    assert take.filmed == at
    assert take.filmed.utcoffset() == timedelta(minutes=minutes)


def test_what_is_usual_is_told_by_no_more_takes_than_it_needs(path):
    """The newest eight: a habit is made of four, and takes of later days are passed over."""
    with Logbook(path) as book:
        for k in range(10):
            book.keep_take(make_take(MONDAY + timedelta(days=k), f"{k}.mp4"))
        films = [t.film for t in takes_until(book.db, MONDAY.date() + timedelta(days=8))]
    assert films == [f"{k}.mp4" for k in range(2, 9)]


def test_a_film_read_again_replaces_what_was_read_before(path):
    with Logbook(path) as book:
        book.keep_take(make_take())
        book.keep_take(make_take(late=-0.1))
        (take,) = book.takes()
    assert take.poses[0].late == -0.1


def test_the_newest_takes_come_in_the_order_they_were_filmed(path):
    takes = [make_take(MONDAY + timedelta(days=k), f"{k}.mp4") for k in range(4)]
    with Logbook(path) as book:
        for take in (takes[2], takes[0], takes[3], takes[1]):
            book.keep_take(take)
        assert book.takes() == tuple(takes)
        assert book.takes(limit=2) == tuple(takes[2:])


def test_a_take_waits_on_this_machine_while_the_folder_cannot_be_written(tmp_path):
    folder = tmp_path / "routine"
    folder.mkdir()
    fallback = tmp_path / "spare" / "practice.sqlite"
    path = folder / "practice.sqlite"
    with Logbook(path, fallback) as book:
        path.rename(tmp_path / "elsewhere.sqlite")
        for beside in folder.iterdir():
            beside.unlink()
        folder.rmdir()
        with pytest.raises(UserError):
            book.keep_take(make_take())
    folder.mkdir()
    with Logbook(path, fallback) as book:
        assert book.takes() == (make_take(),)


def test_a_take_of_a_damaged_value_is_left_out_and_the_rest_stays(path):
    with Logbook(path) as book:
        book.keep_take(make_take())
        book.keep_take(replace(make_take(name="b.mp4"), refused="too dark"))
        book.db.execute("UPDATE takes SET tempo = 1e300 WHERE film = 'b.mp4'")
    with Logbook(path) as book:
        assert book.notice
        assert book.takes() == (make_take(),)
