"""The Rehearse page with real keys and the real player, keeping time without a sound device."""

from dataclasses import replace
from types import SimpleNamespace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetrics
from PySide6.QtTest import QTest

from rehearse.practice.cautions import stopped
from rehearse.practice.drill import fixed
from rehearse.practice.passplan import PassPlan
from rehearse.ui.fonts import face
from rehearse.ui.pages.rehearse.drill_settings import (
    DrillSettings,
    WaySettings,
    dump_settings,
    load_settings,
)
from rehearse.ui.stage.layout import lay_out
from rehearse.ui.stage.showing import STOPPED, options_for
from rehearse.ui.stage.stage_options import ViewingDistance
from rehearse.ui.stage.still import fit_told

from .made import fast_folder, kept, rehearsing


@pytest.fixture
def folder(tmp_path):
    return fast_folder(tmp_path / "fast")


@pytest.fixture
def page(workspace, folder, qtbot):
    workspace.settings.put("silent", True)
    workspace.settings.put("cautions/warm up", "always")
    workspace.settings.put("cautions/ask", "always")
    window = rehearsing(workspace, folder, qtbot)
    page = window.page
    yield page
    window.close()


def key(page, name, held=Qt.KeyboardModifier.NoModifier):
    QTest.keyClick(page.window().focusWidget() or page, name, held)


def choose(page, name):
    for _ in range(len(page.drill_panel.list.lines.lines)):
        if page.drill_panel.line.scope.name == name:
            return
        key(page, Qt.Key.Key_Right)
    raise AssertionError(name)


def state(page):
    return page.host.view.state


def set_up(page, **numbers):
    page.drill_panel.form.set_drill_settings(replace(DrillSettings(), count_in=1, **numbers))


def test_space_begins_pauses_and_goes_on(page, qtbot):
    set_up(page)
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: state(page) == "music", timeout=120_000)
    key(page, Qt.Key.Key_Space)
    assert state(page) == "paused"
    qtbot.wait(400)  # what is on its way to the speaker is still heard
    held = page.host.view.heard
    qtbot.wait(200)
    page.stage.refresh()
    assert page.host.view.heard == pytest.approx(held, abs=0.01)
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: page.host.view.heard > held + 0.1, timeout=5000)
    key(page, Qt.Key.Key_S)
    assert state(page) == "over"
    assert not page.host.busy


def test_a_section_loops_and_every_pass_is_logged_at_once(page, workspace, qtbot):
    set_up(page, percent=100)
    choose(page, "Short")
    assert page.drill_panel.line.words == "not drilled yet"
    key(page, Qt.Key.Key_Space)

    def passes():
        return [p for p in kept(workspace) if p.complete]

    qtbot.waitUntil(lambda: len(passes()) >= 2, timeout=120_000)
    assert {p.section_name for p in passes()} == {"Short"}
    assert "pass" in page.drill_panel.line.words
    assert "today" in page.drill_panel.line.words


def test_a_loop_of_the_whole_is_called_so_in_the_log_and_is_no_run(page, workspace, qtbot):
    set_up(page, percent=100)
    assert page.drill_panel.line.words == "no run yet"
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: state(page) == "music", timeout=120_000)
    key(page, Qt.Key.Key_S)
    (done,) = kept(workspace)
    assert (done.kind, done.what) == ("drill", "whole routine")
    assert page.drill_panel.line.words == "no run yet"


def test_tempo_goes_in_steps_of_five_and_keeps_for_the_passes_that_follow(page, qtbot):
    set_up(page, percent=100)
    choose(page, "Short")
    for _ in range(3):
        key(page, Qt.Key.Key_Minus)
    assert page.drill_panel.form.drill_settings.percent == 85
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: state(page) == "music", timeout=120_000)
    key(page, Qt.Key.Key_Plus)
    qtbot.waitUntil(lambda: page.host.view.plan.percent == 90, timeout=2000)
    qtbot.waitUntil(lambda: page.host.view.plan.number == 2, timeout=120_000)
    assert page.host.view.plan.percent == 90
    for _ in range(30):
        key(page, Qt.Key.Key_Minus)
    assert page.host.view.plan.percent == 40


