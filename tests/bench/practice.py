"""Figures of the logbook and the plan: 100,000 passes, the simulated month, single commits.

Run with `python tests/bench/practice.py [OUT]`; the figures are also written to OUT as text, and
the logbook of one simulated month as a picture.
"""

from __future__ import annotations

import argparse
import os
import random
import sys
import tempfile
import time
from collections import Counter, defaultdict
from datetime import timedelta
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from rehearse.practice.history import (  # noqa: E402
    before_show,
    calendar,
    heat,
)
from rehearse.practice.logbook import Logbook  # noqa: E402
from rehearse.practice.plan import make_plan  # noqa: E402
from rehearse.practice.scope import section_scope, spots_of, taken_in  # noqa: E402
from rehearse.practice.summary import summarise  # noqa: E402
from tests.practice.athlete import month, strong_with_weak  # noqa: E402
from tests.practice.made import MONDAY, make_beatmap, make_pass, make_routine  # noqa: E402

PASSES, DAYS = 100_000, 600


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path, nargs="?", metavar="OUT", help="where they are written")
    out = parser.parse_args().out
    if out:
        out.mkdir(parents=True, exist_ok=True)
    lines = [*hundred_thousand(), *single_commits(), *simulated_months(out)]
    print("\n".join(lines))
    if out:
        (out / "practice.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")


def clocked(function, times=5):
    """Median seconds of `times` calls."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        function()
        took.append(time.perf_counter() - start)
    return median(took)


def many_passes(routine, beatmap):
    """Passes over the four sections, runs between, spread evenly over the days."""
    spots, draw = spots_of(routine, beatmap), random.Random(1)
    scopes = [section_scope(routine, beatmap, s.id) for s in routine.sections]
    each = PASSES // DAYS
    for k in range(PASSES):
        at = MONDAY + timedelta(days=k // each, seconds=40 * (k % each))
        verdict = draw.choice(("clean", "clean", "missed", None))
        tempo = draw.choice((0.6, 0.8, 1.0))
        if k % 20 == 0:
            yield make_pass(
                at, kind="run", section=None, section_name="", start=0.0, end=70.0,
                taken=taken_in(spots, 0.0, 70.0), verdict=verdict,
            )  # fmt: skip
            continue
        scope = scopes[k % 4]
        yield make_pass(
            at, section=scope.item, section_name=scope.name, start=scope.start, end=scope.end,
            tempo=tempo, taken=taken_in(spots, scope.start, scope.end), verdict=verdict,
        )  # fmt: skip


def hundred_thousand():
    """The page's data and the plan over a very long logbook."""
    routine, beatmap = make_routine(), make_beatmap()
    spots = spots_of(routine, beatmap)
    today = (MONDAY + timedelta(days=DAYS)).date()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "practice.sqlite"
        with Logbook(path) as book:
            start = time.perf_counter()
            book.record_all(many_passes(routine, beatmap))
            wrote = time.perf_counter() - start
        size = path.stat().st_size / 1e6

        def page():
            summarise(book, routine, spots, today)
            heat(book, spots, today)
            calendar(book, today - timedelta(days=84), today)
            before_show(book, "2028-10-01", today)
            book.history(limit=50, newest_first=True)

        def opened():
            with Logbook(path):
                pass

        with Logbook(path) as book:
            (rows,) = book.db.execute("SELECT count(*) FROM passes").fetchone()
            first = clocked(page, 1)
            again = clocked(page)
            planned = clocked(lambda: make_plan(book, routine, beatmap, minutes=45, today=today))
            one = make_pass(MONDAY + timedelta(days=DAYS, hours=1), taken=taken_in(spots, 0, 70))
            start = time.perf_counter()
            book.record(one)
            commit = time.perf_counter() - start
        opening = clocked(opened, 3)
    return [
        f"{rows} passes over {DAYS} days, {size:.0f} MB, written at once in {wrote:.1f} s",
        f"  opening the logbook, checked       {opening * 1e3:8.1f} ms",
        f"  all the page shows, first time     {first * 1e3:8.1f} ms   (at most 300)",
        f"  all the page shows, median of 5    {again * 1e3:8.1f} ms   (at most 300)",
        f"  today's plan, median of 5          {planned * 1e3:8.1f} ms   (at most 100)",
        f"  one more pass, 14 poses            {commit * 1e3:8.1f} ms",
    ]


