"""The speakers' delay found by tapping, with real keys; the player keeps time without a device.

Once in real time; where only the order of taps matters the test turns the player's clock.
"""

from types import SimpleNamespace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from rehearse.playback.segment import Now

from .made import fast_folder, kept, rehearsing

DELAY = 0.18


@pytest.fixture
def page(workspace, tmp_path, qtbot):
    workspace.settings.put("silent", True)
    workspace.player.silent = True
    window = rehearsing(workspace, fast_folder(tmp_path / "fast"), qtbot)
    yield window.page
    window.close()


@pytest.fixture
def panel(page, qtbot):
    QTest.keyClick(page, Qt.Key.Key_U, Qt.KeyboardModifier.ShiftModifier)
    panel = page._setup.delay
    panel.tap.setFocus(Qt.FocusReason.TabFocusReason)
    return panel


@pytest.fixture
def clock(page, monkeypatch):
    """What the player says of the clicks, told by the test."""
    clock = SimpleNamespace(elapsed=-60.0, state="lead")
    player = page._workspace.player
    monkeypatch.setattr(player, "play", lambda segment, repeat: None)
    monkeypatch.setattr(
        player, "now", lambda: Now(0.0, key="delay", elapsed=clock.elapsed, state=clock.state)
    )
    return clock


def tap_by_hand(page, panel, clock, number):
    for click in panel._clicks[:number]:
        clock.elapsed = click + DELAY
        space(page)


def space(page):
    QTest.keyClick(page.window().focusWidget(), Qt.Key.Key_Space)


def tap_along(page, panel, qtbot, number, errors=(0.0,)):
    """Press Space so long after each click as a late speaker and a human hand make it."""
    player = page._workspace.player
    qtbot.waitUntil(lambda: player.now().key == "delay", timeout=120_000)
    for k, click in enumerate(panel._clicks[:number]):
        wanted = click + DELAY + errors[k % len(errors)]
        qtbot.waitUntil(lambda at=wanted: player.now().elapsed >= at, timeout=120_000)
        space(page)


def test_tapping_to_every_click_sets_the_delay(page, panel, qtbot):
    space(page)
    assert panel.measuring
    assert panel.tap.text() == "Tap"
    tap_along(page, panel, qtbot, 10, errors=(-0.02, 0.0, 0.02))
    assert not panel.measuring
    found = page._workspace.player.latency
    assert found == pytest.approx(DELAY, abs=0.05)
    assert panel.delay.value() == round(1000 * found)
    assert panel.words.text().startswith(f"Set to {1000 * found:.0f} ms; your taps lay within")


def test_eight_taps_are_enough_and_it_ends_by_itself(page, panel, clock, qtbot):
    space(page)
    tap_by_hand(page, panel, clock, 8)
    qtbot.wait(250)  # it is looked ten times a second whether the last click is over
    assert panel.measuring
    clock.state = "music"
    qtbot.waitUntil(lambda: not panel.measuring, timeout=120_000)
    assert page._workspace.player.latency == pytest.approx(DELAY)


def test_too_few_taps_change_nothing_and_say_what_to_do(page, panel, clock, qtbot):
    panel.delay.setValue(120)
    space(page)
    tap_by_hand(page, panel, clock, 3)
    clock.state = "music"
    qtbot.waitUntil(lambda: not panel.measuring, timeout=120_000)
    assert panel.words.text() == "Only 3 taps fit the clicks – tap to 8 clicks again."
    assert page._workspace.player.latency == pytest.approx(0.12)
    assert panel.delay.value() == 120


def test_leaving_stops_the_clicks_and_keeps_what_was_set(page, panel, qtbot):
    panel.delay.setValue(95)
    space(page)
    QTest.keyClick(page.window().focusWidget(), Qt.Key.Key_Escape)
    assert not panel.measuring
    assert page._workspace.player.latency == pytest.approx(0.095)
    assert page._front.currentWidget() is page.stage


def test_a_drill_under_way_is_stopped_before_the_clicks(page, qtbot):
    QTest.keyClick(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: page.host.view.state == "music", timeout=120_000)
    QTest.keyClick(page, Qt.Key.Key_U, Qt.KeyboardModifier.ShiftModifier)
    panel = page._setup.delay
    panel.tap.setFocus(Qt.FocusReason.TabFocusReason)
    space(page)
    assert panel.measuring
    assert not page.host.busy
    assert not kept(page._workspace)[-1].complete
