"""Every text of every page can be read whole at usual sizes of screens, and grows with them."""

import itertools
import os
import shutil
import threading
import time
from dataclasses import replace
from datetime import date

import pytest
from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QFontMetricsF, QImage, QPainter
from PySide6.QtWidgets import QComboBox, QDoubleSpinBox, QHBoxLayout, QLabel, QPushButton, QWidget

from rehearse.practice.summary import Standing
from rehearse.routine.folder import open_folder, save_folder
from rehearse.routine.model import Facing, Place
from rehearse.ui import theme
from rehearse.ui.growth import Growth, style
from rehearse.ui.settings import Settings
from rehearse.ui.walk import STEPS
from rehearse.ui.wave import beatlines
from rehearse.ui.wave.scale import Scale
from rehearse.ui.window import REHEARSE, ROUTINE, Window
from rehearse.ui.workspace import Workspace

from . import fits
from .made import DEMO, steady

MUSIC, LOGBOOK = 0, 3
PANELS = ("checks", "suggestions", "versions", "copy", "remarks", "keys")
DEMOS, LONG, EMPTY = "demo", "long texts", "no pose yet"
#: The least room and the commonest; every size where REHEARSE_ALL_SIZES is set.
CASES = [(DEMOS, fits.SIZES[0]), (DEMOS, fits.SIZES[2]), (LONG, fits.SIZES[0])]
if os.environ.get("REHEARSE_ALL_SIZES"):
    CASES = [(texts, size) for texts in (DEMOS, LONG) for size in fits.SIZES]
FAR = {"facing": Facing.FRONT, "turn": None, "place": Place.LEFT}
OWN = ("own", "own_move")
FLOWS = (
    "new_rounds",
    "recent_routines",
    "another_show",
    "new_routine",
    "show_and_rules",
    "take_along",
    "own_voice",
    "cut_song",
    "film_of_a_run",
)


def hard(folder):
    """Texts as long as athletes write them."""
    opened = open_folder(folder)
    routine = opened.routine
    sections = tuple(
        replace(s, name=f"{s.name} as the coach calls this part of it") for s in routine.sections
    )
    poses = tuple(
        replace(p, note="Keep the chest high until the very end. " * 3, **FAR)
        for p in routine.poses
    )
    title = "A Title That Is Rather Long For One Line, As Eighty Letters Are For Any Window"
    save_folder(
        folder, replace(routine, title=title, sections=sections, poses=poses), opened.beatmap
    )


@pytest.fixture(autouse=True)
def no_thread_left():
    """A workspace's threads live as long as its window, which these tests share: see `windows`."""
    return


@pytest.fixture(scope="module")
def windows(qapp, tmp_path_factory):
    """The real window on the demo, its song read, with the demo's own texts or long ones."""
    before, opened = set(threading.enumerate()), {}

    def window_with(texts):
        if texts not in opened:
            place = tmp_path_factory.mktemp("fits")
            folder = shutil.copytree(DEMO, place / "copper-lights")
            if texts == LONG:
                hard(folder)
            elif texts == EMPTY:
                empty(folder)
            workspace = Workspace(Settings(place / "settings.ini"))
            window = opened[texts] = Window(workspace)
            window.workspace = workspace
            window.show()
            assert workspace.open(folder)
            deadline = time.monotonic() + 20
            while workspace.track is None and time.monotonic() < deadline:
                qapp.processEvents()
                time.sleep(0.005)
            assert workspace.track is not None
        return opened[texts]

    yield window_with
    for window in opened.values():
        window.close()
        window.workspace.close()
    theme.set_scale(1.0)
    qapp.setStyleSheet(style())
    deadline = time.monotonic() + 5
    while set(threading.enumerate()) - before and time.monotonic() < deadline:
        time.sleep(0.02)
    assert set(threading.enumerate()) <= before


@pytest.fixture
def window(windows):
    return windows(DEMOS)


@pytest.fixture(scope="module", params=CASES, ids=lambda c: f"{c[1][0]}x{c[1][1]}-{c[0]}")
def sized(request, windows):
    """One of the windows at one size: text grows once for all tests of that size."""
    texts, size = request.param
    window = windows(texts)
    fits.settle(window, size)
    assert window.size().toTuple() == size
    return window


def unfitting(window):
    fits.settle(window)
    return fits.unfitting(window)


@pytest.mark.parametrize("page", [MUSIC, ROUTINE, REHEARSE, LOGBOOK])
def test_every_text_of_a_page_is_read_whole(sized, page):
    sized.show_page(page)
    assert unfitting(sized) == []


