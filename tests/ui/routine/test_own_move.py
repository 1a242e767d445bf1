"""Moves of one's own: a name, photos or a short clip, shown in place of the figure."""

from __future__ import annotations

import av
import numpy as np
import pytest
from PIL import Image
from PySide6.QtCore import Qt

from rehearse.files.user_error import UserError
from rehearse.routine.folder import open_folder
from rehearse.routine.model import OwnMove
from rehearse.routine.shots import MOST, make_shots

K = Qt.Key


def make_clip(path, frames=48, size=(160, 240), turned=0):
    """A clip that fades from black to white."""
    with av.open(str(path), "w") as film:
        stream = film.add_stream("mpeg4", rate=24)
        stream.width, stream.height, stream.pix_fmt = *size, "yuv420p"
        for k in range(frames):
            grey = np.full((size[1], size[0], 3), k * 255 // (frames - 1), np.uint8)
            film.mux(stream.encode(av.VideoFrame.from_ndarray(grey, "rgb24")))
        film.mux(stream.encode())
    return path


@pytest.fixture
def photos(tmp_path):
    names = []
    for number, colour in enumerate(("red", "lime", "blue")):
        names.append(tmp_path / f"swing {number}.png")
        Image.new("RGB", (40, 60), colour).save(names[-1])
    return names


def form(page, press, write, name):
    press(K.Key_Comma)
    write(name)
    page.move_picker.own.click()
    assert page.below.currentWidget() is page.own_move
    assert page.own_move.name.text() == name


def test_an_own_move_with_photos_is_made_in_the_window_and_put(
    page, workspace, press, write, at_once, photos, folder, qtbot
):
    page.editor.select("bbbbbbbb")
    form(page, press, write, "lantern swing")
    page.own_move.take(photos)
    press(K.Key_Return)  # while they are being read: it is written when they are there
    qtbot.waitUntil(lambda: bool(workspace.routine.own_moves))
    (own,) = workspace.routine.own_moves
    assert own.pictures == tuple(f"pictures/lantern-swing{n}.png" for n in ("", "-2", "-3"))
    assert all((folder / name).is_file() for name in own.pictures)
    assert [m.move for m in workspace.routine.placed("bbbbbbbb").moves] == ["lantern swing"]
    assert workspace.save()
    assert open_folder(folder).routine.own_moves == (own,)
    workspace.undo.undo()
    workspace.undo.undo()
    assert workspace.routine.own_moves == ()


def test_photos_of_an_own_move_are_added_to_one_that_was_only_named(
    page, workspace, press, write, at_once, photos, qtbot
):
    page.editor.select("bbbbbbbb")
    press(K.Key_Comma)
    write("lantern swing")
    press(K.Key_Return)  # no such move: it is added by its name
    assert workspace.routine.own_moves == (OwnMove("lantern swing"),)
    press(K.Key_Comma)
    write("lantern")
    assert page.move_picker.change.isVisible()
    press(K.Key_F2)
    page.own_move.take(photos[:2])
    qtbot.waitUntil(lambda: page.own_move._running is None)
    assert page.own_move.photo.text() == "swing 0.png and 1 more"
    colours = [p.pixmap().toImage().pixelColor(8, 8) for p in page.own_move.previews[:2]]
    assert (colours[0].red() > 200, colours[1].green() > 200) == (True, True)
    assert page.own_move.previews[2].isHidden()
    page.own_move.write.click()
    qtbot.waitUntil(lambda: page.below.currentWidget() is page.move_picker)
    assert len(workspace.routine.own_moves[0].pictures) == 2
    assert workspace.undo.undoText() == "change own move lantern swing"


def test_an_own_move_is_taken_out_once_it_is_not_done(page, workspace, press, write):
    page.editor.select("bbbbbbbb")
    press(K.Key_Comma)
    write("lantern swing")
    press(K.Key_Return)
    press(K.Key_Comma)
    page.move_picker._mark(page.move_picker.moves.row_of("lantern swing"))
    press(K.Key_Delete)
    assert workspace.errors[-1].startswith("Lantern swing is still in the routine")
    press(K.Key_Escape)
    press(K.Key_Delete)
    press(K.Key_Comma)
    page.move_picker._mark(page.move_picker.moves.row_of("lantern swing"))
    press(K.Key_Delete)
    assert workspace.routine.own_moves == ()


def test_a_file_that_is_none_is_told_in_one_sentence_and_changes_nothing(
    page, workspace, press, write, at_once, folder, qtbot
):
    form(page, press, write, "lantern swing")
    page.own_move.take([folder / "routine.yaml"])
    qtbot.waitUntil(lambda: page.own_move._running is None)
    assert "isn't a readable image" in workspace.errors[-1]
    assert page.own_move.photo.text() == "Choose photos or a clip"


def test_leaving_the_form_stops_what_it_reads(page, workspace, press, write, photos):
    form(page, press, write, "lantern swing")
    page.own_move.take(photos)
    press(K.Key_Escape)
    assert page.own_move._running is None
    assert not workspace.jobs
    assert workspace.routine.own_moves == ()


def test_a_clip_becomes_a_few_pictures_of_even_distance(tmp_path):
    shots = make_shots([make_clip(tmp_path / "swing.mp4")])
    assert 8 <= len(shots) <= MOST
    (tmp_path / "out").mkdir()
    greys = []
    for k, shot in enumerate(shots):
        (tmp_path / "out" / f"{k}.jpg").write_bytes(shot.data)
        with Image.open(tmp_path / "out" / f"{k}.jpg") as image:
            assert image.size == (160, 240)
            greys.append(image.convert("L").getpixel((80, 120)))
    steps = np.diff(greys)
    assert greys[0] < 10
    assert greys[-1] > 220
    assert steps.min() > 0.5 * steps.mean()
    assert steps.max() < 1.5 * steps.mean()


def test_a_large_photo_is_kept_upright_and_no_larger_than_a_screen(tmp_path):
    turned = Image.Exif()
    turned[0x0112] = 6  # orientation "right top": to be turned by a quarter (Exif 2.3, 4.6.4)
    Image.new("RGB", (4000, 3000), "navy").save(tmp_path / "large.jpg", exif=turned)
    (shot,) = make_shots([tmp_path / "large.jpg"])
    (tmp_path / "kept.jpg").write_bytes(shot.data)
    with Image.open(tmp_path / "kept.jpg") as image:
        assert image.size == (1800, 2400)
    assert len(shot.preview) < 20_000


@pytest.mark.parametrize(
    ("what", "sentence"),
    [
        ("long", "is longer than 20 s"),
        ("sound", "has no moving pictures"),
        ("text", "holds nothing that can be played"),
        ("many", "17 pictures were chosen"),
    ],
)
def test_what_cannot_be_shown_is_refused_in_one_sentence(tmp_path, photos, what, sentence):
    path = tmp_path / "film.mp4"
    paths = [path]
    if what == "long":
        make_clip(path, frames=24 * 22, size=(32, 32))
    elif what == "sound":
        with av.open(str(path), "w") as film:
            stream = film.add_stream("aac", rate=48_000)
            still = np.zeros((1, 4800), np.float32)
            frame = av.AudioFrame.from_ndarray(still, format="fltp", layout="mono")
            frame.sample_rate = 48_000
            film.mux(stream.encode(frame))
            film.mux(stream.encode())
    elif what == "text":
        path.write_text("no film\n" * 400)
    else:
        paths = [photos[0]] * (MOST + 1)
    with pytest.raises(UserError, match=sentence):
        make_shots(paths)
