"""The time on stage against the rule set's limit, and what the last seconds hold."""

from __future__ import annotations

from collections.abc import Iterator

from rehearse.music.trim import over_limit
from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity


def check(case: Case) -> Iterator[Finding]:
    """Too long, too short, and where the warning before the end falls."""
    limit, length = case.rules.limit, case.stage.length
    if limit is not None:
        if over := over_limit(length, limit):
            yield _too_long(case, limit, over)
        yield from _last_seconds(case, limit)
    minimum = case.rules.minimum
    if minimum is not None and over_limit(minimum, length):
        yield Finding(
            "length",
            Severity.WARNING,
            f"the music is {length:.1f} s long, {case.rules.name} wants at least {minimum:.1f} s",
            f"let it end {minimum - length:.1f} s later",
        )


def _too_long(case: Case, limit: float, over: float) -> Finding:
    by = f"{over:.1f} s" if over >= 0.1 else f"{over:.3f} s"
    cut = case.stage.start + limit
    lost = [s.pose.name for s in case.timed_poses if s.hit >= cut]
    broken = [s.pose.name for s in case.timed_poses if s.hit < cut < s.end]
    parts = []
    if broken:
        parts.append(f"the hold of {' and '.join(broken)} would be broken off")
    if lost:
        parts.append(f"{_list(lost)} would be cut")
    what = f"; {', '.join(parts)}" if parts else ""
    return Finding(
        "length",
        Severity.FAULT,
        f"the music is {case.stage.length:.1f} s long, {by} over the "
        f"{limit:.1f} s of {case.rules.name}{what}",
        f"end the stage part {by} earlier, or {case.rules.note}",
        case.place(cut),
        cut,
    )


def _last_seconds(case: Case, limit: float) -> Iterator[Finding]:
    left = case.rules.warning
    time = case.stage.start + limit - left
    end = min(case.stage.end, case.beatmap.duration)
    if not case.timed_poses or not case.stage.start < time < end:
        return
    still = [s.pose.name for s in case.timed_poses if s.hit >= time]
    what = f"still to come: {_list(still)}" if still else "no pose comes after it"
    yield Finding(
        "time left",
        Severity.HINT,
        f"here {left:g} s of the {limit:g} s are left; {what}",
        "",
        case.place(time),
        time,
    )


def _list(names: list[str]) -> str:
    if len(names) > 4:
        return f"{', '.join(names[:3])} and {len(names) - 3} more"
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]