@pytest.mark.parametrize("panel", PANELS)
def test_every_text_of_the_routine_pages_panels_is_read_whole(sized, panel):
    sized.show_page(ROUTINE)
    sized.page.actions_by_name[panel].trigger()
    assert unfitting(sized) == []


def test_eight_poses_stand_in_the_table_of_a_small_window(window):
    fits.settle(window, (1366, 768))
    window.show_page(ROUTINE)
    fits.settle(window)
    table = window.page.table
    foot = table.rowViewportPosition(7) + table.rowHeight(7)
    assert 0 < foot <= table.viewport().height()


def test_names_and_figures_of_the_logbook_stand_together(window):
    """The names' column took all the room there was: on a wide screen a hand lay between."""
    for size in (fits.SIZES[0], fits.SIZES[-1]):
        fits.settle(window, size)
        window.show_page(LOGBOOK)
        fits.settle(window)
        table = window.page.table
        two = tuple(Standing("section", n, n) for n in ("Finale", "Front and sides"))
        table.rows.show(two, date.today())
        names = table.sizeHintForColumn(0)
        assert names <= table.columnWidth(0) <= names + theme.px(32)
        shown = [k for k in range(6) if not table.isColumnHidden(k)]
        assert sum(table.columnWidth(k) for k in shown) <= table.viewport().width()


def test_todays_plan_is_what_the_logbook_begins_with(window):
    fits.settle(window, (1366, 768))
    window.show_page(LOGBOOK)
    fits.settle(window)
    page = window.page
    panel = page.panel
    tops = [w.mapTo(page, w.rect().topLeft()).y() for w in (panel.start, panel.list, page.ribbon)]
    assert tops == sorted(tops)
    assert tops[0] < page.height() // 6


def test_every_text_of_the_rounds_is_read_whole(sized):
    """The comparison rounds of the Rehearse page, their sources at its foot."""
    sized.show_page(2)
    page = sized.page
    page.drill_panel.offer_rounds()
    try:
        for row in (1, 3):
            page.drill_panel.list.choose(row)
            assert unfitting(sized) == []
    finally:
        page.drill_panel.offer_rounds(False)


def test_every_text_of_the_set_up_is_read_whole(sized):
    sized.show_page(REHEARSE)
    sized.page.toggle_setup()
    found = unfitting(sized)
    sized.page.close_setup()
    assert found == []


@pytest.mark.parametrize("flow", FLOWS)
def test_every_text_of_a_flow_is_read_whole(sized, flow):
    getattr(sized, flow)()
    shown = sized._flow
    found = unfitting(sized)
    if flow == "take_along":
        for kind in shown.kinds.buttons()[1:]:
            kind.click()
            found += unfitting(sized)
    shown.leave()
    assert found == []


def test_every_text_of_the_help_is_read_whole(sized):
    """Each page's help, the list of keys, and what the program is made of."""
    found = []
    for page in (MUSIC, ROUTINE, REHEARSE, LOGBOOK):
        sized.show_page(page)
        sized.show_help()
        found += unfitting(sized)
    for opener in (sized.show_keys, sized.show_about):
        opener()
        found += unfitting(sized)
    sized.show_page(MUSIC)
    assert found == []


@pytest.mark.parametrize("page", [MUSIC, ROUTINE, REHEARSE, LOGBOOK])
def test_every_text_is_read_whole_during_the_walk(sized, page):
    sized.begin_walk()
    sized.show_page(page)
    found = unfitting(sized)
    for _ in STEPS[1:]:
        sized.walk.go_on()
    found += unfitting(sized)
    sized.walk.leave()
    assert found == []


@pytest.mark.parametrize("form", OWN)
def test_every_text_of_the_own_forms_is_read_whole(sized, form):
    sized.show_page(ROUTINE)
    page = sized.page
    shown = getattr(page, form)
    page.below.setCurrentWidget(shown)
    shown.ask("lantern swing")
    found = unfitting(sized)
    page.show_overview()
    assert found == []


def test_a_fault_line_is_read_whole(sized):
    sized.show_page(ROUTINE)
    sized.workspace.errorRaised.emit(
        "The song cannot be read: it ends in the middle of a frame – choose another copy of it, "
        "or take it from the medium once more, then press Space."
    )
    found = unfitting(sized)
    sized.workspace.errorRaised.emit("")
    assert found == []


SCROLLED = (9.3, 21.7, 40.9, 55.0)


