"""The first Space on a machine where nothing was ever said: the window forms no speech itself."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from rehearse.cueing.voice import SpeechEngine, VoiceSetting, espeak, form, speech_cache

from .made import fast_folder, rehearsing


@pytest.fixture
def cold(monkeypatch, tmp_path):
    monkeypatch.setattr(speech_cache, "default_store", lambda: tmp_path / "voice")

    def here(*_):
        raise AssertionError("speech was formed in the window's process")

    monkeypatch.setattr(espeak, "render", here)
    return tmp_path / "voice"


@pytest.fixture
def page(cold, workspace, tmp_path, qtbot):
    workspace.settings.put("silent", True)
    window = rehearsing(workspace, fast_folder(tmp_path / "fast", bpm=120.0, seconds=30.0), qtbot)
    yield window.page
    window.close()


def test_space_begins_with_what_is_ready_and_says_the_rest_once_it_is(page, workspace, cold, qtbot):
    page.host._preparing.stop()  # Space comes first
    said, player = [], workspace.player
    for name in ("play", "change", "then"):
        inner = getattr(player, name)

        def note(segment, *, _inner=inner, **more):
            said.append(sum(c.kind == "speech" for c in segment.clips) if segment else 0)
            _inner(segment, **more)

        setattr(player, name, note)
    QTest.keyClick(page.window().focusWidget() or page, Qt.Key.Key_Space)
    assert page.host.busy
    assert said[0] == 0  # clicks
    qtbot.waitUntil(lambda: max(said) > 4, timeout=120_000)
    assert page.host.view.plan.number == 1
    assert list(cold.glob("*.npz"))


def test_the_voice_is_prepared_as_soon_as_the_page_and_its_song_are_there(page, workspace, qtbot):
    qtbot.waitUntil(lambda: bool(page.host._voice.speech_engine().formed[0]), timeout=120_000)
    qtbot.waitUntil(lambda: workspace.jobs == (), timeout=120_000)
    said = page.host._voice.speech_engine().formed[0]
    names = {cue.name for cue in workspace.sheet.cues}
    assert names <= {text for text, kind, _ in said if kind == "name"}
    assert {str(k) for k in range(1, 9)} <= {text for text, kind, _ in said if kind == "count"}


def test_what_is_formed_elsewhere_is_said_here_and_what_cannot_be_is_told(tmp_path):
    waiting = SpeechEngine(waits=False)
    assert waiting.measure("vacuum") is None
    assert waiting.measure("背阔肌") is None
    assert waiting.errors == ()
    formed = form(VoiceSetting(), tmp_path, None, tuple(waiting.wanted), 44_100, lambda *_: None)
    waiting.take(formed)
    assert waiting.measure("vacuum").length == pytest.approx(
        SpeechEngine().measure("vacuum").length, 0.05
    )
    assert waiting.measure("背阔肌") is None
    (reason,) = waiting.errors
    assert reason.startswith("背阔肌: is in an alphabet")
