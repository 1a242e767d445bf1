"""What the rounds in the logbook say: time under tension, where holds were lost, the ladder, and
what of today's session the rounds should have.

Rules and what they rest on: that the comparison rounds come before the routine on the day is
usual at most shows; how much of a session is theirs as the show comes near, and everything else
here, is common practice, no source. No hold is ever proposed that is longer than the athlete chose.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from statistics import median

from rehearse.practice.planline import COMMON
from rehearse.practice.roundlog import CallDone, RoundDone
from rehearse.routine.rounds import KINDS, Kind, RoundWish
from rehearse.words import _, ngettext, shown

#: Days to the show below which rounds have this share of a session, nearest first; further away
#: and without a date the last one counts. All of it common practice, no source.
SHARES = ((1, 0.0), (3, 0.15), (8, 0.35), (29, 0.4), (57, 0.25), (10_000, 0.15))
#: Days before the show from which rounds are proposed to whoever never called one.
PROPOSED = 28
#: Seconds the words of a call take about, those of the turns' five and those of a pose.
_SAID = 1.8
#: Most call-outs of one line.
_MOST_CALLOUTS = 4


@dataclass(frozen=True)
class PoseStamina:
    """How one pose stands in the rounds.

    Args:
        name: of the pose. calls: how often it was held. last: the day it was last.
        on_last, total: seconds under tension on that day, and in all.
        longest_clean: seconds of the longest hold judged clean; None: none.
        lost_at: seconds into the hold at which it was lost, the middle of the last three times;
            None: never said. gone: always False, as of a standing in the routine.
    """

    name: str
    calls: int
    last: date
    on_last: float
    total: float
    longest_clean: float | None = None
    lost_at: float | None = None
    gone: bool = False


@dataclass(frozen=True)
class Rung:
    """One length of hold: how many whole rounds had it, and how many of them were clean."""

    hold: float
    rounds: int
    clean: int


@dataclass(frozen=True)
class Stamina:
    """The rounds up to one day; dry runs are left out.

    Args:
        poses: by time under tension, the most first. ladder: by length of hold.
        days: seconds under tension of each day, of each pose then.
    """

    poses: tuple[PoseStamina, ...] = ()
    ladder: tuple[Rung, ...] = ()
    days: tuple[tuple[date, dict[str, float]], ...] = ()
    rounds: tuple[RoundDone, ...] = ()

    def tension(self, day: date) -> float:
        """Seconds under tension on one day."""
        return sum(sum(poses.values()) for when, poses in self.days if when == day)

    def since(self, day: date) -> float:
        """Seconds under tension from `day` on."""
        return sum(sum(poses.values()) for when, poses in self.days if when >= day)


def stamina(rounds: Iterable[RoundDone]) -> Stamina:
    """What these rounds say, in the order in which they were called."""
    counted = tuple(one for one in rounds if not one.dry_run)
    calls = [(one.started.date(), call) for one in counted for call in one.calls]
    names = dict.fromkeys(call.pose for _unused, call in calls)
    poses = [_pose(name, [(d, c) for d, c in calls if c.pose == name]) for name in names]
    poses.sort(key=lambda pose: -pose.total)
    return Stamina(tuple(poses), _ladder(counted), _days(calls), counted)


def _pose(name: str, calls: Sequence[tuple[date, CallDone]]) -> PoseStamina:
    last = max(day for day, _unused in calls)
    clean = [call.hold for _unused, call in calls if call.verdict == "clean"]
    lost = [call.lost_at for _unused, call in calls if call.lost_at is not None]
    return PoseStamina(
        name=name,
        calls=len(calls),
        last=last,
        on_last=sum(call.tension for day, call in calls if day == last),
        total=sum(call.tension for _unused, call in calls),
        longest_clean=max(clean, default=None),
        lost_at=median(lost[-3:]) if lost else None,
    )


def _ladder(rounds: Sequence[RoundDone]) -> tuple[Rung, ...]:
    """Rounds of one length only: a drawn one says nothing of a step."""
    steps = sorted((r for r in rounds if r.complete and r.hold == r.longest), key=lambda r: r.hold)
    return tuple(
        Rung(hold, len(same), sum(r.is_clean for r in same))
        for hold, same in ((h, list(group)) for h, group in groupby(steps, lambda r: r.hold))
    )


def _days(calls: Sequence[tuple[date, CallDone]]) -> tuple[tuple[date, dict[str, float]], ...]:
    found: dict[date, dict[str, float]] = {}
    for day, call in calls:
        poses = found.setdefault(day, {})
        poses[call.pose] = poses.get(call.pose, 0.0) + call.tension
    return tuple(sorted(found.items()))


@dataclass(frozen=True)
class RoundLine:
    """A round in today's plan: what, why, what that rests on, how long, whether it was done."""

    wish: RoundWish
    title: str
    reason: str
    source: str
    seconds: float
    done: bool = False


