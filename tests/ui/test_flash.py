"""Flashes of the painted display at every tempo, against WCAG 2.2 SC 2.3.1.

A general flash is a pair of opposing changes in relative luminance of 10 % or more of the maximum
where the darker state is below 0.80. At most three in any one second are allowed, unless the area
that flashes together is below 25 % of any 10° field: 341 × 256 of 1024 × 768 pixels
(Understanding SC 2.3.1).
"""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QSize
from PySide6.QtGui import QImage, QPainter

from rehearse.cueing.cues import CueSheet
from rehearse.routine.look import MAN
from rehearse.routine.poses import load_catalogue
from rehearse.ui.stage.paint import Stage
from rehearse.ui.stage.stage_options import StageOptions

from .made import routine, sheet, steady

WIDTH, HEIGHT, RATE = 256, 144, 50


def frames(cue_sheet, tempo, begin, seconds, **options):
    """Relative luminance of the display, shape (frames, height, width), frame by frame."""
    stage = Stage(cue_sheet, StageOptions(tempo=tempo, **options), QSize(WIDTH, HEIGHT))
    result = []
    for k in range(int(seconds * RATE)):
        picture = QImage(WIDTH, HEIGHT, QImage.Format.Format_RGB32)
        painter = QPainter(picture)
        stage.paint(painter, cue_sheet.at(begin + k / RATE * tempo))
        painter.end()
        data = np.frombuffer(picture.constBits(), np.uint8).reshape(HEIGHT, WIDTH, 4)
        result.append(_luminance(data[:, :, 2::-1]))
    return np.array(result)


def _luminance(rgb):
    c = np.arange(256) / 255
    table = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4).astype(np.float32)
    return table[rgb] @ np.array([0.2126, 0.7152, 0.0722], np.float32)


def most_flashes(light):
    """The most flashes that begin in any one second, for each pixel."""
    height = light.shape[1:]
    low = high = light[0].copy()
    direction = np.zeros(height, int)  # +1: the last big change went up
    changes = np.zeros(light.shape, bool)
    for k in range(1, len(light)):
        now = light[k]
        low, high = np.minimum(low, now), np.maximum(high, now)
        up = (now - low >= 0.1) & (low < 0.8) & (direction <= 0)
        down = (high - now >= 0.1) & (now < 0.8) & (direction >= 0)
        changes[k] = up | down
        direction = np.where(up, 1, np.where(down, -1, direction))
        low = np.where(up | down | (direction > 0), now, low)
        high = np.where(up | down | (direction < 0), now, high)
        low = np.where(direction > 0, now, low)
    window = np.cumsum(changes, axis=0)
    window[RATE:] = window[RATE:] - window[:-RATE]
    return window.max(axis=0) // 2  # two opposing changes are one flash


def area_over(flashes, most):
    """The largest part of any 341 × 256 field (of 1024 × 768) that flashes more than `most`."""
    width, height = round(WIDTH * 341 / 1024), round(HEIGHT * 256 / 768)
    over = np.pad(np.cumsum(np.cumsum(flashes > most, axis=0), axis=1), ((1, 0), (1, 0)))
    fields = (
        over[height:, width:]
        - over[:-height, width:]
        - over[height:, :-width]
        + over[:-height, :-width]
    )
    return fields.max() / (width * height)


def test_the_count_of_flashes_is_right():
    # Four pulses in a second are four flashes, whatever their shape.
    light = np.zeros((RATE, 2, 2), np.float32)
    for k in range(4):
        light[5 + k * 12 : 9 + k * 12] = 0.6
    assert most_flashes(light).max() == 4
    assert most_flashes(light * 0.1).max() == 0


@pytest.mark.parametrize("bpm", [60, 120, 170, 179, 181, 200, 240, 300])
def test_no_tempo_flashes_more_than_three_times_a_second(qapp, bpm):
    cue_sheet = sheet(bpm, 20.0, every=4, hold=1, transition=2)
    light = frames(cue_sheet, 1.0, cue_sheet.cues[1].hit - 0.2, 2.4)
    flashes = most_flashes(light)
    assert area_over(flashes, 3.0) < 0.25
    rim = np.concatenate([flashes[:3].ravel(), flashes[-3:].ravel(), flashes[:, :3].ravel()])
    assert rim.max() <= 3.0


@pytest.mark.parametrize("bpm", [120, 170, 240])
def test_a_pose_hit_again_and_again_flashes_no_more(qapp, bpm):
    cue_sheet = sheet(bpm, 20.0, every=8, hold=5, transition=2)
    half = 30.0 / bpm
    cues = [
        replace(cue, again=tuple(cue.hit + half * k for k in (2, 3, 5, 6, 8)))
        for cue in cue_sheet.cues
    ]
    light = frames(replace(cue_sheet, cues=tuple(cues)), 1.0, cues[1].hit - 0.2, 2.4)
    flashes = most_flashes(light)
    rim = np.concatenate([flashes[:3].ravel(), flashes[-3:].ravel(), flashes[:, :3].ravel()])
    assert area_over(flashes, 3.0) < 0.25
    assert 1 <= rim.max() <= 3.0


def test_full_tempo_of_fast_music_and_its_slow_version(qapp):
    cue_sheet = sheet(200, 20.0, every=4, hold=1, transition=2)
    for tempo in (1.05, 0.5):
        flashes = most_flashes(frames(cue_sheet, tempo, cue_sheet.cues[1].hit, 2.0))
        assert area_over(flashes, 3.0) < 0.25


def test_reduced_flash_does_not_flash_at_all(qapp):
    cue_sheet = sheet(150, 20.0, every=4, hold=1, transition=2)
    light = frames(cue_sheet, 1.0, cue_sheet.cues[1].hit - 0.2, 2.4, reduced_flash=True)
    flashes = most_flashes(light)
    rim = np.concatenate([flashes[:3].ravel(), flashes[-3:].ravel(), flashes[:, :3].ravel()])
    assert rim.max() == 0


@pytest.mark.parametrize(
    ("figure", "skin"), [("woman", "light"), ("woman", "dark"), ("man", "dark")]
)
def test_no_figure_flashes(qapp, figure, skin):
    """The one used above is a man's with light skin; a figure in motion changes large areas."""
    beatmap = steady(179.0, 20.0)
    posed = replace(routine(beatmap, every=4, hold=1, transition=2), figure=figure, skin=skin)
    cue_sheet = CueSheet.compile(posed, beatmap, load_catalogue().of(posed))
    assert (cue_sheet.cues[1].pose.look.skin, cue_sheet.cues[1].pose.look.build) != (
        MAN.skin, MAN.build,
    )  # fmt: skip
    flashes = most_flashes(frames(cue_sheet, 1.0, cue_sheet.cues[1].hit - 0.2, 2.4))
    assert area_over(flashes, 3.0) < 0.25
