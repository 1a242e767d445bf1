"""A slider shows more or fewer accents; a key steps through those shown."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt

from rehearse.music.beatmap import Accent
from tests.ui.music.conftest import map_of

BEATS = [0.5 + 0.5 * k for k in range(20)]
ACCENTS = tuple(
    Accent(time, strength) for time, strength in ((2.0, 0.1), (4.0, 0.4), (6.0, 0.9), (8.0, 0.1))
)
CTRL = Qt.KeyboardModifier.ControlModifier


@pytest.mark.parametrize(
    ("place", "times"), [(0, [6.0]), (1, [4.0, 6.0]), (2, [2.0, 4.0, 6.0, 8.0])]
)
def test_the_key_steps_through_the_grades_in_view(place, times, open_page, qtbot):
    _, page = open_page(BEATS, 11.0, lambda t: replace(map_of(t, BEATS), accents=ACCENTS))
    page.accents.slider.setValue(place)
    page.view.set_cursor(0.0)
    went = []
    for _ in times:
        qtbot.keyClick(page.view, Qt.Key.Key_Down, CTRL)
        went.append(page.view.cursor_time)
    assert went == pytest.approx(times)
    qtbot.keyClick(page.view, Qt.Key.Key_Down, CTRL)
    assert page.view.cursor_time == times[-1]  # none is left, and that is said
    for time in reversed(times[:-1]):
        qtbot.keyClick(page.view, Qt.Key.Key_Up, CTRL)
        assert page.view.cursor_time == pytest.approx(time)


def test_what_is_shown_is_painted_and_remembered(open_page, qtbot, settings):
    _, page = open_page(BEATS, 11.0, lambda t: replace(map_of(t, BEATS), accents=ACCENTS))
    pictures = []
    for place in (0, 1, 2):
        page.accents.slider.setValue(place)
        assert page.accents.words.text().count(",") == place
        pictures.append(page.view.grab().toImage())
    assert pictures[0] != pictures[1] != pictures[2]
    assert settings.get("accents_shown") == 2
