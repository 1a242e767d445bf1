"""Beats found again replace as little of the map as they must."""

from __future__ import annotations

import itertools

import pytest

from rehearse.music.beatmap import BeatMap, Stretch
from rehearse.music.mapfile import load_map, save_map
from rehearse.music.splice import splice, splice_around


def song(change_at: int = 40) -> BeatMap:
    """120 a minute all through, as a tracker has it that missed the change to 140."""
    return BeatMap(
        "x", 40.0, tuple(0.5 * k + 0.5 for k in range(78)), tuple(k % 4 + 1 for k in range(78))
    )


def truth() -> list[tuple[float, int, float]]:
    times = [0.5 * k + 0.5 for k in range(40)]
    while times[-1] < 39.0:
        times.append(times[-1] + 60 / 140)
    return [(t, k % 4 + 1, 0.9) for k, t in enumerate(times)]


def test_a_missed_tempo_change_is_replaced_from_where_it_begins():
    new = splice_around(song(), truth(), 24.357143, Stretch(0.0, 40.0))
    assert new.beats == pytest.approx([t for t, _, _ in truth()], abs=1e-5)
    assert new.places == tuple(p for _, p, _ in truth())
    # What was right keeps the very times it had.
    assert new.beats[:40] == song().beats[:40]


def test_what_is_replaced_is_kept_as_it_is_written(tmp_path):
    times = [0.5 * k + 0.5 for k in range(40)] + [20.4999991 + 0.4285713 * k for k in range(40)]
    found = [(round(t, 6), k % 4 + 1, 0.9) for k, t in enumerate(times)]
    new = splice_around(song(), found, 24.357143, Stretch(0.0, 40.0))
    save_map(tmp_path / "beats.yaml", new)
    assert load_map(tmp_path / "beats.yaml").confidence == new.confidence


def test_a_find_that_goes_wrong_elsewhere_does_no_harm_there():
    found = truth()
    found[:6] = [(t + 0.2, p, c) for t, p, c in found[:6]]
    new = splice_around(song(), found, 24.357143, Stretch(0.0, 40.0))
    assert new.beats[:40] == song().beats[:40]


def test_no_beat_stands_twice_where_old_and_new_meet():
    # From 10 s on the find is 40 ms later: more than "the same", far less than a beat.
    found = [(t + (0.04 if t > 10 else 0.0), 1, 0.9) for t in song().beats]
    for new in (
        splice_around(song(), found, 15.04, Stretch(0.0, 40.0)),
        splice_around(song(), found, 15.04, Stretch(12.52, 18.02)),
        splice(song(), found, Stretch(12.52, 18.02)),
    ):
        steps = [b - a for a, b in itertools.pairwise(new.beats)]
        assert min(steps) > 0.4
        assert max(steps) < 0.6


def test_a_pin_behind_all_that_was_found_changes_nothing_before():
    found = [(t, p, 0.9) for t, p in zip(song().beats, song().places, strict=True) if t < 30]
    new = splice_around(song(), found, 39.5, Stretch(0.0, 40.0))
    assert new.beats[:59] == song().beats[:59]


def test_a_stretch_is_taken_as_found_and_its_bars_count_on():
    found = [(t, 4, 0.9) for t, _, _ in truth()]
    new = splice(song(), found, Stretch(21.0, 25.0))
    assert new.beats[:41] == song().beats[:41]
    # The find goes on from the beat that is kept, at 20.5 s, without leaving one out.
    assert new.beats[41] == pytest.approx(20.857143)
    inside = [k for k, b in enumerate(new.beats) if 21.0 <= b < 25.0]
    assert [new.places[k] for k in inside[:5]] == [3, 4, 1, 2, 3]
    assert max(c.value for c in new.confidence) == 1.0


def test_nothing_found_empties_the_stretch():
    assert not any(b in Stretch(5.0, 6.0) for b in splice(song(), [], Stretch(5.0, 6.0)).beats)
