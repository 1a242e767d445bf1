"""Making handouts in the window, with real keys and clicks and the real worker processes."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import av
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractSpinBox,
    QApplication,
    QCheckBox,
    QComboBox,
    QLineEdit,
    QMenu,
    QPushButton,
)

from rehearse.handout.handout_options import KINDS, HandoutOptions
from rehearse.music.position import Length
from rehearse.ui.handout.handout_flow import HandoutFlow
from rehearse.ui.window import Window

DEMO = Path(__file__).resolve().parents[3] / "demo" / "copper-lights"
#: Two worker processes start in two seconds on two free cores.
PATIENCE = 120_000


@pytest.fixture
def place(settings, tmp_path):
    folder = tmp_path / "out"
    folder.mkdir()
    settings.put("handout_place", str(folder))
    return folder


@pytest.fixture
def window(qtbot, workspace, place, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    folder = shutil.copytree(DEMO, tmp_path / "copper-lights")
    window = Window(workspace)
    qtbot.addWidget(window)
    window.resize(1280, 720)
    window.show()
    qtbot.waitExposed(window)
    assert workspace.open(folder)
    yield window
    if isinstance(window.page, HandoutFlow):
        window.page.leave()


@pytest.fixture
def flow(qtbot, window):
    window.activateWindow()
    window.take_along()
    assert isinstance(window.page, HandoutFlow)
    return window.page


def choose(qtbot, flow, kind):
    button = flow.kinds.button(list(KINDS).index(kind))
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert flow.kind == kind


def made(qtbot, flow):
    qtbot.waitUntil(lambda: flow.made is not None, timeout=PATIENCE)
    return flow.made


def test_the_sheet_is_shown_and_made_with_the_enter_key(qtbot, window, flow, place):
    qtbot.waitUntil(lambda: flow.preview.currentWidget() is flow.preview.picture, timeout=PATIENCE)
    assert not flow.preview.picture.pixmap().isNull()
    qtbot.keyClick(QApplication.focusWidget() or flow, Qt.Key.Key_Return)
    assert not flow.main.isEnabled()
    (path,) = made(qtbot, flow).paths
    assert path.parent == place
    assert path.read_bytes().startswith(b"%PDF")
    assert flow.sentence.text() == "The routine sheet is in Copper Lights routine sheet.pdf."
    assert flow.show_made.isVisible()
    qtbot.keyClick(flow, Qt.Key.Key_Escape)
    assert window.page is not flow


def test_the_stage_music_shows_its_checklist_and_writes_both_files(qtbot, flow, place, settings):
    choose(qtbot, flow, "stage-music")
    qtbot.waitUntil(lambda: "within the limit of 90 s" in flow.preview.words.text(), timeout=5000)
    assert "not met" not in flow.preview.words.text()
    flow.form.division.clear()
    qtbot.waitUntil(lambda: "▲ not met:  Name" in flow.preview.words.text(), timeout=5000)
    qtbot.keyClicks(flow.form.number, "12")
    qtbot.keyClicks(flow.form.name, "A. Name")
    flow.form.file.setCurrentIndex(flow.form.file.findData("wav"))
    qtbot.mouseClick(flow.main, Qt.MouseButton.LeftButton)
    made(qtbot, flow)
    assert sorted(p.name for p in place.iterdir()) == [
        "12 A. Name 1m15s checklist.txt",
        "12 A. Name 1m15s.wav",
    ]
    assert "75.000 s" in flow.sentence.text()
    assert settings.get("handout_name", "") == "A. Name"


def test_leaving_stops_the_work_and_leaves_nothing_behind(qtbot, window, flow, workspace, place):
    choose(qtbot, flow, "cue-track")
    flow.form.passes.setCurrentIndex(3)
    qtbot.mouseClick(flow.main, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: any(j.fraction for j in workspace.jobs), timeout=PATIENCE)
    qtbot.keyClick(flow, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: not workspace.jobs, timeout=PATIENCE)
    assert window.page is not flow
    assert not list(place.iterdir())


def test_stopping_at_the_foot_of_the_window_lets_one_try_again(qtbot, flow, workspace, place):
    choose(qtbot, flow, "cue-track")
    qtbot.mouseClick(flow.main, Qt.MouseButton.LeftButton)
    workspace.stop_job(next(j for j in workspace.jobs if j.words == "Making the cue track"))
    assert flow.main.isEnabled()
    assert not list(place.iterdir())


def test_a_folder_that_is_not_there_is_one_sentence(qtbot, window, flow, place):
    flow.place.setText(str(place / "nowhere"))
    qtbot.mouseClick(flow.main, Qt.MouseButton.LeftButton)
    assert "there is no such folder" in window.error.text
    assert flow.main.isEnabled()


def test_a_fault_in_the_work_is_one_sentence_and_can_be_mended(qtbot, window, flow):
    choose(qtbot, flow, "stage-music")
    flow.form.pattern.addItem("weight", "weight")
    flow.form.pattern.setCurrentIndex(flow.form.pattern.count() - 1)
    qtbot.mouseClick(flow.main, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "cannot be made of" in window.error.text, timeout=PATIENCE)
    assert flow.main.isEnabled()


def test_a_files_name_is_chosen_in_words(qtbot, flow, workspace):
    choose(qtbot, flow, "stage-music")
    shown = [flow.form.pattern.itemText(k) for k in range(flow.form.pattern.count())]
    assert shown[0] == "Number, name, division, length"
    assert not any(sign in words for words in shown for sign in "{}")
    workspace.settings.put("handout_pattern", "{title}-{class}")  # written by hand, earlier
    form = type(flow.form)(workspace)
    assert form.pattern.currentText() == "Title-division"
    assert form.options()["pattern"] == "{title}-{class}"


def test_tempos_rise_evenly_to_full(qtbot, flow):
    choose(qtbot, flow, "cue-track")
    form = flow.form
    form.tempo.setValue(60)
    assert form.tempos() == (0.6,)
    form.passes.setCurrentIndex(2)
    assert form.tempos() == (0.6, 0.7, 0.8, 0.9, 1.0)
    form.what.setCurrentIndex(form.what.findText("every section", Qt.MatchFlag.MatchStartsWith))
    options = HandoutOptions(**form.options())
    assert options.section == ("Opening", "Front and sides", "Back", "Quiet", "Finale")
    form.what.setCurrentIndex(3)
    assert form.options()["section"] == ("Back",)
    assert form.options()["counting"] == "eights"
    form.counting.setCurrentIndex(1)
    assert form.options()["counting"] == "in"


def test_the_cue_video_is_made_by_a_worker_that_has_no_screen(qtbot, flow, place):
    choose(qtbot, flow, "cue-video")
    assert flow.listen.isVisible()
    what = flow.form.what
    what.setCurrentIndex(what.findText("the way into 3", Qt.MatchFlag.MatchStartsWith))
    flow.form.file.setCurrentIndex(flow.form.file.findData("upright"))
    flow.form.tempo.setValue(105)
    qtbot.mouseClick(flow.main, Qt.MouseButton.LeftButton)
    (path,) = made(qtbot, flow).paths
    assert path.name == "Copper Lights video way into pose 3, 105 % upright.mp4"
    assert path.parent == place
    assert "The cue video is in" in flow.sentence.text()
    with av.open(str(path)) as opened:
        shown = opened.streams.video[0]
        assert (shown.width, shown.height) == (1080, 1920)


def test_what_the_cue_track_will_be_is_told_before_it_is_made(qtbot, flow):
    choose(qtbot, flow, "cue-track")
    # The stage part of 75 s, four counts of half a second and the half second it rings out in.
    qtbot.waitUntil(lambda: flow.preview.words.text().startswith("About 1:"), timeout=5000)
    assert "long, at 100 %. The name of each pose" in flow.preview.words.text()
    flow.form.passes.setCurrentIndex(1)
    flow.form.cueing.setCurrentIndex(flow.form.cueing.findData("memory"))
    qtbot.waitUntil(lambda: "Nothing is said" in flow.preview.words.text(), timeout=5000)
    assert flow.preview.words.text().startswith("About 4:")


def test_the_keys_of_the_settings_begin_the_loudness(qtbot, window, workspace, settings):
    settings.put("say_counts", "soft")
    settings.put("voice", "German")
    window.take_along()
    flow = window.page
    choose(qtbot, flow, "cue-track")
    options = flow.form.options()
    assert (options["names"], options["counts"], options["clicks"]) == ("loud", "soft", "soft")
    assert options["voice"] == "German"


@pytest.mark.parametrize("kind", list(KINDS))
def test_every_control_has_a_name_and_is_reached_by_tab(qtbot, flow, kind):
    choose(qtbot, flow, kind)
    if kind == "sheet":
        qtbot.waitUntil(
            lambda: flow.preview.currentWidget() is flow.preview.picture, timeout=PATIENCE
        )
    flow.window().activateWindow()
    flow.kinds.checkedButton().setFocus()
    controls = [
        child
        for of in (QPushButton, QComboBox, QCheckBox, QLineEdit, QAbstractSpinBox)
        for child in flow.findChildren(of)
        if child.isVisible()
        and child.isEnabled()
        and not isinstance(child.parent(), QAbstractSpinBox)
    ]
    assert len(controls) > 3
    assert all(control.accessibleName() for control in controls)
    seen = set()
    for _ in range(80):
        focus = QApplication.focusWidget()
        if focus is not None:
            seen.add(focus)
        qtbot.keyClick(focus or flow, Qt.Key.Key_Tab)
    # Of buttons that exclude each other the arrow keys reach the others.
    missed = [c for c in controls if c not in seen and c not in flow.kinds.buttons()]
    assert [c.accessibleName() for c in missed] == []


def test_keys_in_the_menu(qtbot, window):
    menus = [a for m in window.findChildren(QMenu) for a in m.actions()]
    assert any(a.shortcut().toString() == "Ctrl+P" and "Handouts" in a.text() for a in menus)


def crowd(workspace):
    """Three poses a quarter of a second apart: the middle one's name has no room."""
    routine, beatmap = workspace.routine, workspace.beatmap
    hit, nothing = beatmap.time_of(routine.poses[3].hit), Length(0)
    poses = tuple(
        replace(pose, hit=beatmap.position_at(hit + 0.25 * k), hold=nothing, transition=nothing)
        for k, pose in enumerate(routine.poses[2:5])
    )
    return replace(routine, poses=poses, sections=())


