"""Passes made for tests; invented."""

from datetime import UTC, datetime, timedelta

from rehearse.practice.passes import Pass, PoseTaken

MONDAY = datetime(2026, 11, 2, 18, 0, tzinfo=UTC)


def make_pass(at=MONDAY, **changes):
    """A plausible pass of one section with two poses."""
    taken = (
        PoseTaken("a", "front double biceps", 0.0, 4.0, ""),
        PoseTaken("b", "side chest left", 4.0, 8.0, "a", "front double biceps"),
    )
    values = {
        "kind": "drill", "start": 0.0, "end": 8.0, "started": at,
        "ended": at + timedelta(seconds=8), "section": "s", "section_name": "Opening",
        "taken": taken,
    }  # fmt: skip
    return Pass(**(values | changes))
