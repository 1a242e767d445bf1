"""A routine of 14 poses at 120 BPM (a count lasts 0.500 s), and passes; all invented."""

from datetime import UTC, datetime, timedelta

from rehearse.practice.passes import Pass, PoseTaken

NAMES = (
    "front double biceps", "front lat spread", "side chest left", "side triceps left",
    "back double biceps", "back lat spread", "twisted back", "kneeling twist",
    "side chest right", "abdominals and thighs", "vacuum", "victory",
    "crucifix", "most muscular",
)  # fmt: skip
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


def make_beatmap():
    """160 beats, half a second apart, in bars of four."""
    from rehearse.music.beatmap import BeatMap

    beats = tuple(i * 0.5 for i in range(160))
    return BeatMap("0" * 32, 80.0, beats, tuple(i % 4 + 1 for i in range(160)))


def make_routine():
    """A pose on the first count of every eight from the second on; four sections."""
    from rehearse.music.position import Count, Length
    from rehearse.routine.model import Placed, Routine, Section, StagePart

    poses = tuple(
        Placed(f"p{i:02d}", name, Count(i + 2, 1), Length(4), Length(3))
        for i, name in enumerate(NAMES)
    )
    cuts = ((1, 5, "Opening"), (5, 9, "Back half"), (9, 13, "Floor"), (13, 17, "Closing"))
    sections = tuple(
        Section(f"s{k}", name, Count(a, 1), Count(b, 1)) for k, (a, b, name) in enumerate(cuts)
    )
    stage = StagePart(0.0, 70.0)
    return Routine(
        "Night Train", "track.ogg", stage=stage, poses=poses, sections=sections,
        show_date="2027-01-16",
    )  # fmt: skip
