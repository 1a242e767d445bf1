"""What the stage display chooses to show."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QSize
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.routine.poses import load_catalogue
from rehearse.ui.stage import still
from rehearse.ui.stage.layout import lay_out
from rehearse.ui.stage.paint import Stage
from rehearse.ui.stage.showing import cause_of
from rehearse.ui.stage.stage_options import USUAL_PIXEL_MM, StageOptions, ViewingDistance
from rehearse.ui.stage.stage_text import names_of
from rehearse.ui.stage.still import fit_name

from .made import sheet


@pytest.mark.parametrize("state", ["ready", "rest", "count-in"])
def test_before_the_music_the_figure_is_the_pose_that_is_named(qapp, state):
    cue_sheet = sheet(120)
    second, third = cue_sheet.cues[1:3]
    cue_state = cue_sheet.ready(second.hit + 0.1)
    assert cue_state.next is third
    stage = Stage(cue_sheet, StageOptions(state=state), QSize(640, 360))
    on_the_hit = cue_sheet.at(third.hit - 1e-6)
    playing = Stage(cue_sheet, StageOptions(state="playing"), QSize(640, 360))
    assert stage.look(cue_state).figure == playing.look(replace(on_the_hit, travel=1.0)).figure


@pytest.mark.parametrize("state", ["done", "no sound", "stopped"])
def test_where_nothing_comes_there_is_no_figure(qapp, state):
    cue_sheet = sheet(120)
    stage = Stage(cue_sheet, StageOptions(state=state), QSize(640, 360))
    assert stage.look(cue_sheet.ready(cue_sheet.cues[1].hit)).figure == ()


@pytest.mark.parametrize("size", [(608, 428), (570, 300), (1366, 768), (1920, 1080)])
def test_without_sound_it_says_what_is_wrong_and_what_the_key_does(qapp, monkeypatch, size):
    """In the least window it said only which key tries again."""
    told = []
    monkeypatch.setattr(
        still,
        "draw_lines",
        lambda _painter, _box, fitted, _ink: told.append(" ".join(fitted.lines)),
    )
    cue_sheet = sheet(120)
    options = StageOptions(
        state="no sound",
        viewing=ViewingDistance(4.0, 0.254),
        words="Space: try again, N: continue in silence",
        cause=cause_of("The sound device is gone – connect it again and press play."),
    )
    with QPainter(picture := QImage(*size, QImage.Format.Format_RGB32)) as painter:
        Stage(cue_sheet, options, QSize(*size)).paint(painter, cue_sheet.ready(0.0))
    assert picture.size() == QSize(*size)
    head, keys = told
    assert head.startswith("▲")
    assert head.lower().endswith("the sound device is gone")
    assert keys.startswith("Space: try again")


def photo(path, colour):
    picture = QImage(1200, 900, QImage.Format.Format_RGB32)
    picture.fill(QColor(colour))
    assert picture.save(str(path))


def share_of(image, colour):
    """How much of the image is about this colour."""
    wanted = QColor(colour)
    near = 0
    points = [(x, y) for x in range(0, image.width(), 8) for y in range(0, image.height(), 8)]
    for x, y in points:
        here = image.pixelColor(x, y)
        near += all(
            abs(a - b) < 12 for a, b in zip(here.getRgb()[:3], wanted.getRgb()[:3], strict=True)
        )
    return near / len(points)


def with_photo(cue_sheet, index, name):
    cues = list(cue_sheet.cues)
    cues[index] = replace(cues[index], pose=replace(cues[index].pose, picture=name))
    return replace(cue_sheet, cues=tuple(cues))


def painted(cue_sheet, cue_state, **options):
    stage = Stage(cue_sheet, StageOptions(**options), QSize(960, 540))
    image = QImage(960, 540, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    stage.paint(painter, cue_state)
    painter.end()
    return image


def test_an_own_poses_photo_stands_in_place_of_the_figure(qapp, tmp_path):
    photo(tmp_path / "own.png", "#2f7d32")
    cue_sheet = with_photo(sheet(120), 2, "own.png")
    third = cue_sheet.cues[2]
    for cue_state in (cue_sheet.ready(third.hit - 1.0), cue_sheet.at(third.hit - 0.3)):
        shown = painted(cue_sheet, cue_state, folder=tmp_path)
        assert share_of(shown, "#2f7d32") > 0.02
        assert share_of(painted(cue_sheet, cue_state), "#2f7d32") == 0
    # The way to the photo does not move: one picture serves all of it.
    stage = Stage(cue_sheet, StageOptions(folder=tmp_path), QSize(960, 540))
    keys = {stage.look(cue_sheet.at(third.hit - 0.1 * k)).figure for k in range(1, 8)}
    assert len(keys) == 1


@pytest.mark.parametrize("name", ["gone.png", "broken.png", "../outside.png"])
def test_a_photo_that_cannot_be_read_leaves_the_figure(qapp, tmp_path, name):
    folder = tmp_path / "routine"
    folder.mkdir()
    (folder / "broken.png").write_bytes(b"\x89PNG\r\n\x1a\nnothing")
    photo(tmp_path / "outside.png", "#2f7d32")
    cue_sheet = with_photo(sheet(120), 2, name)
    cue_state = cue_sheet.at(cue_sheet.cues[2].hit - 0.3)
    shown = painted(cue_sheet, cue_state, folder=folder)
    assert shown == painted(cue_sheet, cue_state)


def test_a_photo_is_read_ahead_and_never_on_a_frame_that_must_not_be_late(qapp, tmp_path):
    photo(tmp_path / "own.png", "#2f7d32")
    cue_sheet = with_photo(sheet(120), 2, "own.png")
    cue_state = cue_sheet.at(cue_sheet.cues[1].hit + 0.5)
    stage = Stage(cue_sheet, StageOptions(folder=tmp_path), QSize(960, 540))
    stage.look(cue_sheet.at(cue_sheet.cues[0].hit + 0.5))
    hurried = stage.look(cue_state, skip_slow=True)
    stage.prepare(cue_state)
    assert stage.look(cue_state, skip_slow=True).figure != hurried.figure


@pytest.mark.parametrize(("width", "height"), [(600, 420), (680, 440), (960, 540), (1366, 768)])
@pytest.mark.parametrize("metres", [3.0, 4.0, 5.0])
def test_no_name_of_the_catalogue_is_cut(qapp, width, height, metres):
    layout = lay_out(width, height, ViewingDistance(metres, USUAL_PIXEL_MM))
    for pose in load_catalogue().poses:
        cue = replace(sheet(120).cues[0], pose=pose)
        fitted = fit_name(layout, cue)
        assert " ".join(fitted.lines) in names_of(cue)
        assert fitted.cap >= 0.99 * layout.cap
