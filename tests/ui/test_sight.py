"""Sizes for the distance, against ISO 9241-3 and NUREG-0700, and on the painted display."""

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.routine.poses import load_catalogue
from rehearse.ui import theme
from rehearse.ui.stage.fit import EASY, NARROWEST, fit
from rehearse.ui.stage.layout import lay_out
from rehearse.ui.stage.letters import advance
from rehearse.ui.stage.options import StageOptions
from rehearse.ui.stage.paint import paint_stage
from rehearse.ui.stage.sight import GLANCE, LEAST, Sight, height_mm

from .made import renamed, sheet

#: Width in pixels, height in pixels, width in millimetres: a small laptop, two usual ones, a
#: screen on a stand.
SCREENS = ((1366, 768, 293.8), (1920, 1080, 309.4), (1920, 1200, 301.6), (2560, 1440, 596.7))


@pytest.mark.parametrize(
    ("distance", "least", "glance"), [(3, 14.0, 19.2), (4, 18.6, 25.6), (5, 23.3, 32.0)]
)
def test_heights_of_the_standard(distance, least, glance):
    # Cap heights for 16' and 22' of arc, computed from the formula of NUREG-0700 rev. 2,
    # 1.3.1-4: 6.283 * distance * minutes / 21600; least and preferred minutes: ISO 9241-3.
    assert height_mm(distance, 16) == pytest.approx(least, abs=0.06)
    assert height_mm(distance, 22) == pytest.approx(glance, abs=0.06)


@pytest.mark.parametrize(("width", "height", "mm"), SCREENS)
@pytest.mark.parametrize("distance", [3.0, 4.0, 5.0])
def test_layout_keeps_to_the_least_sizes(width, height, mm, distance):
    sight = Sight(distance, mm / width)
    layout = lay_out(width, height, sight)
    assert layout.legible
    assert layout.numeral_cap >= sight.pixels(GLANCE)
    assert layout.name_cap >= sight.pixels(GLANCE)
    assert layout.small_cap >= sight.pixels(LEAST)


def test_layout_says_when_a_screen_is_too_small():
    assert not lay_out(1366, 768, Sight(9.0, 293.8 / 1366)).legible


@pytest.mark.parametrize(("width", "height", "mm"), SCREENS)
def test_every_name_of_the_trade_is_whole_and_large_enough(qapp, width, height, mm):
    sight = Sight(4.0, mm / width)
    layout = lay_out(width, height, sight)
    for pose in load_catalogue().poses:
        fitted = fit(
            pose.name,
            layout.name.width,
            layout.name.height,
            least=layout.least_cap,
            most=layout.name_cap * 1.35,
            advance=advance,
        )
        assert fitted.cap >= sight.pixels(GLANCE) - 0.01, pose.name
        assert "".join(fitted.lines).replace(" ", "") == pose.name.replace(" ", "")
        assert fitted.stretch >= NARROWEST
        assert fitted.height <= layout.name.height + 0.5
        for line in fitted.lines:
            assert advance(line) * fitted.cap * fitted.stretch <= layout.name.width + 0.5


def test_a_name_that_cannot_fit_is_cut_and_never_smaller():
    # Letters of one cap height each: sixty of them on three lines of ten.
    fitted = fit("a" * 60, 55.0, 60.0, least=10.0, most=14.0, advance=len)
    assert fitted.cap == 10.0
    assert fitted.lines[-1].endswith("…")
    assert all(len(line) * 10.0 * fitted.stretch <= 55.0 + 1e-6 for line in fitted.lines)


def test_narrowing_comes_before_a_smaller_name():
    # Eight letters of one cap height: 80 / (8 · 12) = 0.833 of their width leaves 12 pixels.
    fitted = fit("mmmmmmmm", 80.0, 20.0, least=12.0, most=14.0, advance=len)
    assert fitted.cap == 12.0
    assert fitted.stretch == pytest.approx(0.833, abs=0.001)
    assert NARROWEST <= fitted.stretch < EASY


def paint(cue_sheet, moment, width, height, sight):
    picture = QImage(width, height, QImage.Format.Format_RGB32)
    painter = QPainter(picture)
    options = StageOptions(sight=sight)
    paint_stage(painter, QRectF(0, 0, width, height), moment, cue_sheet, options=options)
    painter.end()
    data = np.frombuffer(picture.constBits(), np.uint8).reshape(height, width, 4)
    return data[:, :, 2::-1].astype(int)


def rows_of(pixels, colour, box):
    wanted = np.array(QColor(colour).getRgb()[:3])
    x, y = int(box.x), int(box.y)
    part = pixels[max(0, y - 12) : int(box.bottom) + 2, x : int(box.right)]
    same = np.abs(part - wanted).max(axis=2) < 8
    return np.flatnonzero(same.any(axis=1))


@pytest.mark.parametrize(("width", "height", "mm"), SCREENS[:2])
def test_painted_name_and_numeral_measure_22_minutes(qapp, width, height, mm):
    # ISO 9241-3: 20-22' preferred; measured on the pixels, not on the layout's word.
    sight = Sight(4.0, mm / width)
    cue_sheet = renamed(sheet(), 1, "Hhhh Hhhh")
    cue = cue_sheet.cues[1]
    moment = cue_sheet.at(cue.hit - 0.2)
    pixels = paint(cue_sheet, moment, width, height, sight)
    layout = lay_out(width, height, sight)
    numeral = rows_of(pixels, theme.INK, layout.numeral)
    assert numeral.max() - numeral.min() + 1 >= sight.pixels(GLANCE)
    name = rows_of(pixels, theme.NEXT, layout.name)
    first_line = name[: np.argmax(np.diff(name) > 1) + 1] if (np.diff(name) > 1).any() else name
    assert len(first_line) >= sight.pixels(GLANCE) - 1
