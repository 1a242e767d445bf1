"""The stage part: its ends, its fades, its length."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rehearse.music import trim
from rehearse.music.beatmap import Accent, BeatMap

MAP = BeatMap("x", 20.0, (1.0, 2.0, 3.0), (1, 2, 3), accents=(Accent(2.4, 1.0),))


def test_ends_snap_to_beats_and_accents_within_reach():
    assert trim.snap_to_beat(MAP, 2.2, 0.3) == 2.0
    assert trim.snap_to_beat(MAP, 2.2, 0.1) == 2.2
    assert trim.snap_to_accent(MAP, 2.2, 0.3) == 2.4
    assert trim.snap_to_accent(BeatMap("x", 20.0), 2.2) == 2.2


@pytest.mark.parametrize(
    ("length", "over"), [(59.9, 0.0), (60.0, 0.0), (60.0004, 0.0), (60.1, 0.1), (75.0, 15.0)]
)
def test_sixty_seconds_pass_and_a_tenth_more_does_not(length, over):
    # 60 s of free posing: IFBB Book of the Year 2017, p. 9.
    assert trim.over_limit(length, 60.0) == pytest.approx(over)


@given(st.floats(-50, 250), st.floats(-50, 250), st.floats(0.5, 200))
def test_a_part_always_lies_inside_the_track(start, end, duration):
    a, b = trim.fit_part(start, end, duration)
    assert 0 <= a < b <= duration + 1e-9
    assert b - a >= min(trim.SHORTEST, duration) - 1e-9


@given(st.floats(0.1, 100), st.floats(-5, 200), st.floats(-5, 200))
def test_fades_never_overlap(length, rise, fall):
    rise, fall = trim.fit_fades(length, rise, fall)
    assert min(rise, fall) >= 0
    assert rise + fall <= length + 1e-9


def test_the_part_is_cut_to_the_sample_and_faded_inside():
    samples = np.ones((10_000, 2), np.float32)
    part = trim.cut_part(samples, 1000, 2.0004, 7.0, (1.0, 2.0))
    assert part.shape == (5000, 2)
    assert part.flags.c_contiguous
    # A raised cosine: nothing at the ends, half way up in the middle, whole in between.
    assert part[[0, -1]].max() == pytest.approx(0.0, abs=1e-6)
    assert part[500, 0] == pytest.approx(0.5, abs=0.01)
    assert part[4000, 0] == pytest.approx(0.5, abs=0.01)
    assert part[1000:3000] == pytest.approx(1.0)
    assert (np.diff(part[:1000, 0]) >= 0).all()
    assert (samples == 1).all()
