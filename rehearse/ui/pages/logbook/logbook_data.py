"""Everything the page shows, read in one go."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta

from rehearse.music.beatmap import BeatMap
from rehearse.practice.habits import Habit, habits
from rehearse.practice.history import BeforeShow, Day, Heat, before_show, calendar, heat
from rehearse.practice.logbook import Logbook
from rehearse.practice.roundlog import rounds_of
from rehearse.practice.scope import Spot, spots_of, whole_scope
from rehearse.practice.stamina import Stamina, ladder_words, stamina
from rehearse.practice.summary import Summary, summarise
from rehearse.practice.takelog import takes_until
from rehearse.routine.model import Routine
from rehearse.ui.actions import ROUNDS
from rehearse.words import _, ngettext, shown

#: Weeks of calendar that are read; the widget shows as many as it has room for.
WEEKS = 53


@dataclass(frozen=True)
class SectionSpan:
    """A section over the ribbon: seconds of the track."""

    name: str
    start: float
    end: float


@dataclass(frozen=True)
class LogbookData:
    """The page's data on one day.

    Args:
        start, end: seconds of the track that the ribbon spans.
    """

    today: date
    title: str
    start: float
    end: float
    spots: tuple[Spot, ...]
    sections: tuple[SectionSpan, ...]
    summary: Summary
    heat: tuple[Heat, ...]
    days: tuple[Day, ...]
    show: BeforeShow
    show_date: date | None
    stamina: Stamina = field(default_factory=Stamina)
    habits: tuple[Habit, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Nothing was practised so far."""
        return not self.days and not any(s.passes for s in self.summary.poses)


def look(book: Logbook, routine: Routine, beatmap: BeatMap, today: date) -> LogbookData:
    """Read the logbook as it stands on `today`."""
    spots = spots_of(routine, beatmap)
    whole = whole_scope(routine, beatmap)
    sections = tuple(
        SectionSpan(s.name, beatmap.time_of(s.start), beatmap.time_of(s.end))
        for s in routine.sections
    )
    return LogbookData(
        today=today,
        title=routine.title,
        start=min(whole.start, *(s.start for s in spots)) if spots else whole.start,
        end=max(whole.end, *(s.end for s in spots)) if spots else whole.end,
        spots=spots,
        sections=sections,
        summary=summarise(book, routine, spots, today),
        heat=heat(book, spots, today),
        days=calendar(book, today - timedelta(weeks=WEEKS), today),
        show=before_show(book, routine.show_date, today),
        show_date=date.fromisoformat(routine.show_date) if routine.show_date else None,
        stamina=stamina(rounds_of(book.db, until=today)),
        habits=habits(takes_until(book.db, today)),
    )


def ago_words(days: int | None) -> str:
    """Days since, in words."""
    if days is None:
        return _("never")
    return {0: _("today"), 1: _("yesterday")}.get(days, _("{days} days ago", days=days))


def show_words(show: BeforeShow) -> str:
    """Runs so far and the days left, in words."""
    runs = ngettext("{runs} run", "{runs} runs", show.runs, runs=show.runs)
    done = _(
        "{runs}, {from_memory} from memory, {clean} clean",
        runs=runs,
        from_memory=show.from_memory,
        clean=show.clean,
    )
    if show.runs == 0:
        done = _("no run so far")
    if show.days is None:
        return f"{done[:1].upper()}{done[1:]}"
    if show.days < 0:
        return _("The show is over  ·  {done}", done=done)
    days = ngettext("{days} day to the show", "{days} days to the show", show.days, days=show.days)
    return f"{_('Show today') if show.days == 0 else days}  ·  {done}"


def film_words(overview: LogbookData) -> str:
    """What the newest films say of the pose that is off most often; empty: nothing."""
    if not overview.habits:
        return ""
    first = overview.habits[0]
    more = len(overview.habits) - 1
    others = _(" {more} more on film.", more=more) if more else ""
    return _(
        "On film: {name} {sentence}.{others}",
        name=shown(first.name),
        sentence=first.sentence,
        others=others,
    )


def seconds_words(seconds: float) -> str:
    """Seconds as minutes and seconds: "3:05 min", "42 s"."""
    whole = round(seconds)
    return (
        f"{whole} s"
        if whole < 60
        else _("{whole}:{whole2:02d} min", whole=whole // 60, whole2=whole % 60)
    )


def round_words(overview: LogbookData) -> str:
    """Time under tension and the ladder of holds, in a sentence each; empty without rounds."""
    seen = overview.stamina
    if not seen.rounds:
        return _("No comparison round was called yet: press 3, then {key}.", key=ROUNDS.key)
    today, week = seen.tension(overview.today), seen.since(overview.today - timedelta(days=6))
    tension = _(
        "{seconds_words} under tension today, {seconds_words2} in 7 days.",
        seconds_words=seconds_words(today),
        seconds_words2=seconds_words(week),
    )
    return f"{tension} {ladder_words(seen)}".strip()
