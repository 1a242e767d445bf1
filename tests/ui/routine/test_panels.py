"""Table, checks, suggestions, versions, and hearing it."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from PySide6.QtCore import QCoreApplication, Qt

from rehearse.music.position import Count, Length
from rehearse.playback.segment import OutputLost, PassEnded
from rehearse.practice.takelog import PoseRead, TakeDone
from rehearse.routine import edits
from rehearse.routine.folder import open_folder
from rehearse.routine.model import Facing
from rehearse.ui.pages.routine.panel_stack import CHECKS, SUGGESTIONS
from rehearse.ui.pages.routine.pose_rows import FACING, HIT, HOLD, NOTE, POSE, SPOKEN

from .conftest import hits

K = Qt.Key


def fill(page, qtbot, press, row, column, text):
    """Write a field of the table with the keyboard alone."""
    page.table.setFocus()
    page.table.setCurrentIndex(page.rows.index(row, column))
    press(K.Key_F2)
    editor = page.focusWidget()
    editor.selectAll()
    qtbot.keyClicks(editor, text)
    qtbot.keyClick(editor, K.Key_Return)
    # The table takes the text over once the editor has seen the key itself.
    QCoreApplication.processEvents()


@pytest.mark.parametrize(
    ("column", "text", "field", "value"),
    [
        (HIT, "3:5&", "hit", Count(3, 5, 2)),
        (POSE, "rear double biceps", "pose", "back double biceps"),
        (HOLD, "3 s", "hold", Length(3.0, in_counts=False)),
        (FACING, "ba", "facing", Facing.BACK),
        (SPOKEN, "front", "say", "front"),
        (NOTE, "breathe out", "note", "breathe out"),
    ],
)
def test_every_field_is_written_in_the_table(
    page, workspace, qtbot, press, column, text, field, value
):
    fill(page, qtbot, press, 0, column, text)
    placed = workspace.routine.placed("aaaaaaaa")
    assert getattr(placed, field) == value


def test_the_table_says_what_it_cannot_read(page, workspace, qtbot, press):
    before = workspace.routine
    fill(page, qtbot, press, 0, HIT, "soon")
    assert "'soon' is no position; write a count such as 3:5&" in workspace.errors[-1]
    fill(page, qtbot, press, 0, POSE, "front triple")
    assert workspace.errors[-1].startswith("There is no pose called front triple")
    assert workspace.routine == before


def test_table_and_lane_share_the_selection(page, workspace, press):
    page.table.setFocus()
    page.table.setCurrentIndex(page.rows.index(1, 0))
    assert workspace.selected == "bbbbbbbb"
    press(K.Key_Down)
    assert workspace.selected == "cccccccc"
    page.editor.select("aaaaaaaa")
    assert page.table.currentIndex().row() == 0


def test_checks_say_where_why_and_what_and_return_does_it(page, workspace, press):
    page.editor.select("aaaaaaaa")
    for _ in range(2):
        press(K.Key_H, Qt.KeyboardModifier.ShiftModifier)
    page.findings.look()
    note = next(n for n in page.panels.checks.notes if n.data.kind == "hold")
    assert note.head == "2:1 front double biceps"
    assert "less than 2 s does not read – hold it 2 counts longer" in note.text
    assert page.lane.scene.marked["aaaaaaaa"] == "warning"
    press(K.Key_C, Qt.KeyboardModifier.ShiftModifier)
    assert page.panels.panel == CHECKS
    page.panels.checks.setCurrentIndex(
        page.panels.checks.model().index(page.panels.checks.notes.index(note), 0)
    )
    press(K.Key_Return)
    assert workspace.routine.placed("aaaaaaaa").hold == Length(4)
    assert "aaaaaaaa" not in page.lane.scene.marked


def test_the_usual_caution_comes_with_kneeling_poses(page, workspace, press):
    page.findings.look()
    assert all(note.head != "Caution" for note in page.panels.checks.notes)
    page.editor.select("aaaaaaaa")
    press(K.Key_L)
    press(K.Key_L)
    page.findings.look()
    cautions = [note.text for note in page.panels.checks.notes if note.head == "Caution"]
    assert any("mat under kneeling poses" in text for text in cautions)


def test_the_last_step_is_shown_with_its_undo(page, workspace, press):
    page.editor.select("aaaaaaaa")
    press(K.Key_X, Qt.KeyboardModifier.ShiftModifier)
    assert page.bar.done.text() == "swap front double biceps and side chest left   Ctrl+Z"
    workspace.undo.undo()
    assert page.bar.done.text() == ""


def test_suggestions_stand_in_the_lane_and_return_takes_one(page, workspace, press):
    page.findings.look()
    press(K.Key_G, Qt.KeyboardModifier.ShiftModifier)
    assert page.panels.panel == SUGGESTIONS
    offered = [s for s in page.findings.suggestions if s.poses]
    assert [time for time, _ in page.lane.scene.offered] == [s.time for s in offered]
    rising = next(k for k, s in enumerate(page.findings.suggestions) if s.kind == "build")
    assert page.panels.suggestions.notes[rising].text.startswith("The music rises from")
    assert page.findings.suggestions[rising].time == pytest.approx(40.0)
    page.panels.suggestions.setCurrentIndex(page.panels.suggestions.model().index(rising, 0))
    press(K.Key_Return)
    placed = workspace.routine.placed(workspace.selected)
    # The build of the invented map runs from 36.0 to its accent at 40.0 s: eight counts.
    assert (placed.hit, placed.transition) == (Count(10, 1), Length(8))
    assert all(abs(s.time - 40.0) > 0.1 for s in page.findings.suggestions)


def test_a_version_is_kept_compared_and_restored(page, workspace, press, write):
    press(K.Key_S, Qt.KeyboardModifier.ControlModifier)
    write("after Tuesday")
    press(K.Key_Return)
    kept = workspace.routine
    page.editor.select("aaaaaaaa")
    press(K.Key_Right)
    press(K.Key_V)
    notes = page.panels.versions.list.notes
    assert notes[0].head == "after Tuesday"
    assert "front double biceps moved from 2:1 to 2:2" in page.panels.versions.list.notes[0].text
    press(K.Key_Return)
    assert workspace.routine == kept
    workspace.undo.undo()
    assert hits(workspace)[0] == "2:2"


def test_a_listed_version_stays_what_it_is_and_the_mark_stays_on_it(page, workspace, press):
    # Saved again and again within two minutes: what is listed may not be pushed out by it.
    for title in ("First", "Second", "Third"):
        workspace.edit("name it", routine=edits.describe(workspace.routine, title=title))
        assert workspace.save()
    press(K.Key_V)
    panel = page.panels.versions
    before = [note.data for note in panel.list.notes]
    panel.list.setCurrentIndex(panel.list.model().index(len(before) - 1, 0))
    assert "title is now Third, was Made" in panel.list.note.text
    panel.list.taken.emit(panel.list.note)
    assert workspace.routine.title == "Made"
    assert workspace.save()
    panel.refresh()
    after = [note.data for note in panel.list.notes]
    assert after[-len(before) :] == before
    assert panel.list.note.data == before[-1]
    assert panel.list.note.text.endswith("The same as now.")
    workspace.edit("name it", routine=edits.describe(workspace.routine, title="Fourth"))
    assert "title is now Fourth, was Made" in panel.list.note.text


def test_space_plays_from_the_cursor_and_stops_there(page, press, clock):
    page.playing.go(10.0)
    press(K.Key_Space)
    segment, at = clock.segments[-1]
    assert (at, segment.end, segment.tempo) == (10.0, 78.0, 1.0)
    clock.source = 12.5
    press(K.Key_Space)
    assert not clock.playing
    assert page.editor.cursor == pytest.approx(12.5)


def test_a_lost_speaker_stops_the_music_where_it_was_and_space_tries_again(
    page, press, clock, qtbot
):
    press(K.Key_Space)
    clock.source = 12.5
    with qtbot.waitSignal(page.workspace.errorRaised) as told:
        clock.events.append(OutputLost("The speaker is gone."))
    assert told.args == ["The speaker is gone."]
    assert not page.playing.on
    assert page.editor.cursor == pytest.approx(12.5)
    press(K.Key_Space)
    assert clock.segments[-1][1] == pytest.approx(12.5)


def test_slower_music_goes_on_where_it_was(page, press, clock):
    press(K.Key_Space)
    clock.source = 20.0
    for _ in range(6):
        press(K.Key_Minus)
    segment, at = clock.segments[-1]
    assert segment.tempo == pytest.approx(0.7)
    assert at == pytest.approx(20.0)
    for _ in range(20):
        press(K.Key_Minus)
    assert page.playing.tempo == pytest.approx(0.4)
    press(K.Key_Space)


def test_the_end_of_the_music_stops_it(page, press, clock, qtbot):
    press(K.Key_Space)
    clock.events.append(PassEnded("making", 1, True, 78.0))
    qtbot.waitUntil(lambda: not page.playing.on)


def test_another_page_takes_the_music_over(page, press, clock):
    press(K.Key_Space)
    page.workspace.musicAsked.emit(None)
    assert not page.playing.on
    press(K.Key_Space)
    page.hide()
    assert not page.playing.on
    assert not clock.playing


def test_what_another_page_played_before_is_not_ours_yet(page, press, clock, qtbot):
    clock.key, clock.source = "drill", 50.0
    clock.play = lambda segment, **_: clock.segments.append((segment, None))  # heard in a moment
    page.editor.cursor = 8.0
    press(K.Key_Space)
    qtbot.wait(50)
    assert page.playing.on
    assert page.playing.now() == 8.0
    clock.key, clock.source = "making", 9.5
    qtbot.waitUntil(lambda: page.editor.cursor == 9.5)


def test_the_figure_moves_with_the_music(page, press, clock, qtbot):
    press(K.Key_Space)
    seen = []
    # The transition to the hit at 16.0 s takes one second.
    for time in (14.9, 15.5, 16.0):
        clock.source = time
        qtbot.waitUntil(lambda t=time: page.editor.cursor == t)
        seen.append(page.card.figure.figure)
    press(K.Key_Space)
    assert len(set(seen)) == 3
    find = workspace_pose(page)
    assert seen[0] == find("front double biceps")
    assert seen[2] == find("side chest left")


def workspace_pose(page):
    return lambda name: page.workspace.catalogue.find(name).figure


def test_saved_within_two_seconds_and_read_back_the_same(page, workspace, press, folder, qtbot):
    page.editor.select("aaaaaaaa")
    press(K.Key_H)
    qtbot.waitUntil(lambda: open_folder(folder).routine == workspace.routine, timeout=2000)


def test_a_song_without_a_map_says_where_to_make_it(page, workspace, press, monkeypatch):
    from rehearse.ui.undo import Documents

    workspace._documents = Documents(workspace.routine, None)
    workspace.documentChanged.emit()
    for key in (K.Key_P, K.Key_B, K.Key_A, K.Key_H, K.Key_E):
        workspace.errors.clear()
        press(key)
        assert workspace.errors, key
    assert "press 1" in workspace.errors[0] or "Nothing is chosen" in workspace.errors[0]
    page.grab()


def test_everything_that_takes_keys_has_a_name(page):
    from PySide6.QtWidgets import QComboBox, QWidget

    unnamed = [
        w
        for w in page.findChildren(QWidget)
        if w.focusPolicy() & Qt.FocusPolicy.TabFocus
        and not w.accessibleName()
        and not (getattr(w, "text", None) and w.text())
        and not w.objectName().startswith("qt_")
        and "Header" not in type(w).__name__
        and not isinstance(w.parent().parent(), QComboBox)  # the list a box drops is its own
    ]
    assert unnamed == []


def test_a_way_in_that_films_show_too_short_is_offered_longer(qtbot, workspace, page, press):
    """2 counts of 0.5 s are 1.0 s; on two films it took 1.4 s and came late: 3 counts."""
    for k in range(2):
        read = PoseRead("bbbbbbbb", "side chest left", 20.0, 20.0, "late", 0.3, 0.07, 1.4, 0.5)
        filmed = datetime(2026, 11, 2 + k, tzinfo=UTC)
        take = TakeDone(f"t{k}", f"{k}.mp4", "", filmed, 1.0, 0.0, 1.0, "", (read,))
        workspace.logbook.keep_take(take)
    page.hide()
    page.show()  # from the film back to the page

    def told():
        return [n for n in page.panels.checks.notes if "on film your way in took 1.4 s" in n.text]

    qtbot.waitUntil(lambda: bool(told()), timeout=10_000)
    page.findings.take(told()[0])
    assert workspace.routine.placed("bbbbbbbb").transition == Length(3)
    assert hits(workspace) == ["2:1", "4:1", "6:1"]
    assert told() == []
    workspace.undo.undo()
    assert workspace.routine.placed("bbbbbbbb").transition == Length(2)
