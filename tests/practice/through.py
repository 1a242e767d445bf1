"""Everything the program does with a logbook, in a row: for files of any kind.

`look_through(folder)` opens it, reads what every page and command reads, writes, and opens it
again. It raises nothing but `UserError`.
"""

from datetime import timedelta

from rehearse.files.user_error import UserError
from rehearse.practice.export import format_table, table_rows, to_csv
from rehearse.practice.history import before_show, calendar, heat
from rehearse.practice.logbook import FILE_NAME, Logbook
from rehearse.practice.plan import make_plan
from rehearse.practice.planbook import keep_plan, plan_of
from rehearse.practice.scope import spots_of
from rehearse.practice.summary import summarise

from .made import MONDAY, make_beatmap, make_pass, make_routine

ROUTINE, BEATMAP = make_routine(), make_beatmap()
SPOTS = spots_of(ROUTINE, BEATMAP)
TODAY = MONDAY.date() + timedelta(days=3)


def look_through(folder, fallback=None):
    """Open, read, write, and open again the logbook in `folder`; returns (notice, passes).

    Args:
        fallback: where this machine keeps passes meanwhile; None: beside the folder.

    Raises:
        UserError: and nothing else.
    """
    fallback = fallback or folder.with_name(f"{folder.name} spare.sqlite")
    done = make_pass(MONDAY + timedelta(days=2), verdict="clean", id="the new one")
    with Logbook(folder / FILE_NAME, fallback, insist=True) as book:
        notice, before = book.notice, book.history()
        book.read(_read_all)
        to_csv(before)
        format_table(table_rows(before))
        book.record(done)
        book.judge(done.id, "missed", broke_at=5.0)
        book.end_session(done.ended, unwell=True)
        book.read(lambda b: keep_plan(b, make_plan(b, ROUTINE, BEATMAP, minutes=20, today=TODAY)))
        assert done.id in {p.id for p in book.history()}
    with Logbook(folder / FILE_NAME, fallback, insist=True) as book:
        again = book.history()
        book.read(_read_all)
    assert {p.id for p in before} | {done.id} <= {p.id for p in again}
    return notice, before


def _read_all(book):
    summarise(book, ROUTINE, SPOTS, TODAY)
    heat(book, SPOTS, TODAY)
    calendar(book, TODAY - timedelta(weeks=53), TODAY)
    before_show(book, ROUTINE.show_date, TODAY)
    found = plan_of(book, ROUTINE, BEATMAP, TODAY)
    if found is not None:
        _ = found.seconds_left, found.is_over, [found.is_done(x) for x in found.plan.lines]
        found.work.upcoming(())
    make_plan(book, ROUTINE, BEATMAP, minutes=30, today=TODAY)


def make_folder(folder, days=6):
    """A folder with a logbook as it is after some evenings; closed, or as a kill leaves it."""
    folder.mkdir(parents=True)
    with Logbook(folder / FILE_NAME, folder.with_name("none.sqlite")) as book:
        for day in range(days):
            at = MONDAY - timedelta(days=day)
            passes = [
                make_pass(
                    at + timedelta(minutes=k),
                    verdict=(None, "clean", "missed")[k % 3],
                    kind="run" if k % 7 == 0 else "drill",
                    section_name=f"Öffnung № {k}",
                    id=f"{day:04d}{k:04d}",
                )
                for k in range(40)
            ]
            book.record_all(passes)
        book.end_session(MONDAY + timedelta(minutes=50), unwell=True)
        keep_plan(book, make_plan(book, ROUTINE, BEATMAP, minutes=20, today=TODAY))
    return folder


__all__ = ["UserError", "look_through", "make_folder"]