def single_commits():
    """What one pass costs the window's thread."""
    with tempfile.TemporaryDirectory() as folder, Logbook(Path(folder) / "p.sqlite") as book:
        took = []
        for k in range(200):
            done = make_pass(MONDAY + timedelta(minutes=k))
            start = time.perf_counter()
            book.record(done)
            took.append(time.perf_counter() - start)
    took.sort()
    return [f"one pass kept: median {took[100] * 1e3:.2f} ms, 99 of 100 {took[197] * 1e3:.2f} ms"]


def simulated_months(out, athletes=20):
    """Athletes with three weak spots each: when they are found, how long anything goes cold."""
    routine, beatmap = make_routine(), make_beatmap()
    spots = spots_of(routine, beatmap)
    found, cold, rows = [], [], []
    for number in range(athletes):
        weak = sorted(random.Random(number).sample([s.pose for s in spots], 3))
        athlete = strong_with_weak(spots, weak, number)
        with tempfile.TemporaryDirectory() as folder, Logbook(Path(folder) / "p.sqlite") as book:
            lived = month(book, routine, beatmap, athlete, MONDAY)
            found.append(_found_at(lived, weak))
            cold.append(_longest_cold(lived, spots))
            if number == 0:
                today = max(lived.plans)
                rows = _weeks(lived, weak) + _ribbon(book, spots, today)
                if out:
                    _picture(book, routine, beatmap, today, out / "month.png")
    return [
        f"{athletes} scripted athletes, 30 days, 26 sessions of 30 min, 3 weak transitions of 14",
        f"  all three have a line of their own by session: {dict(sorted(Counter(found).items()))}",
        f"  longest without a drill, days: {dict(sorted(Counter(cold).items()))}   (at most 5)",
        *rows,
    ]


def _picture(book, routine, beatmap, today, path):
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from rehearse.app import make_application
    from rehearse.ui.pages.logbook.logbook_data import look
    from rehearse.ui.pages.logbook.picture import save_picture

    make_application(["rehearse"])
    save_picture(look(book, routine, beatmap, today), path)


def _found_at(lived, weak):
    open_spots = set(weak)
    for number, plan in enumerate(lived.plans.values(), start=1):
        items = {x.item.rpartition(">")[2] for x in plan.lines if x.group == "rotate"}
        open_spots -= items
        if not open_spots:
            return number
    return 99


def _longest_cold(lived, spots):
    last = {s.pose: MONDAY.date() for s in spots}
    longest = 0
    for done in lived.passes:
        for pose in done.taken if done.kind == "drill" else ():
            if pose.origin is not None:
                day = done.started.date()
                longest = max(longest, (day - last[pose.pose]).days)
                last[pose.pose] = day
    return longest


def _weeks(lived, weak):
    weeks = defaultdict(Counter)
    for done in lived.passes:
        week = weeks[(done.started.date() - MONDAY.date()).days // 7 + 1]
        week["passes"] += 1
        if done.transition:
            week["weak" if done.transition in weak else "others"] += 1
        if done.kind == "run" and done.cueing == "memory":
            week["recalled"] += 1
            week["clean"] += done.verdict == "clean"
    return [
        "  one of them by week: passes, weak ones alone, others alone, runs from memory clean",
        *(
            f"    week {k}: {w['passes']:4d} {w['weak']:4d} {w['others']:4d}"
            f"   {w['clean']} of {w['recalled']}"
            for k, w in sorted(weeks.items())
        ),
    ]


def _ribbon(book, spots, today):
    return [
        f"    {'#' * round(20 * h.warmth):20s} {h.passes:4d}  {h.name}"
        for h in heat(book, spots, today)
    ]


if __name__ == "__main__":
    main()