def test_a_whole_drill_from_60_to_100_with_a_clicker_only(page, workspace, qtbot):
    page.drill_panel.form.set_drill_settings(
        replace(DrillSettings(), way="steps", first=60, up=20, after=1, clean=1, count_in=1, down=5)
    )
    choose(page, "Short")
    seen = []
    page.stage.looked.connect(lambda v: v.plan and seen.append((v.plan.percent, v.state)))
    key(page, Qt.Key.Key_PageDown)  # begin
    judged = 0
    missed_once = False
    while page.host.busy or judged == 0:
        qtbot.waitUntil(lambda: state(page) in ("music", "over"), timeout=120_000)
        if state(page) == "over":
            break
        number = page.host.view.plan.number
        percent = page.host.view.plan.percent
        if percent == 80 and not missed_once:
            key(page, Qt.Key.Key_PageUp)  # missed: 5 % down again
            missed_once = True
        else:
            key(page, Qt.Key.Key_PageDown)  # clean
        judged += 1
        qtbot.waitUntil(
            lambda n=number: not page.host.busy or page.host.view.plan.number > n,
            timeout=120_000,
        )
    done = [(round(p.tempo * 100), p.verdict) for p in kept(workspace)]
    assert done == [(60, "clean"), (80, "missed"), (75, "clean"), (95, "clean"), (100, "clean")]


def test_the_clickers_back_button_stops_a_loop_and_chooses_before_it(page, qtbot):
    set_up(page)
    first = page.drill_panel.list.currentIndex().row()
    key(page, Qt.Key.Key_PageUp)
    assert page.drill_panel.list.currentIndex().row() == (first - 1) % len(
        page.drill_panel.list.lines.lines
    )
    choose(page, "Later")
    key(page, Qt.Key.Key_PageDown)
    qtbot.waitUntil(lambda: state(page) == "count-in", timeout=120_000)
    key(page, Qt.Key.Key_PageDown)  # on with the next section at once
    assert page.host.view.plan.scope.name == "Last"
    key(page, Qt.Key.Key_PageUp)
    assert not page.host.busy


def test_full_screen_with_one_key_and_back(page, qtbot):
    key(page, Qt.Key.Key_F)
    assert page.window().isFullScreen()
    assert not page.drill_panel.isVisible()
    assert not page.footer.isVisible()
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: page.host.busy, timeout=120_000)
    key(page, Qt.Key.Key_Escape)
    assert not page.window().isFullScreen()
    assert page.drill_panel.isVisible()
    assert page.host.busy


def test_a_stop_for_dizziness_marks_nothing_and_prompts_nothing(page, workspace, qtbot):
    page.drill_panel.form.set_drill_settings(replace(DrillSettings(), way="run", count_in=0))
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: state(page) == "music", timeout=120_000)
    key(page, Qt.Key.Key_D)
    assert not page.host.busy
    qtbot.wait(100)
    assert not page.footer.question.asking
    assert kept(workspace)[-1].verdict is None
    told = stopped().text
    assert page.footer.notice.text() == told
    assert page.footer.notice.isVisible()
    options = options_for(page.host.view, page.stage.base)
    # Nothing else is shown, also where the foot is hidden.
    assert (options.state, options.words, options.question) == ("stopped", STOPPED, "")


def test_what_is_said_after_that_stays_although_a_caution_is_due(page, workspace, qtbot):
    workspace.settings.put("cautions/warm up", "")
    page.footer.refresh()
    assert page.footer.caution.isVisible()
    set_up(page)
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: state(page) == "music", timeout=120_000)
    key(page, Qt.Key.Key_D)
    qtbot.wait(100)
    assert page.footer.notice.text() == stopped().text
    assert page.footer.notice.isVisible()
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: state(page) == "music", timeout=120_000)
    key(page, Qt.Key.Key_S)
    qtbot.waitUntil(page.footer.caution.isVisible)


@pytest.mark.parametrize("size", [(480, 300), (600, 380), (980, 620), (1366, 768), (2560, 1440)])
@pytest.mark.parametrize("metres", [1.0, 4.0, 8.0])
def test_what_is_said_after_that_is_never_cut(qapp, size, metres):
    layout = lay_out(*size, ViewingDistance(metres, 0.23))
    fitted = fit_told(layout, STOPPED)
    assert " ".join(fitted.lines) == STOPPED
    assert fitted.cap >= layout.cap


def test_two_marks_drill_what_lies_between(page, qtbot):
    set_up(page, percent=100)
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: state(page) == "music", timeout=120_000)
    key(page, Qt.Key.Key_M)
    assert "First mark set" in page.footer.notice.text()
    qtbot.wait(1200)
    key(page, Qt.Key.Key_M)
    assert page.host.view.plan.scope.kind == "marks"
    assert page.host.view.plan.scope.length >= 1.0


def test_a_first_mark_means_nothing_in_another_routine(page, workspace, tmp_path, qtbot):
    set_up(page, percent=100)
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: state(page) == "music", timeout=120_000)
    key(page, Qt.Key.Key_M)
    assert page.controller.has_mark
    assert workspace.open(fast_folder(tmp_path / "other"))
    assert not page.controller.has_mark
    assert "First mark" not in page.footer.notice.text()


