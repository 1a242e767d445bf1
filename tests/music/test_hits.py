"""Accents stand out of what surrounds them, in grades, and a lively part offers enough of them."""

from __future__ import annotations

import numpy as np
import pytest

from rehearse.music.analysis.hits import find_hits
from rehearse.music.analysis.spectrum import RATE, listen
from rehearse.music.beatmap import Accent, BeatMap
from rehearse.music.mapfile import load_map, save_map

BEAT = 0.5


def song(seconds=80.0, louder=(), stop=None, level=lambda t: 1.0):
    """Drums on every beat; at `louder` seconds a crash of this many decibels more; a stop."""
    rng = np.random.default_rng(4)
    out = 1e-4 * rng.normal(size=int(seconds * RATE))
    t = np.arange(int(0.4 * RATE)) / RATE
    for k in range(int(seconds / BEAT) - 1):
        at = 0.25 + k * BEAT
        if stop and stop[0] < at < stop[1]:
            continue
        gain = level(at) * 10 ** (rng.normal(0, 0.7) / 20)
        extra = next((db for time, db in louder if abs(time - at) < 0.01), 0.0)
        drum = np.sin(2 * np.pi * 70 * t) * np.exp(-16 * t) + 0.2 * rng.normal(size=len(t)) * (
            np.exp(-25 * t)
        )
        crash = rng.normal(size=len(t)) * np.exp(-6 * t) * (10 ** (extra / 20) - 1)
        first = round(at * RATE)
        part = (0.1 * gain * (drum + 0.5 * crash))[: len(out) - first]
        out[first : first + len(part)] += part
    return listen(np.column_stack([out, out]).astype(np.float32), RATE)


def graded(accents, time):
    return next((a.grade for a in accents if abs(a.time - time) < 0.06), "")


def test_a_hit_of_ten_decibels_is_strong_in_a_loud_and_in_a_soft_stretch():
    loud_then_soft = song(louder=((20.25, 10.0), (60.25, 10.0)),
                          level=lambda t: 1.0 if t < 40 else 0.08)  # fmt: skip
    accents = find_hits(loud_then_soft)
    assert graded(accents, 20.25) == graded(accents, 60.25) == "strong"


def test_the_first_hit_after_a_stop_is_marked():
    accents = find_hits(song(stop=(29.9, 31.9)))
    assert graded(accents, 32.25) in ("strong", "medium") or graded(accents, 32.25 - BEAT) in (
        "strong", "medium",
    )  # fmt: skip


def test_beats_that_are_all_alike_have_no_strong_hit_that_is_clear():
    accents = find_hits(song())
    strong = [a for a in accents if a.grade == "strong"]
    assert all(a.strength < 0.9 for a in strong)


def test_a_part_of_75_seconds_offers_twelve_and_the_start_is_not_left_out():
    accents = find_hits(song(louder=((44.25, 9.0), (52.25, 9.0))))
    marked = [a for a in accents if a.grade != "light"]
    assert len(marked) >= 12
    assert [a for a in marked if a.time < 20]


def test_more_are_shown_with_every_grade_and_none_stands_on_another():
    accents = find_hits(song(louder=((20.25, 8.0), (30.25, 5.0))))
    counts = [sum(a.grade in ("strong", "medium", "light")[:k] for a in accents) for k in (1, 2, 3)]
    assert counts[0] < counts[1] < counts[2]
    assert np.diff([a.time for a in accents]).min() > 0.15


@pytest.mark.parametrize(
    ("strength", "grade"), [(1.0, "strong"), (0.5, "medium"), (0.33, "medium")]
)
def test_a_map_made_before_there_were_grades_opens_with_its_accents_marked(
    strength, grade, tmp_path
):
    """Strengths were shares of the song's strongest hit then, 0.3 at least."""
    save_map(tmp_path / "beats.yaml", BeatMap("x", 20.0, accents=(Accent(4.0, strength),)))
    beatmap = load_map(tmp_path / "beats.yaml")
    assert beatmap.marked[0].grade == grade
