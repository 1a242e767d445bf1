"""A routine of 14 invented placements at 120 BPM (a count lasts 0.500 s), and a logbook."""

import pytest

from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Count, Length
from rehearse.practice.logbook import Logbook
from rehearse.practice.scope import spots_of
from rehearse.routine.model import Placed, Routine, Section, StagePart

NAMES = (
    "front double biceps", "front lat spread", "side chest left", "side triceps left",
    "back double biceps", "back lat spread", "twisted back", "kneeling twist",
    "side chest right", "abdominals and thighs", "vacuum", "victory",
    "crucifix", "most muscular",
)  # fmt: skip


@pytest.fixture(scope="session")
def beatmap():
    beats = tuple(i * 0.5 for i in range(160))
    return BeatMap("0" * 32, 80.0, beats, tuple(i % 4 + 1 for i in range(160)))


@pytest.fixture(scope="session")
def routine():
    poses = tuple(
        Placed(f"p{i:02d}", name, Count(1 + i + 1, 1), Length(4), Length(3))
        for i, name in enumerate(NAMES)
    )
    cuts = ((1, 5, "Opening"), (5, 9, "Back half"), (9, 13, "Floor"), (13, 17, "Closing"))
    sections = tuple(
        Section(f"s{k}", name, Count(a, 1), Count(b, 1)) for k, (a, b, name) in enumerate(cuts)
    )
    return Routine(
        "Night Train", "track.ogg", stage=StagePart(0.0, 70.0), poses=poses, sections=sections,
        show_date="2027-01-16",
    )  # fmt: skip


@pytest.fixture(scope="session")
def spots(routine, beatmap):
    return spots_of(routine, beatmap)


@pytest.fixture
def book(tmp_path):
    with Logbook(tmp_path / "practice.sqlite") as opened:
        yield opened