def test_any_key_can_be_given_to_an_action_by_pressing_it(page, qtbot):
    key(page, Qt.Key.Key_U, Qt.KeyboardModifier.ShiftModifier)
    setup = page._setup
    from rehearse.ui.pages.rehearse.setup import KeysPart

    keys = setup.findChild(KeysPart)
    catcher = keys.catchers["missed"]
    qtbot.mouseClick(catcher, Qt.MouseButton.LeftButton)
    QTest.keyClick(catcher, Qt.Key.Key_MediaTogglePlayPause)
    assert page.keys.of("missed") == ("Toggle Media Play/Pause",)
    qtbot.mouseClick(catcher, Qt.MouseButton.LeftButton)
    QTest.keyClick(catcher, Qt.Key.Key_3)  # the window's own
    assert page.keys.of("missed") == ("Toggle Media Play/Pause",)
    qtbot.mouseClick(catcher, Qt.MouseButton.LeftButton)
    QTest.keyClick(catcher, Qt.Key.Key_Space)  # the only key of another action
    assert page.keys.of("begin") == ("Space",)
    key(page, Qt.Key.Key_Escape)
    page.keys.reset()
    assert page.keys.of("missed") == ("X",)


def test_a_lost_speaker_is_one_sentence_and_play_goes_on_without_it(page, workspace, qtbot):
    set_up(page)
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: state(page) == "music", timeout=120_000)
    workspace.player._lose("The speaker was unplugged.")  # as the playback process reports it
    qtbot.waitUntil(lambda: state(page) == "paused", timeout=5000)
    assert page.host.view.sentence == "The speaker was unplugged."
    assert page.window().error.text == "The speaker was unplugged."
    key(page, Qt.Key.Key_N, Qt.KeyboardModifier.ShiftModifier)
    qtbot.waitUntil(lambda: state(page) in ("count-in", "music"), timeout=120_000)
    assert page.window().error.text == ""


@pytest.fixture
def mute(monkeypatch):
    """No sound device can be opened in here."""
    monkeypatch.setenv("PULSE_SERVER", "unix:/nowhere")
    monkeypatch.setenv("PIPEWIRE_REMOTE", "/nowhere")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    monkeypatch.setenv("ALSA_CONFIG_PATH", "/dev/null")


def test_without_a_speaker_each_try_is_answered_and_silence_is_always_offered(
    mute, page, workspace, qtbot
):
    workspace.settings.put("silent", False)
    set_up(page)
    for _ in range(3):
        key(page, Qt.Key.Key_Space)
        qtbot.waitUntil(lambda: state(page) == "paused", timeout=120_000)
        assert page.host.view.sentence
        assert page.window().error.text == page.host.view.sentence
    key(page, Qt.Key.Key_N, Qt.KeyboardModifier.ShiftModifier)
    qtbot.waitUntil(lambda: state(page) == "music", timeout=120_000)
    assert page.window().error.text == ""
    key(page, Qt.Key.Key_S)
    key(page, Qt.Key.Key_Space)  # another begin tries the speaker again
    qtbot.waitUntil(lambda: page.host.view.sentence != "", timeout=120_000)
    key(page, Qt.Key.Key_N, Qt.KeyboardModifier.ShiftModifier)
    qtbot.waitUntil(lambda: state(page) == "music", timeout=120_000)


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"way": "dance"}', '{"steps": {"first": 900}}', '{"run": [1]}']
)
def test_damaged_settings_give_the_first_choice(text):
    assert load_settings(text) == WaySettings()


def test_a_choice_survives_the_settings():
    choices = WaySettings().changed(replace(DrillSettings(), way="steps", first=45, rest=12))
    assert load_settings(dump_settings(choices)) == choices
    assert choices.loop == DrillSettings()


def test_what_is_set_for_one_way_is_not_for_another(page):
    form = page.drill_panel.form
    form.set_drill_settings(replace(DrillSettings(), percent=80, rest=7))
    form._way_chosen(2)
    assert (form.drill_settings.way, form.drill_settings.percent, form.drill_settings.rest) == (
        "run",
        100,
        0,
    )
    form.set_drill_settings(replace(form.drill_settings, percent=105, cueing="memory"))
    form._way_chosen(0)
    assert (form.drill_settings.percent, form.drill_settings.cueing) == (80, "all")


def test_what_is_set_for_one_routine_is_not_for_another(page, workspace, tmp_path, qtbot):
    page.drill_panel.form.set_drill_settings(
        replace(DrillSettings(), way="run", percent=105, cueing="memory")
    )
    choose(page, "Later")
    first = workspace.folder
    other = fast_folder(tmp_path / "other", bpm=240.0)
    assert workspace.open(other)
    assert page.drill_panel.form.way_settings == WaySettings()
    assert page.drill_panel.line.scope.kind == "whole"
    assert workspace.open(first)
    assert (
        page.drill_panel.form.drill_settings.percent,
        page.drill_panel.form.drill_settings.cueing,
    ) == (
        105,
        "memory",
    )