@pytest.mark.parametrize("size", fits.SIZES[::3], ids=str)
def test_every_text_of_the_lane_is_read_whole_wherever_it_is_scrolled(window, size):
    """Names of poses and moves hit or begun before the stretch in view were cut at its edge."""
    fits.settle(window, size)
    window.show_page(ROUTINE)
    wave, found = window.page.wave, []
    for start in SCROLLED:
        wave.set_range(start, start + 18.0)
        found += fits.painted(window)
    wave.set_range(0.0, 30.0)
    assert found == []


def test_every_text_of_the_question_is_read_whole(sized):
    sized.show_page(REHEARSE)
    question = sized.page.footer.question
    question.ask(sized.workspace.sheet.cues)
    sized.page.footer._arrange()
    found = unfitting(sized)
    question._number.setText("9999")
    question._typed()
    found += unfitting(sized)
    question.hide()
    sized.page.footer._arrange()
    assert found == []


def test_every_text_of_a_new_routine_is_read_whole(sized):
    """At 960 × 600 "Save in" and "Change" were cut where the sentence took two lines."""
    sized.new_routine()
    flow = sized._flow
    flow._song, flow._track = DEMO / "track.ogg", sized.workspace.track
    flow.song.setText("track.ogg")
    flow.title.setText("Copper Lights")
    sets = flow.rules.sets
    flow.rules.setCurrentIndex(max(range(len(sets)), key=lambda k: len(sets[k].note)))
    flow._refresh()
    found = unfitting(sized)
    beatmap = sized.workspace.beatmap
    flow._mapped(replace(beatmap, accents=beatmap.accents * 9, free=beatmap.free * 5))
    found += unfitting(sized)
    flow.leave()
    assert found == []


def empty(folder):
    opened = open_folder(folder)
    nothing = replace(opened.routine, poses=(), sections=(), exit=())
    save_folder(folder, nothing, opened.beatmap)


@pytest.mark.parametrize("size", fits.SIZES, ids=str)
def test_every_text_of_a_routine_without_poses_is_read_whole(windows, size):
    """At 960 × 600 two of its hints ran out of the table."""
    window = windows(EMPTY)
    fits.settle(window, size)
    window.show_page(ROUTINE)
    assert unfitting(window) == []


def test_a_name_is_never_struck_through_by_the_frame_of_its_hold(window, qapp):
    """A held or chosen pose's frame ends inside its name where the hold is short."""
    fits.settle(window, (960, 600))
    window.show_page(ROUTINE)
    page, struck = window.page, 0
    page.wave.set_range(0.0, 75.0)
    for span in page.timings.all:
        page.editor.select(span.placed.id)
        names = []
        with fits.writing(lambda _, text, ink, room, to=names: to.append((text, ink))):
            picture = page.lane.grab().toImage()
        hit, edge = (page.lane.scale.x(time) for time in (span.hit, span.end))
        for text, ink in names:
            if abs(ink.left() - hit - 6) < 2 and ink.left() < edge < ink.right():
                struck += 1
                # Letters have gaps between their lines; a frame's edge has none.
                column = [
                    picture.pixelColor(round(edge), y).lightness()
                    for y in range(round(ink.top()) + 2, round(ink.bottom()) - 2)
                ]
                assert min(column) < 128, (text, column)
    page.editor.select("")
    page.wave.set_range(0.0, 30.0)
    assert struck


def test_the_card_tells_what_it_has_room_for_after_each_change_of_size(windows):
    """Its line ("3:1   front, standing, at left") was that of the width before."""
    window = windows(LONG)
    window.show_page(ROUTINE)
    page = window.page
    span = page.timings.all[3]
    lines = []
    for size in ((2560, 1440), (960, 600), (2560, 1440)):
        fits.settle(window, size)
        page.editor.select(span.placed.id)
        page.playing.go(span.hit + 0.05)
        lines.append(page.card.place.text())
    assert lines[1] != lines[0] == lines[2]
    fits.settle(window, (960, 600))
    assert page.card.place.text() == lines[1]
    page.playing.go(0.0)


# -- the helper itself ------------------------------------------------------------------------
def holder(qtbot, *widgets, width=400):
    window = QWidget()
    window.resize(width, 120)
    row = QHBoxLayout(window)
    for widget in widgets:
        row.addWidget(widget)
    qtbot.addWidget(window)
    window.show()
    return window


