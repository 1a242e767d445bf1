"""Recording names and counts in the window: with given sound, dropped files, no microphone."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile
from PySide6.QtCore import Qt

from rehearse.cueing.voice import SpeechEngine, recordings
from rehearse.files.user_error import UserError
from rehearse.music.track import Track
from rehearse.playback.microphone import RATE, record
from rehearse.ui.handout.ownvoice import OwnVoice
from rehearse.ui.jobs import RunningJob
from rehearse.ui.window import Window

DEMO = Path(__file__).resolve().parents[3] / "demo" / "copper-lights"
BLOCK = RATE // 50


def spoken(seconds=0.6, level=0.2):
    """A room, a tone instead of a word, and the room again, in blocks of 20 ms."""
    hiss = (0.001 * np.random.default_rng(1).standard_normal(RATE * 3)).astype(np.float32)
    tone = level * np.sin(2 * np.pi * 300 * np.arange(int(seconds * RATE)) / RATE)
    hiss[RATE : RATE + len(tone)] += tone.astype(np.float32)
    return [hiss[k : k + BLOCK] for k in range(0, len(hiss) - BLOCK + 1, BLOCK)]


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(DEMO, tmp_path / "copper-lights")


@pytest.fixture
def flow(qtbot, workspace, folder, monkeypatch):
    """The flow over a workspace whose jobs take `flow.sound` instead of a microphone, at once."""
    window = Window(workspace)
    qtbot.addWidget(window)
    window.resize(1280, 720)
    window.show()
    qtbot.waitExposed(window)
    monkeypatch.setattr(workspace, "decode", lambda: None)
    assert workspace.open(folder)
    window.own_voice()
    flow = window.page
    assert isinstance(flow, OwnVoice)
    flow.sound = spoken()

    flow.waiting = None  # a list: jobs are kept in it and not run

    def at_once(words, function, *args, done, failed):
        if flow.waiting is not None:
            flow.waiting.append((function, args, done))
            return RunningJob(words)
        try:
            if function is record:
                result = record(*args, blocks=flow.sound)
            else:
                result = function(*args, lambda fraction, text: None)
        except UserError as error:
            failed(error)
        else:
            done(result)

    monkeypatch.setattr(workspace, "run_job", at_once)
    yield flow
    window.hide()  # and keeps it alive until here


def press(qtbot, flow, key):
    qtbot.keyClick(flow, key)


def test_enter_records_and_goes_to_the_next(qtbot, flow, folder):
    first, second = flow.texts()[:2]
    assert first == "kneeling double biceps"
    assert flow.texts()[-9:] == ("1", "2", "3", "4", "5", "6", "7", "8", "and")
    assert {"back double biceps", "back double"} <= set(flow.texts())
    assert "back" not in flow.texts()
    flow.workspace.settings.put("say_turns", True)
    assert {"back", "kneel"} <= set(flow.texts())
    flow.workspace.settings.put("say_turns", False)
    press(qtbot, flow, Qt.Key.Key_Return)
    assert (folder / "voice" / f"{first}.wav").exists()
    assert "own recording" in flow.list.item(0).text()
    assert "the voice" in flow.list.item(1).text()
    assert flow.text == second
    said = SpeechEngine(recordings=folder / "voice").say(first)
    assert said.length == pytest.approx(0.6, abs=0.05)


def test_recording_again_and_taking_out_keep_what_was_there(qtbot, flow, folder):
    press(qtbot, flow, Qt.Key.Key_Return)
    flow.list.setCurrentRow(0)
    assert flow.main.text().startswith("Record again")
    first = (folder / "voice" / "kneeling double biceps.wav").read_bytes()
    flow.sound = spoken(0.9)
    press(qtbot, flow, Qt.Key.Key_Return)
    kept = [p for p in (folder / "versions").iterdir() if p.suffix == ".wav"]
    assert [p.read_bytes() for p in kept] == [first]
    flow.list.setCurrentRow(0)
    qtbot.mouseClick(flow.drop, Qt.MouseButton.LeftButton)
    assert not list((folder / "voice").iterdir())
    assert len([p for p in (folder / "versions").iterdir() if p.suffix == ".wav"]) == 2
    assert "the voice" in flow.list.item(0).text()


def test_a_take_that_failed_is_one_sentence_and_can_be_tried_again(qtbot, flow, folder):
    flow.sound = spoken(level=0.0)
    press(qtbot, flow, Qt.Key.Key_Return)
    assert "Nothing was heard" in flow.window().error.text
    assert flow.main.isEnabled()
    assert not (folder / "voice").exists()


def test_a_dropped_file_becomes_the_recording(flow, folder, tmp_path):
    tone = 0.2 * np.sin(2 * np.pi * 300 * np.arange(RATE) / RATE)
    soundfile.write(tmp_path / "coach.flac", tone, RATE)
    flow.take_path(tmp_path / "coach.flac")
    assert (folder / "voice" / "kneeling double biceps.flac").exists()
    (tmp_path / "notes.txt").write_text("no sound")
    flow.list.setCurrentRow(1)
    flow.take_path(tmp_path / "notes.txt")
    assert "notes.txt" in flow.window().error.text


def test_no_recording_is_read_in_the_windows_thread(qtbot, flow, folder, tmp_path, monkeypatch):
    tone = 0.2 * np.sin(2 * np.pi * 300 * np.arange(RATE) / RATE)
    soundfile.write(tmp_path / "coach.flac", tone, RATE)
    press(qtbot, flow, Qt.Key.Key_Return)
    flow.list.setCurrentRow(0)
    track = Track(np.zeros((RATE, 2), np.float32), RATE, "hash", "song")
    monkeypatch.setattr(flow.workspace, "track", track)
    monkeypatch.setattr(recordings, "_decoded", lambda _: pytest.fail("read in the window"))
    flow.waiting = []
    for spec in (lambda: flow.take_path(tmp_path / "coach.flac"), flow.play):
        spec()
        assert len(flow.waiting) == 1
        assert not flow.main.isEnabled()
        flow.workspace.stopAsked.emit()
        assert flow.main.isEnabled()
        flow.waiting.clear()
    assert [p.name for p in (folder / "voice").iterdir()] == ["kneeling double biceps.wav"]


def test_a_line_chosen_while_another_is_recorded_keeps_its_recording(qtbot, flow, folder):
    first, second = flow.texts()[:2]
    flow.list.setCurrentRow(1)
    press(qtbot, flow, Qt.Key.Key_Return)
    kept = (folder / "voice" / f"{second}.wav").read_bytes()
    flow.list.setCurrentRow(0)
    flow.waiting, waiting = [], flow.waiting
    press(qtbot, flow, Qt.Key.Key_Return)
    ((_, args, done),) = flow.waiting
    flow.waiting = waiting
    flow.list.setCurrentRow(1)  # while the first is being said
    done(record(*args, blocks=spoken(0.9)))
    assert (folder / "voice" / f"{second}.wav").read_bytes() == kept
    assert "own recording" in flow.list.item(0).text()
    assert (folder / "voice" / f"{first}.wav").exists()


def test_a_dropped_file_keeps_the_one_before_it(qtbot, flow, folder, tmp_path):
    press(qtbot, flow, Qt.Key.Key_Return)
    flow.list.setCurrentRow(0)
    before = (folder / "voice" / "kneeling double biceps.wav").read_bytes()
    tone = 0.2 * np.sin(2 * np.pi * 300 * np.arange(RATE) / RATE)
    soundfile.write(tmp_path / "coach.flac", tone, RATE)
    flow.take_path(tmp_path / "coach.flac")
    assert [p.name for p in (folder / "voice").iterdir()] == ["kneeling double biceps.flac"]
    kept = [p for p in (folder / "versions").iterdir() if p.suffix == ".wav"]
    assert [p.read_bytes() for p in kept] == [before]


def test_without_a_microphone_one_sentence_says_so(qtbot, workspace, folder, monkeypatch):
    import sounddevice

    def refuse(**_):
        raise sounddevice.PortAudioError("no default input device")

    monkeypatch.setattr(sounddevice, "InputStream", refuse)
    with pytest.raises(UserError, match="No microphone"):
        record(folder / "voice" / "5.wav")


def test_every_control_has_a_name(flow):
    for control in (flow.list, flow.main, flow.listen, flow.drop):
        assert control.accessibleName()
