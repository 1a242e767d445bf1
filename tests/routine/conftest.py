"""An invented song and routine, and settings that are nobody's own."""

from __future__ import annotations

import numpy as np
import pytest

from rehearse.music.beatmap import Accent, BeatMap, Build, Stretch
from rehearse.music.position import Count, Length, Seconds
from rehearse.routine.model import Placed, Routine, Section, StagePart
from rehearse.routine.poses import load_catalogue


def make_song(bpm=120.0, eights=18, start=4.0, tail=4.0, **parts):
    """Free time, then `eights` eights in 4/4, then free time."""
    step = 60.0 / bpm
    beats = tuple(float(t) for t in np.round(start + step * np.arange(8 * eights), 6))
    end = beats[-1] + step
    free = [Stretch(0.0, start)] if start else []
    if tail:
        free.append(Stretch(end, end + tail))
    return BeatMap(
        track_hash="5e1f",
        duration=end + tail,
        beats=beats,
        places=tuple(k % 4 + 1 for k in range(len(beats))),
        free=tuple(free),
        **parts,
    )


@pytest.fixture(autouse=True)
def nobody(monkeypatch, tmp_path_factory):
    """Settings of this machine's user play no part."""
    home = tmp_path_factory.mktemp("settings")
    monkeypatch.setattr("platformdirs.user_config_path", lambda *a, **k: home)
    return home


@pytest.fixture(scope="session")
def song():
    """120 BPM: 4 s free, eighteen eights (4.0–76.0 s), 4 s free; an accent on every second 1."""
    return make_song(
        accents=tuple(Accent(4.0 + 8.0 * k, 0.9 if k % 2 else 0.6) for k in range(9)),
        builds=(Build(16.0, 20.0, 20.0),),
        quiets=(Stretch(40.0, 46.0),),
    )


@pytest.fixture(scope="session")
def catalogue():
    return load_catalogue()


def pose(pose_id, name, hit, hold=4, transition=2, **more):
    """A placed pose, lengths in counts unless they are lengths already."""
    lengths = [x if isinstance(x, Length) else Length(x) for x in (hold, transition)]
    return Placed(pose_id, name, hit, *lengths, **more)


@pytest.fixture(scope="session")
def routine():
    """Five poses with two sections, one pose in free time."""
    return Routine(
        title="Paper Lanterns",
        track="lanterns.ogg",
        show="Harbour Hall Open",
        division="Open class",
        show_date="2027-04-17",
        rules="open-60",
        stage=StagePart(0.0, 60.0, 0.0, 1.5),
        poses=(
            pose("aa01", "crouch", Seconds(2.0), Length(2.0, False), Length(1.5, False)),
            pose("aa02", "front double biceps", Count(2, 1)),
            pose("aa03", "side chest left", Count(3, 1), note="Chin up: it's “yours”."),
            pose("aa04", "back double biceps", Count(5, 1), 6, 4, say="back double"),
            pose("aa05", "crucifix", Count(7, 5, 2), 4, 2),
        ),
        sections=(
            Section("bb01", "Opening", Seconds(0.0), Count(4, 1)),
            Section("bb02", "Turn to the back", Count(4, 1), Count(8, 1)),
        ),
    )
