"""A comparison round as it is kept for good: each call with its times and what became of it.

Conventions: `called` is a moment of the clock on the wall, an aware datetime; `spoken`, `hold`,
`planned` and `lost_at` are seconds. A round is written anew with each call that ends, so that a
round broken off keeps what was held of it.
"""

from __future__ import annotations

import secrets
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta, timezone
from typing import Any

from rehearse.practice.pass_rows import instant
from rehearse.practice.passes import Verdict
from rehearse.routine.rounds import Kind


@dataclass(frozen=True)
class CallDone:
    """One call of a round.

    Args:
        pose: name of the catalogue's pose that was shown. said: the words called.
        callout: number of the call-out, from 1.
        called: when the words began. spoken: seconds they took.
        hold: seconds held, from the end of the words to "relax", the next call or the stop.
        planned: seconds that were to be held.
        verdict: None until judged. lost_at: seconds into the hold, when the athlete said so.
    """

    pose: str
    said: str
    callout: int
    called: datetime
    spoken: float
    hold: float
    planned: float
    verdict: Verdict | None = None
    lost_at: float | None = None

    @property
    def tension(self) -> float:
        """Seconds under tension: the hold, or the part of it before it was lost."""
        return self.hold if self.lost_at is None else min(self.hold, self.lost_at)


@dataclass(frozen=True)
class RoundDone:
    """One round, complete or broken off.

    Args:
        kind: as in `routine.rounds`. rules: key of the rule set. seed: of its random calls.
        hold, longest: seconds of hold wished for, from and to. callouts: how many were wished.
        complete: False when it was stopped before its end.
        dry_run: rendered without an athlete; listed, never counted as practice.
    """

    kind: Kind
    rules: str
    seed: int
    hold: float
    longest: float
    callouts: int
    started: datetime
    ended: datetime
    complete: bool
    calls: tuple[CallDone, ...]
    dry_run: bool = False
    id: str = field(default_factory=lambda: secrets.token_hex(8))

    @property
    def tension(self) -> float:
        """Seconds under tension."""
        return sum(call.tension for call in self.calls)

    @property
    def is_clean(self) -> bool:
        """Whether all of it was done, nothing missed and something judged clean."""
        verdicts = {call.verdict for call in self.calls}
        return self.complete and "missed" not in verdicts and "clean" in verdicts


_ROUND = (
    *("id", "session", "kind", "rules", "seed", "hold", "longest", "callouts"),
    *("started", "ended", "zone", "day", "complete", "dry_run"),
)
_CALL = (
    *("round", "place", "pose", "said", "callout", "called", "spoken", "hold", "planned"),
    *("verdict", "lost_at"),
)


def _names(columns: Iterable[str]) -> str:
    return ", ".join(f'"{name}"' for name in columns)


_KEEP = (
    f"INSERT INTO rounds ({_names(_ROUND)}) VALUES ({', '.join('?' * len(_ROUND))})"
    " ON CONFLICT (id) DO UPDATE SET ended = excluded.ended, complete = excluded.complete"
)
_CALLED = f"INSERT INTO calls ({_names(_CALL)}) VALUES ({', '.join('?' * len(_CALL))})"


def keep_round(db: sqlite3.Connection, done: RoundDone, session: int) -> None:
    """Write a round, in place of what was written of it before."""
    times = instant(done.started, done.ended)
    db.execute(
        _KEEP,
        (
            *(done.id, session, done.kind, done.rules, done.seed, done.hold, done.longest),
            *(done.callouts, *times, done.complete, done.dry_run),
        ),
    )
    (number,) = db.execute("SELECT n FROM rounds WHERE id = ?", (done.id,)).fetchone()
    db.execute("DELETE FROM calls WHERE round = ?", (number,))
    db.executemany(_CALLED, (_call_row(number, k, call) for k, call in enumerate(done.calls, 1)))


def _call_row(number: int, place: int, call: CallDone) -> tuple[Any, ...]:
    return (
        *(number, place, call.pose, call.said, call.callout, call.called.timestamp()),
        *(call.spoken, call.hold, call.planned, call.verdict, call.lost_at),
    )


def rounds_of(
    db: sqlite3.Connection, *, since: date | None = None, until: date | None = None
) -> tuple[RoundDone, ...]:
    """The rounds by the time they began, dry runs among them; of the days from `since` to `until`.

    Raises:
        sqlite3.Error: they cannot be read.
    """
    first, last = (day.isoformat() if day else None for day in (since, until))
    rows = db.execute(
        f"SELECT n, {_names(_ROUND)} FROM rounds WHERE day >= coalesce(?, day)"
        " AND day <= coalesce(?, day) ORDER BY started, n",
        (first, last),
    ).fetchall()
    calls: dict[int, list[tuple[Any, ...]]] = {}
    for row in db.execute(f"SELECT {_names(_CALL)} FROM calls ORDER BY round, place"):
        calls.setdefault(row[0], []).append(row[2:])
    return tuple(_to_round(row, calls.get(row[0], [])) for row in rows)


def _to_round(row: tuple[Any, ...], calls: list[tuple[Any, ...]]) -> RoundDone:
    values = dict(zip(_ROUND, row[1:], strict=True))
    zone = timezone(timedelta(minutes=values.pop("zone")))
    for name in ("session", "day"):
        del values[name]
    for name in ("started", "ended"):
        values[name] = datetime.fromtimestamp(values[name], zone)
    for name in ("complete", "dry_run"):
        values[name] = bool(values[name])
    return RoundDone(**values, calls=tuple(_to_call(call, zone) for call in calls))


def _to_call(row: tuple[Any, ...], zone: timezone) -> CallDone:
    values = dict(zip(_CALL[2:], row, strict=True))
    values["called"] = datetime.fromtimestamp(values["called"], zone)
    return CallDone(**values)
