"""Poses that fall outside the music or the part of it used on stage."""

from __future__ import annotations

from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity, seconds

#: Less than this past the end is the end, in seconds.
_SLACK = 0.05


def check(case: Case) -> Iterator[Finding]:
    """Hits before the start or after the end, and holds that go on past it."""
    end = min(case.stage.end, case.beatmap.duration)
    what = "the stage part" if case.routine.stage else "the music"
    for shown in case.shown:
        if shown.hit < case.stage.start - _SLACK:
            early = case.stage.start - shown.hit
            yield Finding.about(
                shown,
                "outside",
                Severity.FAULT,
                f"it is hit {seconds(early)} s before {what} begins",
                "move it later, or let the stage part begin earlier",
                early,
            )
        elif shown.hit >= end - _SLACK:
            yield Finding.about(
                shown,
                "outside",
                Severity.FAULT,
                f"it is hit when {what} is over, at {end:.1f} s",
                "move it earlier or take it out",
                shown.hit - end,
            )
        elif shown.end > end + _SLACK:
            yield Finding.about(
                shown,
                "outside",
                Severity.WARNING,
                f"its hold goes on {seconds(shown.end - end)} s after {what} is over",
                f"hold it {case.counts_for(shown.hit, shown.end - end)} less",
                shown.end - end,
            )