def test_what_cannot_be_spoken_is_named_before_it_is_made(qtbot, workspace, window):
    workspace.edit("crowd", routine=crowd(workspace))
    name = workspace.routine.poses[1].pose
    window.take_along()
    flow = window.page
    choose(qtbot, flow, "cue-track")
    qtbot.waitUntil(lambda: "not said" in flow.preview.words.text(), timeout=PATIENCE)
    assert f"1 name is not said, for want of room: {name}" in flow.preview.words.text()
    assert "long, at 100 %" in flow.preview.words.text()


def test_the_cue_track_is_heard_before_it_is_made(qtbot, workspace, flow, monkeypatch):
    played = []

    class Heard:
        def play(self, segment, *, repeat):
            played.append(segment)

        def stop(self):
            played.append("stop")

    qtbot.waitUntil(lambda: workspace.track is not None, timeout=PATIENCE)
    monkeypatch.setattr(type(workspace), "player", Heard(), raising=False)
    choose(qtbot, flow, "sheet")
    assert not flow.listen.isVisible()
    choose(qtbot, flow, "cue-track")
    qtbot.mouseClick(flow.listen, Qt.MouseButton.LeftButton)
    assert flow.listen.on
    qtbot.waitUntil(lambda: bool(played), timeout=PATIENCE)
    (segment,) = played
    assert (segment.end - segment.start) / segment.tempo == pytest.approx(20.0)
    assert any(clip.kind == "speech" for clip in segment.clips)
    hits = [workspace.beatmap.time_of(pose.hit) for pose in workspace.routine.poses]
    assert any(segment.start <= hit < segment.end for hit in hits)
    qtbot.mouseClick(flow.listen, Qt.MouseButton.LeftButton)
    assert played[1:] == ["stop"]
    assert not flow.listen.on
    qtbot.mouseClick(flow.listen, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: len(played) == 3, timeout=PATIENCE)
    workspace.stopAsked.emit()  # the emergency stop
    assert played[3:] == ["stop"]
    qtbot.mouseClick(flow.listen, Qt.MouseButton.LeftButton)
    flow.leave()
    assert not flow.listen.on