def test_the_helper_finds_what_is_cut(qtbot, qapp):
    label, button = QLabel("seventy-five seconds"), QPushButton("Stage start")
    box, number = QComboBox(), QDoubleSpinBox(maximum=1e6, decimals=6)
    box.addItem("as the counts stand in the eight")
    window = holder(qtbot, label, button, box, number, width=900)
    fits.settle(window)
    assert fits.unfitting(window) == []
    number.setValue(123456.123456)
    for widget in (label, button, box, number):
        widget.setFixedWidth(50)
    fits.settle(window)
    found = fits.unfitting(window)
    for words in ("seventy-five", "Stage start", "as the counts", "123456"):
        assert any(words in text for text in found), words


def test_the_helper_finds_what_is_hidden_and_what_is_glued(qtbot, qapp):
    window = QWidget()
    qtbot.addWidget(window)
    window.resize(300, 100)
    outside, one, other = (QLabel(words, window) for words in ("far out", "15:1", "3"))
    for label in (outside, one, other):
        label.adjustSize()
    outside.move(280, 10)
    one.move(10, 50)
    other.move(one.geometry().right() + 1, 50)
    window.show()
    found = fits.unfitting(window)
    assert any("far out" in text and "outside" in text for text in found)
    assert any("glued" in text for text in found)
    other.move(one.geometry().right() + 12, 50)
    outside.move(100, 10)
    assert fits.unfitting(window) == []


def test_the_helper_finds_what_is_painted_past_its_room_and_its_widget(qtbot, qapp):
    class Painted(QWidget):
        left, room = 0, 200

        def paintEvent(self, event):
            painter = QPainter(self)
            where = QRect(self.left, 10, self.room, 30)
            painter.drawText(where, int(Qt.AlignmentFlag.AlignVCenter), "back double biceps")
            painter.end()

    widget = Painted()
    window = holder(qtbot, widget)
    assert fits.painted(window) == []
    widget.room = 40
    assert any("in a room of 40" in text for text in fits.painted(window))
    widget.room, widget.left = 200, -20
    assert any("cut at the edge" in text for text in fits.painted(window))


# -- what grows -------------------------------------------------------------------------------
def test_the_scale_follows_the_height_and_never_lets_the_width_run_out():
    assert theme.scale_for(960, 600) == theme.scale_for(1280, 720) == 1.0
    assert theme.scale_for(1366, 768) == 1.0
    assert theme.scale_for(1920, 1080) == pytest.approx(1.35)
    assert theme.scale_for(2560, 1440) == pytest.approx(1.8)
    assert theme.scale_for(1400, 1440) == pytest.approx(1.0)


def test_text_and_controls_grow_with_the_window_and_shrink_again(window):
    window.show_page(REHEARSE)
    seen = {}
    for size in ((1280, 720), (2560, 1440), (1280, 720)):
        fits.settle(window, size)
        begin = window.page.footer.findChildren(QPushButton)[0]
        seen[len(seen)] = (
            QFontMetricsF(begin.font()).height(),
            begin.height(),
            window.page.drill_panel.width(),
            theme.BODY,
        )
    small, large, again = seen.values()
    for before, grown in zip(small, large, strict=True):
        assert grown / before == pytest.approx(1.8, abs=0.12)
    assert again == small


def test_what_is_made_later_is_as_large_as_what_is_there(window, qtbot):
    fits.settle(window, (2560, 1440))
    window.show_page(REHEARSE)
    late = QWidget(window.page)
    late.setMinimumWidth(100)
    late.show()
    window.findChild(Growth)._grow()
    assert late.minimumWidth() == 180
    window.findChild(Growth)._grow()
    assert late.minimumWidth() == 180
    late.deleteLater()
    fits.settle(window, (1280, 720))


@pytest.mark.parametrize("bpm", [90, 120, 180])
@pytest.mark.parametrize("scale", [1.0, 1.8])
def test_numbers_over_the_wave_never_run_together(qapp, monkeypatch, bpm, scale):
    """An eight's number and the count after it once read as one: 15:13."""
    beatmap = steady(bpm, 180.0)
    image = QImage(1366, 200, QImage.Format.Format_RGB32)
    for seconds in (8, 12, 16, 20, 24, 30, 45):
        drawn = []

        def number(painter, view, at, text, drawn=drawn):
            right = at.x() + painter.fontMetrics().horizontalAdvance(text)
            drawn.append((at.x(), right, text))
            return at.x(), right

        monkeypatch.setattr(beatlines, "_number", number)
        painter = QPainter(image)
        with theme.at(scale):
            beatlines.paint_beats(painter, Scale(60.0, 60.0 + seconds, 1366, 200), beatmap)
        painter.end()
        drawn.sort()
        assert drawn
        for one, other in itertools.pairwise(drawn):
            assert other[0] - one[1] >= 4, (one, other, seconds)