def share_of(days: int | None) -> float:
    """The share of a session that rounds should have, 0..1, so many days before the show."""
    if days is None or days < 0:
        return SHARES[-1][1]
    return next(share for below, share in SHARES if days < below)


def plan_rounds(
    seen: Stamina,
    *,
    minutes: float,
    today: date,
    days: int | None,
    poses: int,
    last: RoundWish | None = None,
    alone: bool = False,
) -> tuple[RoundLine, ...]:
    """The rounds of a session of `minutes`; none for whoever calls none, until the show is near.

    Args:
        days: to the show; None without a date.
        poses: how many mandatory poses the division has; 0: its turns only.
        last: what was set last: its holds and rests are kept, never made longer.
        alone: whether there is nothing but rounds to rehearse.
    """
    share = 1.0 if alone else share_of(days)
    near = days is not None and 0 <= days <= PROPOSED
    if share == 0.0 or not (seen.rounds or near or alone):
        return ()
    set_last = last or RoundWish()
    budget = share * minutes * 60
    main: Kind = "both" if poses else "turns"
    near_enough = days is not None and 2 < days <= PROPOSED and poses > 0
    kinds: tuple[Kind, ...] = (main, "random") if near_enough else (main,)
    return tuple(
        _line(kind, budget / len(kinds), set_last, seen, share, today, days, poses)
        for kind in kinds
    )


def _line(
    kind: Kind,
    budget: float,
    last: RoundWish,
    seen: Stamina,
    share: float,
    today: date,
    days: int | None,
    poses: int,
) -> RoundLine:
    calls = {"turns": 5, "both": 5 + poses}.get(kind, max(poses, 4))
    relaxed = calls - 4 if kind in ("turns", "both") else calls
    hold = (last.hold + last.longest) / 2
    once = calls * (hold + _SAID) + relaxed * (last.rest + 0.6)
    callouts = max(1, min(_MOST_CALLOUTS, round(budget / (once + last.between))))
    wish = RoundWish(
        kind, last.hold, last.longest, last.rest, last.between, callouts, last.first_longer,
        side=last.side,
    )  # fmt: skip
    seconds = callouts * once + (callouts - 1) * last.between
    done = any(r.kind == kind and r.complete and r.started.date() == today for r in seen.rounds)
    span = _("{hold:g}–{longest:g} s", hold=last.hold, longest=last.longest)
    span = _("{hold:g} s", hold=last.hold) if last.hold == last.longest else span
    several = ngettext("1 call-out", "{callouts} call-outs", callouts, callouts=callouts)
    title = _("{kinds}, holds of {span}, {several}", kinds=KINDS[kind], span=span, several=several)
    return RoundLine(wish, title, _reason(kind, seen, share, today, days), COMMON, seconds, done)


def _reason(kind: Kind, seen: Stamina, share: float, today: date, days: int | None) -> str:
    words = []
    if share == 1.0:
        words.append(_("There is no song yet: all of the session is for rounds."))
    elif days is not None and days >= 0:
        left = _("{days} days", days=days) if days < 21 else _("{days} weeks", days=days // 7)
        left = _("1 day") if days == 1 else left
        words.append(
            _(
                "{left} to the show: rounds have {share:.0f} % of the session.",
                left=left,
                share=share * 100,
            )
        )
    else:
        words.append(
            _("Rounds have {share:.0f} % of the session, to keep what is there.", share=share * 100)
        )
    mine = [r.started.date() for r in seen.rounds if r.kind == kind]
    if not mine:
        words.append(_("Not called yet."))
    elif max(mine) < today:
        ago = (today - max(mine)).days
        words.append(
            _(
                "Last called {value}.",
                value=_("yesterday") if ago == 1 else _("{ago} days ago", ago=ago),
            )
        )
    recent = today - timedelta(days=7)
    lost = [p for p in seen.poses if p.lost_at is not None and p.last >= recent]
    if lost and kind != "turns":
        worst = min(lost, key=lambda p: p.lost_at or 0.0)
        words.append(
            _(
                "{name} was lost at {lost_at:.0f} s.",
                name=f"{shown(worst.name)[:1].upper()}{shown(worst.name)[1:]}",
                lost_at=worst.lost_at,
            )
        )
    return " ".join(words)


def ladder_words(seen: Stamina) -> str:
    """The ladder of holds in one sentence; empty where nothing was held."""
    steps = [
        _(
            "{hold:g} s {clean} of {rounds} clean",
            hold=rung.hold,
            clean=rung.clean,
            rounds=rung.rounds,
        )
        for rung in seen.ladder
    ]
    return _("Holds: {steps}.", steps=", ".join(steps)) if steps else ""
