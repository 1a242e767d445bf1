"""A film dropped on the window: read, stepped through, its contact sheet; three gestures."""

import shutil
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QImage
from PySide6.QtWidgets import QApplication

from rehearse.film.align import Alignment
from rehearse.film.film_reading import FilmReading
from rehearse.film.keep import Kept
from rehearse.film.offsets import Offset
from rehearse.music.beatmap import BeatMap
from rehearse.music.decode import load_track
from rehearse.music.position import Length, Seconds
from rehearse.practice.takelog import PoseRead, TakeDone
from rehearse.routine.folder import save_folder
from rehearse.routine.model import Placed, Routine
from rehearse.ui.film.film_data import teachings
from rehearse.ui.film.film_flow import FilmFlow
from rehearse.ui.window import Window
from tests.film.test_arrival import FIFTH
from tests.helpers.films import RATE, music, write_film, write_song
from tests.ui import fits

HITS, LATE = (3.0, 5.0, 7.0), (0.0, 0.25, -0.02)
NAMES = ("front double biceps", "front lat spread", "victory")
PATIENCE = 60_000


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


def test_without_a_film_it_says_how_to_film(window):
    window.film_of_a_run()
    flow = window.findChild(FilmFlow)
    assert "whole body" in flow.guide.words.text()
    assert flow.guide.isVisible()


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
