"""Comparison rounds on the Rehearse page: real keys, the real player, no sound device."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from rehearse.handout.handout_options import KINDS as HANDOUTS
from rehearse.practice.cautions import load_cautions, stopped
from rehearse.routine.folder import open_folder
from rehearse.routine.rounds import RoundWish
from rehearse.routine.rules import load_rules
from rehearse.routine.start import start_rounds
from rehearse.session import round_timeline
from rehearse.ui.pages.rehearse.practice_forms import RoundForm, dump_wish, load_wish
from rehearse.ui.pages.rehearse.round_host import summary
from rehearse.ui.window import MUSIC, Window
from tests.practice.test_roundlog import make_calls

from .made import fast_folder, rehearsing, settle

CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
LOGBOOK = 3

QUICK = RoundWish("mandatories", 2.0, 2.0, rest=0.0)


@pytest.fixture
def page(workspace, tmp_path, qtbot, monkeypatch):
    monkeypatch.setattr(round_timeline, "_READY", 0.2)
    workspace.settings.put("silent", True)
    for caution in load_cautions():
        workspace.settings.put(f"cautions/{caution.key}", "always")
    window = rehearsing(workspace, fast_folder(tmp_path / "fast"), qtbot)
    yield window.page
    window.close()


def key(page, name, held=Qt.KeyboardModifier.NoModifier):
    QTest.keyClick(page.window().focusWidget() or page, name, held)


def view(page):
    return page.host.view


def kept(workspace):
    found = []
    workspace.logbook.ask(lambda book: book.rounds(), found.append)
    workspace.logbook.settle()
    QTest.qWait(10)
    return found[0]


def test_a_round_by_the_clicker_is_called_judged_and_logged(page, workspace, qtbot):
    key(page, Qt.Key.Key_5)
    assert page.drill_panel.rounds
    page.drill_panel.list.choose(1)
    page.drill_panel.round_form.set_wish(QUICK)
    assert "common practice" in page.footer.notice.text()
    key(page, Qt.Key.Key_PageDown)
    qtbot.waitUntil(lambda: view(page).state == "music", timeout=120_000)
    assert view(page).cue_state.next.name == "front double biceps"
    assert page.clicker.words().startswith("Clicker: Page Down clean")
    run = page.host.rounds.run
    first, second = run.timeline.calls[:2]
    qtbot.waitUntil(lambda: view(page).heard > first.hit + 0.5, timeout=120_000)
    key(page, Qt.Key.Key_PageDown)
    qtbot.waitUntil(lambda: view(page).heard > second.hit + 1.0, timeout=120_000)
    assert [call.verdict for call in kept(workspace)[0].calls] == ["clean"]
    key(page, Qt.Key.Key_PageUp)
    qtbot.waitUntil(lambda: view(page).heard > second.relax + 0.2, timeout=120_000)
    key(page, Qt.Key.Key_Minus)  # while it is called nothing is made longer or shorter
    assert page.drill_panel.round_form.wish == QUICK
    key(page, Qt.Key.Key_S)
    (done,) = kept(workspace)
    assert [call.verdict for call in done.calls[:2]] == ["clean", "missed"]
    assert done.calls[1].lost_at == pytest.approx(1.0, abs=0.5)
    assert not done.complete
    qtbot.waitUntil(lambda: "1 missed (front lat spread" in page.footer.notice.text(), timeout=3000)
    qtbot.waitUntil(
        lambda: page.drill_panel.line.words.startswith("1 round, last today"), timeout=3000
    )


def test_d_stops_a_round_marks_nothing_and_says_what_helps(page, workspace, qtbot):
    key(page, Qt.Key.Key_5)
    page.drill_panel.round_form.set_wish(replace(QUICK, kind="turns"))
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: view(page).state == "music", timeout=120_000)
    qtbot.waitUntil(lambda: view(page).cue_state.rim > 0.4, timeout=120_000)
    key(page, Qt.Key.Key_D)
    assert view(page).unwell
    assert not page.host.busy
    (done,) = kept(workspace)
    assert [call.verdict for call in done.calls] == [None]
    qtbot.wait(100)
    assert page.footer.notice.text() == stopped().text
    # The routine is rehearsed on its own player, with its own display, as before.
    key(page, Qt.Key.Key_5)
    assert page.stage._sheet is workspace.sheet
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: view(page).plan is not None, timeout=120_000)
    assert page.host.rounds.run is None
    key(page, Qt.Key.Key_S)


def test_what_is_set_between_rounds_is_told_and_warned_of(page, workspace):
    key(page, Qt.Key.Key_5)
    assert page.footer.transport.tempo.text() == "10 s"
    key(page, Qt.Key.Key_Plus)
    assert page.drill_panel.round_form.wish.hold == page.drill_panel.round_form.wish.longest == 11.0
    assert page.footer.transport.tempo.text() == "11 s"
    page.drill_panel.round_form.set_wish(RoundWish("turns", 5.0, 30.0))
    assert page.footer.transport.tempo.text() == "5–30 s"
    workspace.edit("division", routine=replace(workspace.routine, division="Bikini"))
    page.drill_panel.list.choose(1)
    assert "no mandatory poses" in page.footer.notice.text()
    # Long holds have their cautions, short ones do not.
    for caution in load_cautions():
        workspace.settings.put(f"cautions/{caution.key}", "")
    page.drill_panel.round_form.set_wish(RoundWish("turns", 10.0, 10.0))
    told = [caution.text for caution in page.footer.caution._due]
    assert any("Long holds tire" in text for text in told)
    assert any("Keep breathing" in text for text in told)
    page.drill_panel.round_form.set_wish(RoundWish("turns", 3.0, 3.0))
    assert not any("Keep breathing" in c.text for c in page.footer.caution._due)
    # Nor is a hold short that grows beyond it, or is the first call-out's.
    for grown in ({"first_longer": True}, {"callouts": 3, "grows": 1.0}):
        page.drill_panel.round_form.set_wish(RoundWish("turns", 4.0, 4.0, **grown))
        assert any("Keep breathing" in c.text for c in page.footer.caution._due)


def test_the_form_keeps_hold_and_at_most_in_order_and_stores_them(qapp):
    form = RoundForm()
    form._numbers["hold"].setValue(20)
    assert form.wish.longest == 20.0
    form._numbers["longest"].setValue(12)
    assert (form.wish.hold, form.wish.longest) == (12.0, 12.0)
    form._numbers["hold"].setValue(8)
    form._numbers["longest"].setValue(30)
    assert (form.wish.hold, form.wish.longest) == (8.0, 30.0)
    form.step_hold(-1)
    assert (form.wish.hold, form.wish.longest) == (7.0, 29.0)
    assert load_wish(dump_wish(form.wish, True)) == (form.wish, True)
    for damaged in ("", "[]", "{", '{"hold": "x"}', '{"hold": 900}', '{"other": 1}'):
        assert load_wish(damaged) == (RoundWish(), False)
    form.deleteLater()


def test_the_end_of_a_round_in_a_sentence():
    assert summary(()) == ""
    assert summary(make_calls()) == (
        "3 calls, 24 s under tension, 1 clean, 1 missed (back double biceps at 4 s)."
    )


def test_rounds_without_a_song_are_made_by_a_few_keys_and_get_their_song(
    workspace, tmp_path, qtbot, monkeypatch
):
    workspace.settings.put("silent", True)
    workspace.settings.put("routines", str(tmp_path / "mine"))
    window = Window(workspace)
    qtbot.addWidget(window)
    with qtbot.waitExposed(window):
        window.show()
    workspace.finish_start()
    QTest.keyClick(window, Qt.Key.Key_N, CTRL | SHIFT)
    QTest.keyClicks(window.focusWidget(), "Bikini")
    QTest.keyClick(window.focusWidget(), Qt.Key.Key_Return)
    page = window.page
    assert workspace.routine.division == "Bikini"
    assert page.drill_panel.rounds
    assert page._front.currentWidget() is page.stage
    assert (
        page.stage._sheet.cues[1].pose.figure
        == workspace.catalogue.find("bikini left side stance").figure
    )
    window.show_page(LOGBOOK)
    settle(workspace)
    assert "no song yet" in window.page.panel.rounds.reason.text()
    song = fast_folder(tmp_path / "fast") / "track.wav"
    window.show_page(MUSIC)
    window.page.files.use_song(song)
    qtbot.waitUntil(lambda: bool(workspace.beatmap and workspace.beatmap.duration), timeout=120_000)
    assert workspace.save()
    opened = open_folder(workspace.folder)
    assert (opened.routine.track, opened.routine.division) == ("track.wav", "Bikini")
    assert opened.beatmap.duration == pytest.approx(14.0)
    window.close()


def test_the_round_set_last_is_chosen_again(page, workspace, tmp_path):
    key(page, Qt.Key.Key_5)
    page.drill_panel.list.choose(3)
    assert page.drill_panel.round_form.wish.kind == "random"
    key(page, Qt.Key.Key_5)
    key(page, Qt.Key.Key_5)
    assert (page.drill_panel.line.scope.item, page.drill_panel.round_form.wish.kind) == (
        "random",
        "random",
    )
    first = workspace.folder
    rules = load_rules("open")
    other = start_rounds(None, tmp_path, rules, "Other", division="", figure="man")
    workspace.open(other)
    assert page.drill_panel.round_form.wish.kind == "turns"
    workspace.open(first)
    assert (page.drill_panel.line.scope.item, page.drill_panel.round_form.wish.kind) == (
        "random",
        "random",
    )


def test_a_round_for_the_phone_is_chosen_in_the_window(page, qtbot):
    page.drill_panel.round_form.set_wish(RoundWish("turns", 2.0, 2.0, rest=0.0))
    window = page.window()
    window.take_along()
    flow = window._flow
    flow.kinds.button([*HANDOUTS].index("cue-track")).click()
    what = flow.form.what
    what.setCurrentIndex(what.findText("round: quarter turns"))
    assert not flow.listen.isVisibleTo(flow)
    qtbot.waitUntil(lambda: "holds of 2 s, 1 call-out" in flow.preview.words.text(), timeout=5000)
    called = flow._options().called  # what the command makes of it: tests/test_cli.py
    assert (called.kind, called.hold, called.rest) == ("turns", 2.0, 0.0)
    what.setCurrentIndex(0)
    assert flow.listen.isVisibleTo(flow)