def test_the_last_choices_of_each_kind_are_offered_again(qtbot, window, flow):
    flow.form.style_.setCurrentIndex(flow.form.style_.findData("wall"))
    choose(qtbot, flow, "cue-track")
    flow.form.tempo.setValue(70)
    flow.form.turns.setChecked(True)
    flow.form.loud["clicks"].setCurrentIndex(flow.form.loud["clicks"].findData("off"))
    flow.form.what.setCurrentIndex(flow.form.what.findData("Back"))
    choose(qtbot, flow, "zip")
    flow.form.log.setChecked(True)
    flow.leave()
    window.take_along()
    again = window.page
    assert again.kind == "zip"
    assert again.form.options() == {"music": True, "log": True}
    choose(qtbot, again, "cue-track")
    options = again.form.options()
    assert (options["tempos"], options["turns"], options["clicks"]) == ((0.7,), True, "off")
    assert options["section"] == ("Back",)
    choose(qtbot, again, "sheet")
    assert again.form.options()["style"] == "wall"


@pytest.mark.parametrize("kept", ["nothing", "[]", '{"Style": 7, "First tempo": "fast"}'])
def test_choices_that_cannot_be_read_cost_nothing(qtbot, window, settings, kept):
    for kind in KINDS:
        settings.put(f"handout_choices_{kind}", kept)
    settings.put("handout_kind", "poster")
    window.take_along()
    assert window.page.kind == "sheet"
    assert window.page.form.options()["style"] == "pages"
