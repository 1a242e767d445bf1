"""A film dropped on the window: read, stepped through, its contact sheet; three gestures."""

import shutil
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
import soundfile
from PySide6.QtCore import QMimeData, QPoint, QPointF, QRectF, Qt, QUrl
from PySide6.QtGui import QColor, QDragEnterEvent, QDropEvent, QImage
from PySide6.QtWidgets import QApplication

from rehearse.cueing.clap import clap
from rehearse.film.align import Alignment
from rehearse.film.film_reading import FilmReading
from rehearse.film.keep import Kept
from rehearse.film.offsets import Offset
from rehearse.film.sound import RATE as EIGHT
from rehearse.music.beatmap import BeatMap
from rehearse.music.decode import load_track
from rehearse.music.position import Length, Seconds
from rehearse.practice.takelog import PoseRead, TakeDone
from rehearse.routine.folder import save_folder
from rehearse.routine.model import Placed, Routine
from rehearse.ui import theme
from rehearse.ui.film.film_data import teachings
from rehearse.ui.film.film_flow import FilmFlow
from rehearse.ui.film.guide import Guide
from rehearse.ui.stage.stage_options import ViewingDistance
from rehearse.ui.window import Window
from tests.film.test_arrival import FIFTH
from tests.helpers.films import RATE, music, write_film, write_song
from tests.ui import fits
from tests.ui.made import PromptWorkers

