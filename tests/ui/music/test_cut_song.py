"""From a song to its stage version in a few keys, by hand as well, and back."""

from __future__ import annotations

from dataclasses import replace

import pytest
import soundfile
from PySide6.QtCore import QPointF, Qt
from PySide6.QtTest import QTest

from rehearse.music.analysis.likeness import hear
from rehearse.music.cut import Cut
from rehearse.music.decode import load_track
from rehearse.music.position import Count, Length
from rehearse.routine.folder import open_folder, save_folder
from rehearse.routine.model import Placed, Routine
from rehearse.ui import actions
from rehearse.ui.window import Window
from rehearse.ui.workspace import Workspace
from tests.music.structured import make_track
from tests.ui.made import PromptWorkers
from tests.ui.music.conftest import NotingPlayer

Key, Held = Qt.Key, Qt.KeyboardModifier
LIMIT = 60  # of the rule set; the song has 72 s


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A song of known parts, a pose at every second eight."""
    track, beatmap = make_track()
    folder = tmp_path_factory.mktemp("cut") / "routine"
    folder.mkdir()
    soundfile.write(folder / "song.wav", track.samples, track.sample_rate, subtype="PCM_24")
    beatmap = replace(beatmap, track_hash=load_track(folder / "song.wav").content_hash)
    poses = tuple(
        Placed(f"{eight:08x}", "crucifix", Count(eight, 1), Length(4), Length(4))
        for eight in range(2, 17, 2)
    )
    routine = Routine("Made", "song.wav", rules="open-60", poses=poses, id="ab" * 8)
    save_folder(folder, routine, beatmap)
    return folder


@pytest.fixture
def window(qapp, qtbot, settings, folder, tmp_path):
    import shutil

    workspace = Workspace(settings, make_workers=PromptWorkers, make_player=NotingPlayer)
    window = Window(workspace)
    window.resize(1366, 768)
    window.show()
    qtbot.waitUntil(window.isVisible)
    assert workspace.open(shutil.copytree(folder, tmp_path / "routine"))
    qtbot.waitUntil(lambda: workspace.track is not None)
    window.workspace, window.qtbot = workspace, qtbot
    press(window, Key.Key_1)
    yield window
    window.close()
    workspace.close()


@pytest.fixture
def heard_once(monkeypatch):
    """The song is listened to in one of these tests only."""

    def known(track, report):
        if track.content_hash not in _heard:
            _heard[track.content_hash] = hear(track, report)
        return _heard[track.content_hash]

    monkeypatch.setattr("rehearse.routine.cutting.hear", known)


_heard = {}


def press(window, *keys, held=Held.NoModifier):
    for key in keys:
        QTest.keyClick(window.windowHandle(), key, held)


def begin(window):
    press(window, Key.Key_X, held=Held.ControlModifier)
    window.qtbot.waitUntil(lambda: window._flow is not None and window._flow._listened is not None)
    return window._flow


def used(window):
    press(window, Key.Key_Return)
    window.qtbot.waitUntil(lambda: window._flow is None)


def test_four_keys_from_the_song_to_its_stage_version(window):
    workspace, before = window.workspace, window.workspace.documents
    flow = begin(window)
    assert flow.versions.count() == 4
    assert f"{actions.key('next_join')} plays its joins" in flow.sentence.text()
    press(window, Key.Key_PageDown)
    # Two counts before the join and two after, at 120 counts a minute: 2 s of the cut.
    assert workspace.player.playing
    assert workspace.player.track.duration == pytest.approx(2.0, abs=0.01)
    press(window, Key.Key_Down)
    used(window)
    routine = workspace.routine
    assert LIMIT - 3 <= routine.stage.length <= LIMIT
    assert workspace.track.duration == pytest.approx(routine.stage.length, abs=0.001)
    assert workspace.player.track is workspace.track
    assert workspace.other_song == ""
    assert len(routine.poses) + len(routine.aside.poses) == len(before.routine.poses)
    assert workspace.save()
    assert open_folder(workspace.folder).routine == routine
    # Its sound is made again where it is gone.
    (workspace.folder / routine.track).unlink()
    workspace.decode()
    window.qtbot.waitUntil(lambda: (workspace.folder / routine.track).is_file())
    assert workspace.track.duration == pytest.approx(routine.stage.length, abs=0.001)
    assert workspace.other_song == ""
    # One step, back and forth, the sound with it.
    assert workspace.undo.count() == 1
    press(window, Key.Key_Z, held=Held.ControlModifier)
    window.qtbot.waitUntil(lambda: workspace.track is not None)
    assert workspace.documents == before
    assert workspace.track.duration > 70
    press(window, Key.Key_Z, held=Held.ControlModifier | Held.ShiftModifier)
    window.qtbot.waitUntil(lambda: workspace.track is not None)
    assert workspace.routine == routine
    assert workspace.other_song == ""


def test_a_cut_is_changed_later_and_given_up(window, heard_once):
    workspace = window.workspace
    whole = workspace.routine
    begin(window)
    used(window)
    flow = begin(window)
    assert flow.versions.item(0).text().startswith("as it is now")
    assert "join" in flow.length.text()
    press(window, Key.Key_W, held=Held.ControlModifier | Held.ShiftModifier)
    assert window._flow is None
    assert workspace.routine == whole
    assert workspace.track.duration > 70


def test_parts_by_hand(window, heard_once):
    flow = begin(window)
    view, drafts = flow.view, flow._drafts
    first = drafts.now
    # A part of the song at the cursor is added; the joins are found anew.
    press(window, Key.Key_Tab)
    view.setFocus()
    gap = next(
        p
        for p in drafts.beatmap.parts
        if not any(part.start < (p.start + p.end) / 2 < part.end for part in first.parts)
    )
    view.set_cursor((gap.start + gap.end) / 2)
    press(window, Key.Key_J, held=Held.ControlModifier)
    length = drafts.cut.length
    assert flow.length.text().startswith(f"▲ {length:.1f} s, {length - LIMIT:.1f} s over")
    assert flow.versions.currentRow() == flow.versions.count() - 1
    added = drafts.now
    assert added != first
    press(window, Key.Key_Delete)
    press(window, Key.Key_Z, held=Held.ControlModifier)
    assert drafts.now == added
    press(window, Key.Key_Z, held=Held.ControlModifier)
    assert drafts.now == first
    # The join a count later, and no further than two.
    press(window, Key.Key_Right, Key.Key_Right, Key.Key_Right, held=Held.ControlModifier)
    assert drafts.now.parts[1].shift <= 2
    assert window.workspace.undo.count() == 0
    press(window, Key.Key_Escape)
    assert window._flow is None
    assert window.workspace.routine.cut is None


def test_the_end_of_a_part_is_dragged_onto_an_eight(window, heard_once):
    flow = begin(window)
    view, part = flow.view, flow._drafts.now.parts[0]
    scale = view.scale
    y = scale.layers.center().y()
    start = QPointF(scale.x(part.end), y).toPoint()
    end = QPointF(scale.x(part.end - 4.1), y).toPoint()
    QTest.mousePress(view, Qt.MouseButton.LeftButton, Held.NoModifier, start)
    QTest.mouseMove(view, end)
    QTest.mouseRelease(view, Qt.MouseButton.LeftButton, Held.NoModifier, end)
    now = flow._drafts.now.parts
    nominal = now[0].end - 0.5 * now[1].shift
    assert nominal == pytest.approx(part.end - 0.5 * flow._rows[0].parts[1].shift - 4.0, abs=0.6)
    assert "eight" not in flow.length.text()


def test_stop_ends_what_is_heard(window, heard_once):
    flow = begin(window)
    press(window, Key.Key_Space)
    assert flow.playback.on
    press(window, Key.Key_D)
    assert not flow.playback.on
    assert not window.workspace.player.playing


def test_another_limit_finds_other_versions(window, heard_once):
    flow = begin(window)
    flow.limit.setValue(40)
    window.qtbot.waitUntil(lambda: "40 s" in flow.length.text() and flow._running is None)
    lengths = [Cut("", "", "", draft.parts).length for draft in flow._rows[:3]]
    assert all(37 <= length <= 40 for length in lengths)
    flow.limit.setValue(300)
    window.qtbot.waitUntil(lambda: "within 300 s" in flow.sentence.text())


def test_a_song_is_added_and_given_up_with_the_cut(window, heard_once, added_song):
    workspace, whole = window.workspace, window.workspace.routine
    flow = begin(window)
    flow.take_path(added_song)
    both = lambda: flow._listened is not None and flow._source.songs != ()  # noqa: E731
    window.qtbot.waitUntil(both, timeout=60_000)
    assert [song.song for song in flow.layer.songs] == ["song.wav", "other.wav"]
    ends = [flow._rows[number].parts[-1].end for number in range(flow.versions.count() - 1)]
    assert any(end > flow.layer.songs[1].start for end in ends)
    press(window, Key.Key_PageDown)
    assert flow.versions.currentRow() == 0
    assert workspace.player.playing
    used(window)
    assert [song.song for song in workspace.routine.cut.songs] == ["song.wav", "other.wav"]
    assert workspace.save()
    assert open_folder(workspace.folder).routine.cut == workspace.routine.cut
    flow = begin(window)
    press(window, Key.Key_W, held=Held.ControlModifier | Held.ShiftModifier)
    window.qtbot.waitUntil(lambda: window._flow is None)
    assert workspace.routine == whole
    assert workspace.other_song == ""


@pytest.fixture
def added_song(tmp_path, monkeypatch):
    """Another song of known parts, whose map is not found anew."""
    form = (("verse", 2, 0.6, (0, 5)), ("build", 1, 0.6, (7, 7)), ("top", 2, 1.0, (5, 7)))
    track, beatmap = make_track(seed=2, form=form)
    path = tmp_path / "other.wav"
    soundfile.write(path, track.samples, track.sample_rate, subtype="PCM_24")
    known = replace(beatmap, track_hash=load_track(path).content_hash)
    monkeypatch.setattr("rehearse.routine.added_song.analyse", lambda track, report: known)
    return path
