"""The edge light's steps, by the numbers."""

from bisect import bisect_right

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from rehearse.ui.stage.edge import APART, edge_at, lit, notch_boxes

from .made import sheet


def steps(cue_sheet, tempo, begin, end, pace=0.004):
    """Moments (seconds of output) at which a glow or a hit begins."""
    begun, dark, time = [], True, begin
    while time < end:
        edge = edge_at(cue_sheet.at(time), cue_sheet, tempo)
        bright = max(edge.glow, edge.whole) > 0.9
        if bright and dark:
            begun.append((time - begin) / tempo)
        dark = not bright
        time += pace * tempo
    return begun


def test_it_fills_a_step_a_count_and_is_whole_on_the_hit():
    cue_sheet = sheet(120, 20.0)
    cue = cue_sheet.cues[1]
    fills = [
        edge_at(cue_sheet.at(cue.hit - k * 0.5 + 0.01), cue_sheet, 1.0).fill
        for k in range(8, 0, -1)
    ]
    assert fills == pytest.approx([k / 8 for k in range(8)])
    hit = edge_at(cue_sheet.at(cue.hit), cue_sheet, 1.0)
    assert hit.whole == 1.0
    assert edge_at(cue_sheet.at(cue.hit + 0.12), cue_sheet, 1.0).whole == 1.0  # a quarter count
    assert edge_at(cue_sheet.at(cue.hit + 0.45), cue_sheet, 1.0).whole == 0.0


def test_above_180_a_minute_it_steps_on_every_second_count():
    # WCAG 2.2 SC 2.3.1: three flashes a second are 180 a minute.
    for bpm, expected in ((178, 1), (190, 2)):
        cue_sheet = sheet(bpm, 20.0)
        cue = cue_sheet.cues[1]
        count = 60 / bpm
        fills = [
            round(8 * edge_at(cue_sheet.at(cue.hit - (k - 0.5) * count), cue_sheet, 1.0).fill)
            for k in range(8, 0, -1)
        ]
        assert len(set(fills)) == 8 // expected


def test_slower_music_steps_on_every_count_again():
    cue_sheet = sheet(200, 20.0)
    cue = cue_sheet.cues[1]
    fills = {
        round(8 * edge_at(cue_sheet.at(cue.hit - (k - 0.5) * 0.3), cue_sheet, 0.5).fill)
        for k in range(1, 9)
    }
    assert len(fills) == 8


@settings(max_examples=60, deadline=None)
@given(
    bpm=st.integers(40, 300),
    tempo=st.sampled_from([0.4, 0.7, 1.0, 1.05]),
    every=st.integers(2, 9),
    hold=st.integers(1, 4),
)
@example(bpm=180, tempo=1.0, every=2, hold=1)
def test_lights_never_begin_more_than_three_times_in_a_second(bpm, tempo, every, hold):
    cue_sheet = sheet(bpm, 14.0, every=every, hold=hold, transition=1)
    if len(cue_sheet.cues) < 3:
        return
    begun = steps(cue_sheet, tempo, cue_sheet.cues[0].hit - 0.3, cue_sheet.cues[0].hit + 3.0)
    for time in begun:
        assert bisect_right(begun, time + 1.0 - 0.02) - begun.index(time) <= 3, (APART, begun)


def test_the_rim_is_symmetric_and_closes_at_the_top():
    boxes = lit(1.0, 1600, 900, 20)
    assert (0.0, 0.0, 800.0, 20) in boxes
    assert (800.0, 0.0, 800.0, 20) in boxes
    for fill in (0.1, 0.5, 0.9):
        area = {(x, w) for x, _, w, _ in lit(fill, 1600, 900, 20)}
        assert {(1600 - x - w, w) for x, w in area} == area
    for part in (0.1, 0.5, 0.9):
        left, right = notch_boxes(part, 1600, 900, 20, 5)
        assert left[0] + left[2] + right[0] == pytest.approx(1600)
