"""From times on the waveform to positions."""

from __future__ import annotations

import pytest

from rehearse.music.beatmap import Accent
from rehearse.music.position import Count, Seconds
from rehearse.routine.snapping import Snap, place_of_accent, snap
from tests.routine.conftest import make_song

SONG = make_song(accents=(Accent(1.234, 0.5), Accent(8.012, 0.9), Accent(10.1, 0.8)))


@pytest.mark.parametrize(
    ("time", "to", "position"),
    [  # 120 BPM from 4.0 s: 2:1 at 8.0 s, its "&" 0.250 s later (arithmetic of the tempo)
        (8.2, Snap.COUNTS, Count(2, 1)),
        (8.26, Snap.COUNTS, Count(2, 2)),
        (8.2, Snap.HALVES, Count(2, 1, 2)),
        (8.1, Snap.QUARTERS, Count(2, 1, 1)),
        (1.239, Snap.COUNTS, Seconds(1.24)),
        (-3.0, Snap.COUNTS, Seconds(0.0)),
        (999.0, Snap.HALVES, Seconds(SONG.duration)),
        (1.0, Snap.ACCENTS, Seconds(1.234)),
        (8.4, Snap.ACCENTS, Count(2, 1)),
        (10.3, Snap.ACCENTS, Count(2, 5, 1)),
        (8.123456, Snap.NOTHING, Seconds(8.123)),
        (8.5, Snap.NOTHING, Count(2, 2)),
    ],
)
def test_snapping(time, to, position):
    assert snap(SONG, time, to) == position


@pytest.mark.parametrize(
    ("time", "position"),
    [
        (8.045, Count(2, 1)),
        (8.21, Count(2, 1, 2)),
        (8.14, Count(2, 1, 1)),
        (8.06, Seconds(8.06)),
        (1.5, Seconds(1.5)),
    ],
)
def test_an_accent_is_written_as_the_count_it_is_meant_on(time, position):
    assert place_of_accent(SONG, time) == position


def test_without_accents_half_counts_stand_in():
    assert snap(make_song(), 8.2, Snap.ACCENTS) == Count(2, 1, 2)


def test_a_song_of_free_time_only_snaps_to_hundredths():
    assert snap(make_song(eights=1), 1.005, Snap.COUNTS) in (Seconds(1.0), Seconds(1.01))
