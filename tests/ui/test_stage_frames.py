"""Frames of the cue video: painted part by part they are whole pictures; the upright screen."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from rehearse.handout.cue_track import CueSound
from rehearse.handout.cue_video import FrameTimeline, VideoScene
from rehearse.music.track import Track
from rehearse.session.segment_builder import SegmentSpec
from rehearse.ui.stage.changes import PaintState, changed
from rehearse.ui.stage.edge import Edge
from rehearse.ui.stage.fit import DESCENT
from rehearse.ui.stage.frames import StageFrames
from rehearse.ui.stage.layout import lay_out
from rehearse.ui.stage.stage_options import GLANCE, ViewingDistance
from rehearse.ui.stage.upright import lay_out_upright

from .made import sheet

SONG = Track(np.zeros((30 * 8000, 2), np.float32), 8000, "silence")


def timeline(cues):
    """Two passes through six seconds with a count-in and a rest of a second."""
    one = SegmentSpec("Middle", 4.5, 10.5, rest=1.0)
    two = SegmentSpec("Middle", 4.5, 10.5, tempo=0.5)
    starts = ((0.0, 2.0), (9.0, 13.0))
    return FrameTimeline(cues, CueSound(b"", None, 25.0, (one, two), starts, (), ()))


@pytest.mark.parametrize("size", [(480, 270), (270, 480)])
def test_what_is_painted_part_by_part_is_the_whole_picture(qapp, size):
    cues = sheet()
    views = timeline(cues)
    scene = VideoScene(cues, SONG, Path(), *size)
    kept = StageFrames(scene)
    before = kept.pixels.copy()
    for number in range(0, 700, 3):
        view = views.view((number + 0.5) / 30)
        rects = kept.paint(view)
        told = np.zeros(size[::-1], bool)
        for left, top, right, bottom in rects:
            told[max(0, top) : bottom, max(0, left) : right] = True
        # What is told to have changed is all that changed …
        assert not (np.any(kept.pixels != before, axis=2) & ~told).any(), number
        before = kept.pixels.copy()
        if number % 45 == 0:  # … and all of it is as if it were painted at once.
            whole = StageFrames(scene)
            whole.paint(view)
            beside = np.abs(whole.pixels[..., :3].astype(int) - kept.pixels[..., :3])
            # The position in the ribbon stands on whole pixels; letters differ by their smoothing.
            ribbon = kept._stage.layout.ribbon
            beside[int(ribbon.y) : int(ribbon.bottom) + 1] = 0
            assert beside.max() <= 40, number


def test_between_two_counts_only_the_lit_part_of_the_edge_is_painted():
    layout = lay_out(480, 270, ViewingDistance())
    low = Edge(fill=0.3, glow=0.5, notches=(0.5, 0.75))
    before = PaintState((), low, "", ("", False), "", (), 0)

    def top_of(edge):
        boxes = changed(before, replace(before, edge=edge), layout, 480, 270)
        return min(box.y for box in boxes)

    assert top_of(replace(low, glow=0.4)) > 250  # the foot
    assert 100 < top_of(replace(low, fill=0.5, glow=1.0)) < 250  # up the sides
    assert top_of(replace(low, whole=1.0)) <= 0
    assert top_of(Edge(fill=0.3, notches=(0.5,))) <= 0  # its steps stand elsewhere


@pytest.mark.parametrize("kind", ["pose", "moving", "note"])
@pytest.mark.parametrize("distance", [0.6, 1.2, 3.0])
def test_on_an_upright_screen_nothing_lies_over_anything_else_nor_outside(distance, kind):
    width, height = 1080, 1920
    viewing = ViewingDistance(distance, 65.0 / width)
    layout = lay_out_upright(width, height, viewing, kind)
    placed = {"name": layout.name, "figure": layout.figure, "numeral": layout.numeral}
    placed |= {"sign": layout.sign, "move": layout.move, "strip": layout.strip}
    placed |= {"foot": layout.foot, "ribbon": layout.ribbon}
    boxes = {name: box for name, box in placed.items() if box}
    for name, box in boxes.items():
        assert min(box.x, box.y) >= 0, name
        assert max(box.right - width, box.bottom - height) <= 0, name
        assert min(box.width, box.height) > 0, name
        for other, place in boxes.items():
            if name < other:
                across = min(box.right, place.right) - max(box.x, place.x)
                down = min(box.bottom, place.bottom) - max(box.y, place.y)
                assert across <= 1 or down <= DESCENT * layout.cap, (name, other, across, down)
    assert layout.cap <= viewing.pixels(GLANCE) + 1e-6
    assert layout.legible is (distance < 2)
    # Name and figure keep their places whatever else is shown.
    assert layout.name == lay_out_upright(width, height, viewing, "pose").name
    assert layout.figure == lay_out_upright(width, height, viewing, "pose").figure
