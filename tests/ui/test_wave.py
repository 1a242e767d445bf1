"""The waveform view: the right peaks at every zoom, marks where they belong, hands, long files."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication

from rehearse.music.beatmap import Accent, BeatMap, Build, Confidence, Part, Stretch
from rehearse.music.track import Track
from rehearse.ui.wave.overview import Overview
from rehearse.ui.wave.pyramid import BIN, Pyramid
from rehearse.ui.wave.wave_view import WaveView
from rehearse.ui.wave.waveform import silhouette

RATE = 8000


def track(seconds, rate=RATE):
    rng = np.random.default_rng(0)
    samples = rng.uniform(-0.5, 0.5, (int(seconds * rate), 2)).astype(np.float32)
    return Track(samples, rate, "x", "song")


def beatmap(seconds):
    beats = tuple(0.5 + 0.5 * k for k in range(int(seconds * 2) - 2))
    return BeatMap(
        "x",
        seconds,
        beats,
        tuple(k % 4 + 1 for k in range(len(beats))),
        accents=(Accent(4.26, 1.0), Accent(9.0, 0.5)),
        builds=(Build(2.0, 4.26, 4.26),),
        quiets=(Stretch(6.0, 7.0),),
        parts=(Part(0.0, 5.0, "A"), Part(5.0, seconds, "B")),
        confidence=(Confidence(0.0, 5.0, 0.9), Confidence(5.0, seconds, 0.2)),
    )


@pytest.fixture
def view(qapp, qtbot):
    view = WaveView()
    qtbot.addWidget(view)
    view.resize(800, 300)
    view.set_track(track(60.0))
    view.set_map(beatmap(60.0))
    view.show()
    qtbot.waitExposed(view)
    return view


@settings(deadline=None, max_examples=60)
@given(st.integers(0, 59_000), st.integers(20, 60_000), st.integers(1, 900))
def test_columns_are_the_peaks_of_their_samples(first, length, count):
    samples = _noise()
    pyramid = _grown(samples)
    last = min(len(samples), first + length)
    peak, root = pyramid.columns(first, last, count)
    loud = np.abs(samples).max(axis=1)
    step = (last - first) / count
    for k in range(0, count, max(1, count // 7)):
        low, high = first + k * step, first + (k + 1) * step
        # A column may take in what shares a bin with its edges, and misses nothing of its own.
        wide = 0 if step < BIN else 4 ** int(np.log(step / BIN) / np.log(4)) * BIN
        inside = loud[int(low) : max(int(low) + 1, int(high))]
        around = loud[max(0, int(low) - wide) : int(high) + wide + 2]
        assert peak[k] >= inside.max(initial=0.0) - 1e-6 or wide
        assert peak[k] <= around.max() + 1e-6
        assert root[k] <= peak[k] + 1e-6


def _noise():
    rng = np.random.default_rng(4)
    samples = rng.normal(0, 0.1, (60_000, 2)).astype(np.float32)
    samples[30_000:31_000] *= 6
    return samples


def _grown(samples):
    pyramid = Pyramid(samples)
    while not pyramid.complete:
        pyramid.grow()
    return pyramid


def test_a_pyramid_grows_slice_by_slice_to_the_same_peaks():
    samples = np.random.default_rng(2).normal(0, 0.2, (700_000, 2)).astype(np.float32)
    peak, _ = _grown(samples).columns(0, len(samples), 7)
    expected = [np.abs(part).max() for part in np.array_split(samples, 7)]
    assert peak == pytest.approx(expected, abs=0.02)


def test_the_silhouette_is_as_high_as_the_sound():
    image = silhouette(np.array([0.0, 0.5, 1.0], np.float32), np.zeros(3, np.float32), 200)
    ground = image.pixel(0, 0)
    heights = [sum(image.pixel(x, y) != ground for y in range(200)) for x in range(3)]
    assert heights == pytest.approx([2, 100, 198], abs=3)


def test_the_wheel_zooms_about_the_pointer_and_scrolls_with_shift(view):
    before = view.scale.time(200)
    _wheel(view, 200, 120)
    assert view.scale.time(200) == pytest.approx(before, abs=1e-6)
    assert view.scale.end - view.scale.start == pytest.approx(60 / 1.25)
    start = view.scale.start
    _wheel(view, 200, -120, Qt.KeyboardModifier.ShiftModifier)
    assert view.scale.start > start


def _wheel(view, x, turn, modifiers=Qt.KeyboardModifier.NoModifier):
    at = QPointF(x, 100)
    event = QWheelEvent(
        at,
        view.mapToGlobal(at),
        QPoint(),
        QPoint(0, turn),
        Qt.MouseButton.NoButton,
        modifiers,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(view, event)


def test_keys_zoom_scroll_and_show_the_whole(view, qtbot):
    view.setFocus()
    for key in (Qt.Key.Key_Plus, Qt.Key.Key_Plus):
        qtbot.keyClick(view, key)
    length = view.scale.end - view.scale.start
    assert length < 30
    qtbot.keyClick(view, Qt.Key.Key_PageDown)
    assert view.scale.start == pytest.approx(0.8 * length)
    qtbot.keyClick(view, Qt.Key.Key_Minus, Qt.KeyboardModifier.KeypadModifier)
    assert view.scale.end - view.scale.start > 1.5 * length
    qtbot.keyClick(view, Qt.Key.Key_0)
    assert (view.scale.start, view.scale.end) == (0.0, 60.0)


def test_the_view_never_leaves_the_track(view):
    for start, end in ((-10, 5), (55, 90), (20, 20.001), (-5, 500)):
        view.set_range(start, end)
        assert 0 <= view.scale.start < view.scale.end <= 60.0 + 1e-9


def test_a_click_lands_on_the_beat_and_with_alt_where_it_is(view, qtbot):
    view.set_range(0, 20)
    point = QPoint(round(view.scale.x(7.6)), 120)
    qtbot.mouseClick(view, Qt.MouseButton.LeftButton, pos=point)
    assert view.cursor_time == 7.5
    qtbot.mouseClick(view, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.AltModifier, point)
    assert view.cursor_time == pytest.approx(7.6, abs=0.02)


def test_an_accent_off_the_beat_is_caught_too(view):
    assert view.caught(4.3, 0.2) == 4.26
    assert view.caught(9.02, 0.2) == 9.0
    assert view.caught(11.2, 0.1) == 11.2


def test_the_cursor_is_told_in_words(view):
    view.set_cursor(4.5)
    assert view.accessibleDescription() == "2:1   0:04.500"
    view.set_cursor(4.6)
    assert view.accessibleDescription() == "0:04.600"


def test_a_layer_is_painted_and_takes_its_drags(view, qtbot):
    class Layer:
        calls = ()

        def paint(self, painter, scale):
            self.calls += ("paint",)

        def press(self, point, scale):
            self.calls += ("press",)
            return point.x() < 400

        def drag(self, point, scale):
            self.calls += ("drag",)

        def release(self, point, scale):
            self.calls += ("release",)

    layer = Layer()
    view.add_layer(layer)
    view.grab()
    left = Qt.MouseButton.LeftButton
    qtbot.mousePress(view, left, pos=QPoint(100, 100))
    qtbot.mouseMove(view, QPoint(300, 100))
    qtbot.mouseRelease(view, left, pos=QPoint(300, 100))
    assert layer.calls == ("paint", "press", "drag", "release")
    assert view.selection is None
    qtbot.mousePress(view, left, pos=QPoint(500, 100))
    qtbot.mouseMove(view, QPoint(600, 100))
    qtbot.mouseRelease(view, left, pos=QPoint(600, 100))
    assert view.selection is not None


def test_every_kind_of_mark_changes_the_picture(view):
    view.set_range(0, 12)
    plain = BeatMap("x", 60.0)
    whole = beatmap(60.0)
    view.set_map(plain)
    before = view.grab().toImage()
    for kind in ("accents", "builds", "quiets", "parts", "confidence"):
        view.set_map(BeatMap("x", 60.0, **{kind: getattr(whole, kind)}))
        assert view.grab().toImage() != before, kind
    view.set_map(BeatMap("x", 60.0, free=(Stretch(1.0, 3.0),)))
    assert view.grab().toImage() != before
    view.set_map(BeatMap("x", 60.0, whole.beats, whole.places))
    assert view.grab().toImage() != before


def test_no_number_is_cut_off_at_the_edge(view):
    # Eight 8 begins at 28.5 s: the picture ends 8 pixels later, and its number 4 pixels after it.
    view.set_range(0, 28.5 * 800 / 792)
    picture = view.grab().toImage()
    rows = range(int(view.scale.eights.bottom()) - 24, int(view.scale.eights.bottom()) - 9)
    edge = {picture.pixel(x, y) for y in rows for x in range(795, 800)}
    assert len(edge) == 1


def test_the_overview_shows_and_moves_what_is_in_view(view, qtbot):
    overview = Overview(view)
    qtbot.addWidget(overview)
    overview.resize(600, 40)
    overview.show()
    qtbot.waitExposed(overview)
    view.set_range(0, 6)
    qtbot.mouseClick(overview, Qt.MouseButton.LeftButton, pos=QPoint(300, 20))
    assert (view.scale.start, view.scale.end) == pytest.approx((27.0, 33.0))


def test_thirty_minutes_stay_smooth(qapp, qtbot):
    song = track(1800.0)
    view = WaveView()
    qtbot.addWidget(view)
    view.resize(1400, 400)
    view.set_map(beatmap(1800.0))
    began = time.thread_time()
    view.set_track(song)
    assert time.thread_time() - began < 0.1
    view.show()
    qtbot.waitExposed(view)
    qtbot.waitUntil(lambda: view._pyramid.complete, timeout=120_000)
    spent = []
    for start, end in ((0, 1800), (100, 400), (100, 130), (100, 101)) * 3:
        view.set_range(start, end)
        began = time.thread_time()
        view.grab()
        spent.append(time.thread_time() - began)
    # 25 pictures a second; of computing, since the machine may be busy with other tests.
    assert float(np.median(spent)) < 0.04


def test_nothing_heavy_is_loaded_to_show_a_waveform():
    import subprocess
    import sys

    code = (
        "import sys, rehearse.ui.wave.overview, rehearse.ui.pages.music.page;"
        "heavy = ('librosa', 'scipy', 'av', 'sounddevice');"
        "print([m for m in heavy if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert out.stdout.strip() == "[]"


@pytest.mark.parametrize("height", range(6))
def test_a_wave_without_room_is_painted_all_the_same(height):
    """A picture without height raised inside Qt's painting, which took the program with it."""
    share = np.array([0.0, 0.4, 1.0], np.float32)
    picture = silhouette(share, share / 2, height)
    assert picture.size().toTuple() == (3, max(4, height // 2 * 2))