def test_while_a_plan_runs_its_own_numbers_stand_there_and_change_no_other(page, workspace, qtbot):
    set_up(page, percent=80)
    line = PassPlan("drill", page.drill_panel.line.scope, 60, "names", line="turn 1", plan="today")
    work = SimpleNamespace(steps=fixed(60), upcoming=lambda results: line)
    page.begin(work)
    qtbot.waitUntil(lambda: state(page) == "music", timeout=120_000)
    assert page.drill_panel.by_plan.text() == "Set by the plan: 60 %, names on the hit, full out."
    assert not page.drill_panel.form.isVisible()
    assert page.footer.transport.tempo.text() == "60 %"
    key(page, Qt.Key.Key_Plus)
    qtbot.waitUntil(lambda: page.host.view.plan.percent == 65, timeout=2000)
    key(page, Qt.Key.Key_S)
    qtbot.waitUntil(page.drill_panel.form.isVisible)
    assert page.drill_panel.form.drill_settings.percent == 80


@pytest.mark.parametrize("way_out", ["1", "Ctrl+P", "U"])
def test_nothing_goes_on_while_the_stage_is_not_seen(page, workspace, qtbot, way_out):
    set_up(page, percent=100)
    choose(page, "Short")
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: state(page) == "music", timeout=120_000)
    if way_out == "1":
        key(page, Qt.Key.Key_1)
    elif way_out == "U":
        key(page, Qt.Key.Key_U, Qt.KeyboardModifier.ShiftModifier)
    else:
        page.window().take_along()
    assert page.host.paused
    qtbot.waitUntil(lambda: not workspace.is_playing, timeout=2000)
    page.host.look()  # a pass may have ended in what was on its way to the speaker
    before = kept(workspace)
    assert len(before) <= 1
    qtbot.wait(3000)  # two passes would have been danced by nobody
    page.host.look()
    assert kept(workspace) == before
    if way_out == "U":
        key(page, Qt.Key.Key_U, Qt.KeyboardModifier.ShiftModifier)
    else:
        page.window().show_page(2)
    assert page.footer.notice.text().startswith("Paused when you left the stage")
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: len(kept(workspace)) > len(before), timeout=120_000)
    key(page, Qt.Key.Key_S)


def test_another_tempo_does_not_read_the_logbook(page, workspace, qtbot):
    set_up(page, percent=100)
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: state(page) == "music", timeout=120_000)
    asked = []
    page.host.logged.connect(lambda: asked.append(1))
    for _ in range(4):
        key(page, Qt.Key.Key_Minus)
        page.stage.refresh()
    assert page.host.view.plan.percent == 80
    assert asked == []


def test_names_of_the_list_are_read_whole_and_the_chosen_line_stays_in_sight(page, qtbot):
    page.drill_panel._kinds[1].setChecked(True)
    choices = page.drill_panel.list
    metrics = QFontMetrics(face(choices.itemDelegate().size, strong=True))
    names = [choices.lines.index(k).data() for k in range(choices.lines.rowCount())]
    assert max(map(metrics.horizontalAdvance, names)) <= choices.viewport().width() - 24
    choices.choose(len(names) - 1)
    page.drill_panel.form.set_drill_settings(
        replace(page.drill_panel.form.drill_settings, way="steps")
    )  # a higher form

    def in_sight():
        line = choices.visualRect(choices.currentIndex())
        return choices.viewport().rect().contains(line)

    qtbot.waitUntil(in_sight)


@pytest.mark.parametrize("name", ["Ctrl+Z", "Ctrl+R", "Ctrl+Shift+O", "3", "Esc"])
def test_keys_of_the_window_stay_its_own(page, name):
    before = page.keys.of("begin")
    assert "belongs to the window" in page.keys.assign("begin", name)
    assert page.keys.of("begin") == before


def test_the_whole_screen_comes_back_when_work_is_begun_from_another_page(page, workspace, qtbot):
    begun = []
    page.controller.begun.connect(begun.append)
    set_up(page, percent=100)
    key(page, Qt.Key.Key_F)
    key(page, Qt.Key.Key_Space)
    window = page.window()
    window.show_page(3)
    assert not window.isFullScreen()
    window._rehearse(begun[0])
    assert page.is_full_screen
    assert window.isFullScreen()
    key(page, Qt.Key.Key_Escape)
    window.show_page(3)
    window._rehearse(begun[0])
    assert not page.is_full_screen  # it was given back on purpose