HITS, LATE = (3.0, 5.0, 7.0), (0.0, 0.25, -0.02)
NAMES = ("front double biceps", "front lat spread", "victory")
PATIENCE = 120_000


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A routine of three poses and a film of it."""
    folder = tmp_path_factory.mktemp("film") / "routine"
    folder.mkdir()
    sound = music(10)
    write_song(folder / "song.wav", sound)
    track = load_track(folder / "song.wav")
    poses = tuple(
        Placed(f"aa00000{k}", name, Seconds(hit), Length(0.5, False), Length(0.8, False))
        for k, (name, hit) in enumerate(zip(NAMES, HITS, strict=True))
    )
    beats = tuple(0.5 * k for k in range(19))
    beatmap = BeatMap(
        track.content_hash, track.duration, beats, tuple(k % 4 + 1 for k in range(19))
    )
    save_folder(folder, Routine("Test", "song.wav", poses=poses, id="f1"), beatmap)
    moves = [(hit + late - FIFTH * 0.5, 0.5) for hit, late in zip(HITS, LATE, strict=True)]
    film = write_film(folder.parent / "run.mp4", sound[: 9 * RATE], moves)
    return folder, film


@pytest.fixture
def window(qtbot, workspace, made, tmp_path):
    folder = tmp_path / "routine"
    shutil.copytree(made[0], folder)
    window = Window(workspace)
    qtbot.addWidget(window)
    window.resize(1366, 768)
    window.show()
    qtbot.waitExposed(window)
    assert workspace.open(folder)
    return window


def drop(widget, path):
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path))])
    how = (
        *(Qt.DropAction.CopyAction, data),
        *(Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier),
    )
    QApplication.sendEvent(widget, QDragEnterEvent(QPoint(20, 20), *how))
    QApplication.sendEvent(widget, QDropEvent(QPointF(20, 20), *how))


def test_a_dropped_film_is_read_stepped_through_and_printed(qtbot, window, workspace, made):
    drop(window, made[1])  # the first gesture
    flow = window.findChild(FilmFlow)
    qtbot.waitUntil(lambda: flow.take is not None, timeout=PATIENCE)
    assert [pose.said for pose in flow.take.poses] == ["on", "late", "on"]
    assert (workspace.folder / flow.take.folder / "film.mp4").stat().st_size < 40e6
    qtbot.waitUntil(lambda: not flow.view.image.isNull(), timeout=PATIENCE)
    qtbot.keyClick(flow, Qt.Key.Key_PageDown)
    assert flow.view.second == pytest.approx(HITS[1])
    qtbot.keyClick(flow, Qt.Key.Key_Up)
    assert flow.view.second == pytest.approx(4.5)
    qtbot.keyClick(flow, Qt.Key.Key_Right)
    qtbot.waitUntil(lambda: flow.view.second != pytest.approx(4.5), timeout=PATIENCE)
    assert 4.5 < flow.view.second < 4.5 + 2 / 25
    fits.settle(window, (960, 600))
    assert fits.unfitting(window) == []
    qtbot.keyClick(flow, Qt.Key.Key_Return)  # the second one
    qtbot.waitUntil(lambda: flow.sheet.contact is not None, timeout=PATIENCE)
    assert flow.sheet.contact.pdf.startswith(b"%PDF")
    assert QImage.fromData(flow.sheet.contact.png).width() > 800
    found = []
    workspace.logbook.ask(lambda book: book.takes(), found.append)
    qtbot.waitUntil(lambda: bool(found), timeout=PATIENCE)
    assert found[0] == (flow.take,)
    qtbot.keyClick(flow, Qt.Key.Key_Escape)
    assert window.page is not None


def test_a_film_of_other_music_says_so_and_is_read_from_a_hit_set_by_hand(
    monkeypatch, qtbot, window, workspace, tmp_path
):
    monkeypatch.setattr("rehearse.film.take.TEMPOS", (1.0,))  # the others take their time
    other = write_film(tmp_path / "other.mp4", music(8, seed=77)[: 7 * RATE], [])
    drop(window, other)
    flow = window.findChild(FilmFlow)
    asked = "cannot be found in the film"
    qtbot.waitUntil(lambda: asked in window.error.text, timeout=PATIENCE)
    assert flow.take is None
    assert not (workspace.folder / "takes").exists()
    flow.guide.second.setValue(3.0)
    qtbot.keyClick(flow.guide.second, Qt.Key.Key_Return)  # the first hit is set by hand
    qtbot.waitUntil(lambda: flow.take is not None, timeout=PATIENCE)
    assert flow.take.offset == pytest.approx(0.0, abs=1e-6)
    assert window.error.text == ""


def test_a_film_with_other_music_and_our_clap_is_asked_about_before_anything_is_kept(
    monkeypatch, qtbot, window, workspace, tmp_path
):
    """Every routine's clap is the same: another routine's run carries it, too."""
    monkeypatch.setattr("rehearse.film.take.TEMPOS", (1.0,))
    sound = music(8, seed=77)[: 7 * RATE]
    clapped = 0.4 * clap(RATE)
    sound[RATE : RATE + len(clapped)] += clapped
    other = write_film(tmp_path / "other.mp4", sound, [])
    drop(window, other)
    flow, questions = window.findChild(FilmFlow), workspace.questions
    qtbot.waitUntil(lambda: questions.current is not None, timeout=PATIENCE)
    assert "only a clap is heard in other.mp4" in questions.current.sentence
    assert (flow.take, window.error.text) == (None, "")
    found = []
    workspace.logbook.ask(lambda book: book.takes(), found.append)
    qtbot.waitUntil(lambda: bool(found), timeout=PATIENCE)
    assert (found[0], (workspace.folder / "takes").exists()) == ((), False)
    fits.settle(window, (960, 600))
    assert fits.unfitting(window) == []
    lay, by_hand = questions.current.answers
    questions.answer(by_hand)
    assert flow.guide.hand.isVisible()
    assert (questions.current, flow.take) == (None, None)
    questions.answer(lay)
    qtbot.waitUntil(lambda: flow.take is not None, timeout=PATIENCE)
    assert flow.take.offset == pytest.approx(-2.5 - 1.0, abs=0.01)


def test_without_a_film_it_says_how_to_film(window):
    window.film_of_a_run()
    flow = window.findChild(FilmFlow)
    assert "whole body" in flow.guide.words.text()
    assert flow.guide.isVisible()


def test_the_lines_on_filming_are_read_whole_in_the_least_window(qtbot):
    """Beside the picture, with a notice beneath: that leaves about 860 by 250 pixels."""
    guide = Guide()
    qtbot.addWidget(guide)
    guide.resize(860, 250)
    guide.show()
    assert guide.words.heightForWidth(guide.words.width()) <= guide.words.height()


def test_space_plays_the_run_to_be_filmed_with_the_clap_before_the_count_in(
    qtbot, window, workspace
):
    """120 BPM: a count is 0.500 s; the clap is on the fifth count before the music."""
    workspace.player.silent = True
    qtbot.waitUntil(lambda: workspace.track is not None, timeout=PATIENCE)
    window.film_of_a_run()
    flow = window.findChild(FilmFlow)
    assert "a clap" in flow.sentence.text()
    qtbot.keyClick(flow, Qt.Key.Key_Space)
    assert flow.run.on
    made = flow.run._segment()
    clapped = made.clips[0]
    assert clapped.at == -2.5
    assert (clapped.samples == clap(workspace.track.sample_rate)).all()
    counted = sorted(clip.at for clip in made.clips[1:] if clip.at < 0 and clip.kind == "click")
    assert counted == pytest.approx([-2.0, -1.5, -1.0, -0.5])
    assert made.lead == 12.5
    qtbot.waitUntil(lambda: flow.guide.left.isVisible(), timeout=PATIENCE)
    fits.settle(window, (1366, 768))
    assert fits.unfitting(window) == []
    # 22′ at 4 m are 25.6 mm (NUREG-0700 rev. 2, 1.3.1-4), on a screen 309.4 mm wide.
    light, picture = QColor(theme.NEXT).rgb(), flow.guide.left.grab().toImage()
    columns, lines = range(0, picture.width(), 3), range(picture.height())
    rows = [y for y in lines if any(picture.pixel(x, y) == light for x in columns)]
    assert (rows[-1] - rows[0]) * 309.4 / 1366 >= 25.6
    workspace.stopAsked.emit()
    assert not flow.run.on
    assert not flow.guide.left.isVisible()


def late_take(k, hit=HITS[1], took=0.5):
    read = PoseRead("aa000001", NAMES[1], hit, hit, "late", 0.2, 0.07, took, 0.5)
    filmed = datetime(2026, 11, 2 + k, 18, 0, tzinfo=UTC)
    return TakeDone(f"t{k}", f"{k}.mp4", "", filmed, 1.0, 0.0, 1.0, "", (read,))


def test_a_transition_is_as_long_as_it_is_now(window, workspace):
    """The pose was filmed at 2 s and is hit at 5 s since: its transition has 0.8 s."""
    told = teachings(workspace, [late_take(k, hit=2.0, took=1.2) for k in range(2)])
    assert "Its transition has 0.8 s, the way in took 1.2 s" in told["aa000001"]


def test_an_older_film_that_is_read_later_stays_the_older_take(window):
    window.film_of_a_run()
    sheet = window.findChild(FilmFlow).sheet
    sheet.takes = (late_take(1), late_take(3))
    sheet.show_take(late_take(2))
    assert [take.id for take in sheet.takes] == ["t1", "t2", "t3"]


def test_a_routine_that_changed_while_a_film_was_read_gets_no_readings(
    window, workspace, made, monkeypatch
):
    """As many poses as before, but not where they were."""
    window.film_of_a_run()
    flow, done = window.findChild(FilmFlow), []
    monkeypatch.setattr(workspace, "run_job", lambda *args, **how: done.append(how["done"]))
    flow.take_path(made[1])
    first, *others = workspace.routine.poses
    moved = (replace(first, hit=Seconds(2.0)), *others)
    workspace.edit("moved", routine=replace(workspace.routine, poses=moved))
    reading = FilmReading(Alignment(0.0, 1.0, 9, 3.0, 0.0, 9.0), 1.0, 1, HITS, 3 * (Offset(),))
    done[0](Kept("f", "", reading))
    assert flow.take is None
    assert "changed meanwhile" in window.error.text


@pytest.fixture
def two(qtbot, window, workspace):
    """The flow with two kept takes of one pose; the second film began half a second earlier."""
    sound = music(3)
    for k in range(2):
        place = workspace.folder / "takes" / f"t{k}"
        place.mkdir(parents=True)
        write_film(place / "film.mp4", sound, [(0.5, 0.5)])
        filmed = datetime(2026, 11, 2 + k, 18, 0, tzinfo=UTC)
        late = ("late", 0.2) if k else ("on", 0.01)
        reads = (PoseRead("aa000000", NAMES[0], 1.0, 1.0 + k / 2, *late, 0.07, 0.5, 0.5),)
        place = f"takes/t{k}"
        take = TakeDone(f"t{k}", f"{k}.mp4", place, filmed, 1.0, -k / 2, 1.0, "", reads)
        workspace.logbook.keep_take(take)
    window.film_of_a_run()
    flow = window.findChild(FilmFlow)
    qtbot.waitUntil(lambda: flow.take is not None, timeout=PATIENCE)
    return flow


def test_two_takes_show_the_same_moment_of_the_music(qtbot, window, two):
    """Each film by its own place in the music, so that a hit of one is the hit of the other."""
    both = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
    qtbot.keyClick(two, Qt.Key.Key_J, both)
    beside = two.view.beside
    assert beside.take.film == "0.mp4"
    for second in (1.0, 1.5):
        two.watching.music.go(second)
        qtbot.waitUntil(lambda: abs(beside.second - second) <= 1 / 25, timeout=PATIENCE)  # noqa: B023
        assert two.watching.film_second() == pytest.approx(second + 0.5)
    pose = two.view.current()
    assert [words[0] for words in two.view.verdicts(pose)] == [
        *("on the hit", "late by about half a count")
    ]
    left, right = two.view.halves(QRectF(two.view.rect()))
    assert left.right() < right.left()
    fits.settle(window, (1366, 768))
    assert fits.unfitting(window) == []
    qtbot.keyClick(two, Qt.Key.Key_J, both)
    assert beside.over
    qtbot.keyClick(two, Qt.Key.Key_J, both)
    assert two.view.beside is None
    qtbot.keyClick(two, Qt.Key.Key_Delete)
    workspace = two.workspace
    workspace.questions.answer(workspace.questions.current.answers[0])
    qtbot.keyClick(two, Qt.Key.Key_J, both)  # only one is left
    assert two.view.beside is None


def test_the_whole_screen_is_read_from_three_metres(qtbot, window, two):
    """22′ at 3 m are 19.2 mm (NUREG-0700 rev. 2, 1.3.1-4: height = 6.283 D minutes / 21600)."""
    qtbot.keyClick(two, Qt.Key.Key_F)
    assert window.isFullScreen()
    assert not two.sentence.isVisible()
    two.view.viewing = ViewingDistance(4.0, 309.4 / 1366)
    two.resize(1366, 768)
    qtbot.waitUntil(lambda: two.view.width() == 1366, timeout=PATIENCE)
    light, picture = QColor(theme.NEXT).rgb(), two.view.grab().toImage()
    rows = [
        y for y in range(400, 700) if any(picture.pixel(x, y) == light for x in range(0, 500, 2))
    ]
    assert (max(rows) - min(rows)) * 309.4 / 1366 >= 0.97 * 19.2
    qtbot.keyClick(two, Qt.Key.Key_Escape)
    assert not window.isFullScreen()
    assert two.sentence.isVisible()
    assert two.take is not None


def test_one_clap_takes_out_what_the_phone_lags(qtbot, two, monkeypatch):
    """Heard at 1.0 s of the film, seen 0.2 s later: a pose 0.2 s late by the picture was on."""
    monkeypatch.setattr(two.workspace._jobs, "_workers", PromptWorkers)
    late = two.take.poses[0]
    taken = replace(late, arrived=late.film + late.late)
    two.show_take(replace(two.take, poses=(taken,)))
    sound = np.zeros(3 * EIGHT, np.float32)
    sound[EIGHT : EIGHT + 200] = np.random.default_rng(1).uniform(-1, 1, 200)
    soundfile.write(two.workspace.folder / "takes" / "t1" / "sound.flac", sound, EIGHT)
    two.watching.music.go(0.7 + 1e-3)  # second 1.2 of this film
    qtbot.waitUntil(lambda: two.watching.picture == pytest.approx(1.2), timeout=PATIENCE)
    shift = Qt.KeyboardModifier.ShiftModifier
    qtbot.keyClick(two, Qt.Key.Key_X, Qt.KeyboardModifier.ControlModifier | shift)
    qtbot.waitUntil(lambda: two.take.poses[0].said == "on", timeout=PATIENCE)
    assert two.take.poses[0].late == pytest.approx(0.0, abs=0.02 + 0.012)
    found = []
    two.workspace.logbook.ask(lambda book: book.takes(), found.append)
    qtbot.waitUntil(lambda: bool(found), timeout=PATIENCE)
    assert found[0][-1].poses == two.take.poses


def test_another_run_can_be_filmed_when_there_are_takes(qtbot, window, two):
    shift = Qt.KeyboardModifier.ShiftModifier
    qtbot.keyClick(two, Qt.Key.Key_F, Qt.KeyboardModifier.ControlModifier | shift)
    assert two.guide.isVisible()
    assert "a clap" in two.sentence.text()
    fits.settle(window, (960, 600))
    assert fits.unfitting(window) == []
    qtbot.keyClick(two, Qt.Key.Key_Return)
    assert two.view.isVisible()
    assert two.take.film == "1.mp4"
    fits.settle(window, (960, 600))
    assert fits.unfitting(window) == []


def test_while_it_plays_it_is_painted_with_each_picture_and_not_in_between(two, monkeypatch):
    """Looks at the music come every 16 ms, a picture every 40: painting each look is half waste."""
    watching, paints, given = two.watching, [], [(1.0, QImage(8, 8, QImage.Format.Format_RGB32))]
    monkeypatch.setattr(watching.view, "update", lambda: paints.append(watching.picture))
    monkeypatch.setattr(type(watching.music), "on", True)
    asked = []

    def play(second, width, tempo):
        asked.append(second)
        return given.pop() if given else None

    monkeypatch.setattr(watching.feeder, "play", play)
    watching._moved()
    watching._moved()
    assert paints == [1.0]
    # A look is up to 16 ms late: half of it early, half late.
    assert asked == pytest.approx(2 * [watching.film_second() + 0.008])
    for _unused in range(4):  # the film has ended, the counts go on
        watching._moved()
    assert 2 <= len(paints) <= 3


def test_the_film_goes_down_to_a_quarter_of_its_speed(qtbot, two):
    for _ in range(20):
        qtbot.keyClick(two, Qt.Key.Key_Minus)
    assert two.watching.music.tempo == 0.25
    assert "25 %" in two.view.note


def test_earlier_takes_are_shown_and_a_kept_film_is_deleted_when_told(qtbot, window, workspace):
    sound = music(3)
    reads = (PoseRead("aa000000", NAMES[0], 1.0, 1.0, "late", 0.2, 0.07, 0.5, 0.5),)
    for k in range(2):
        place = workspace.folder / "takes" / f"t{k}"
        place.mkdir(parents=True)
        write_film(place / "film.mp4", sound, [(0.5, 0.5)])
        filmed = datetime(2026, 11, 2 + k, 18, 0, tzinfo=UTC)
        take = TakeDone(f"t{k}", f"{k}.mp4", f"takes/t{k}", filmed, 1.0, 0.0, 1.0, "", reads)
        workspace.logbook.keep_take(take)
    window.film_of_a_run()
    flow = window.findChild(FilmFlow)
    qtbot.waitUntil(lambda: flow.take is not None, timeout=PATIENCE)
    assert flow.take.film == "1.mp4"
    assert "Take 2 of 2" in flow.sentence.text()
    assert "Late on 2 of the last 2 takes" in flow.view.told["aa000000"]
    qtbot.keyClick(flow, Qt.Key.Key_PageUp, Qt.KeyboardModifier.ControlModifier)
    assert flow.take.film == "0.mp4"
    qtbot.keyClick(flow, Qt.Key.Key_Delete)
    question = workspace.questions.current
    assert "Its readings stay" in question.sentence
    assert (workspace.folder / "takes" / "t0").is_dir()  # nothing before it is answered
    workspace.questions.answer(question.answers[0])
    assert not (workspace.folder / "takes" / "t0").exists()
    assert flow.take.film == "1.mp4"
    found = []
    workspace.logbook.ask(lambda book: book.takes(), found.append)
    qtbot.waitUntil(lambda: bool(found), timeout=PATIENCE)
    assert len(found[0]) == 2
