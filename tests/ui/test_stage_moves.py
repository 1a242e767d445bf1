"""The stage display's figure goes through its moves; photos of own moves are shown in place."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QRectF, QSize
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.cueing.cues import CueSheet
from rehearse.music.position import Count, Length
from rehearse.routine.figure import between, distance
from rehearse.routine.model import Move, OwnMove, Place, Placed, Routine
from rehearse.routine.motion import body_at
from rehearse.routine.poses import load_catalogue
from rehearse.ui.stage.layout import Box
from rehearse.ui.stage.mover import Mover
from rehearse.ui.stage.paint import Stage
from rehearse.ui.stage.stage_options import StageOptions, ViewingDistance

from .made import sheet


def cues_of(moves, own=()):
    beatmap = sheet(120).beatmap
    poses = (
        Placed("a", "front double biceps", Count(3, 1), Length(4), Length(8), moves=moves[:1]),
        Placed("b", "front double biceps", Count(5, 1), Length(4), Length(8), moves=moves[1:]),
    )
    routine = Routine("t", "t.wav", poses=poses, own_moves=own)
    return CueSheet.compile(routine, beatmap, load_catalogue()).cues


def painted(mover, cue, last, travel):
    mover.choose(cue, last, travel, QColor("#fa0"))
    image = QImage(300, 400, QImage.Format.Format_RGB32)
    image.fill(QColor("black"))
    painter = QPainter(image)
    mover.draw(painter)
    painter.end()
    return image


def test_the_way_into_a_cue_goes_through_its_moves():
    walk, gather = Move("m", "walk on", Length(4)), Move("n", "gather", Length(4))
    first, second = cues_of((walk, gather))
    assert first.way.before is None
    middle = (second.way.start + second.way.end) / 2
    plain = between(first.pose.figure, second.pose.figure, 0.5)
    assert distance(body_at(second.way, middle).figure, plain) > 0.1


def test_the_figure_on_the_stage_shows_the_move(qapp):
    walk, gather = Move("m", "walk on", Length(4)), Move("n", "gather", Length(4))
    first, second = cues_of((walk, gather))
    mover = Mover(Box(0, 0, 300, 400), 1.0)
    still = painted(mover, second, first, 1.0)
    assert painted(mover, second, first, 0.5) != still
    assert painted(mover, second, first, 0.0) == painted(mover, first, None, 1.0)


def test_one_that_walks_on_comes_from_aside(qapp):
    walk = Move("m", "walk on", Length(6), direction="left")
    first, _ = cues_of((walk, Move("n", "gather", Length(4))))
    mover = Mover(Box(0, 0, 300, 400), 1.0)

    def middle(image):
        columns = [
            x
            for x in range(0, 300, 2)
            for y in range(0, 400, 4)
            if image.pixelColor(x, y).red() > 90
        ]
        return sum(columns) / len(columns)

    # The athlete's own left is the viewer's right.
    assert middle(painted(mover, first, None, 0.2)) > middle(painted(mover, first, None, 1.0)) + 5


def test_the_photos_of_an_own_move_are_shown_while_it_is_done(qapp, tmp_path):
    (tmp_path / "pictures").mkdir()
    for name, colour in (("1", "red"), ("2", "blue")):
        photo = QImage(90, 120, QImage.Format.Format_RGB32)
        photo.fill(QColor(colour))
        assert photo.save(str(tmp_path / "pictures" / f"{name}.png"))
    own = OwnMove("lantern swing", ("pictures/1.png", "pictures/2.png"))
    swing = Move("n", "lantern swing", Length(4))
    first, second = cues_of((Move("m", "walk on", Length(4)), swing), (own,))
    mover = Mover(Box(0, 0, 300, 400), 1.0, folder=tmp_path)
    for travel, colour in ((0.1, "red"), (0.4, "blue")):
        picture = painted(mover, second, first, travel)
        assert picture.pixelColor(150, 250) == QColor(colour)
    assert painted(mover, second, first, 0.9).pixelColor(150, 250) != QColor("blue")


def test_the_pictures_of_a_clip_are_read_one_a_frame_while_the_figure_stands(
    qapp, tmp_path, monkeypatch
):
    """Read as they came up, sixteen of them held the stage up in the middle of the move."""
    names = tuple(f"pictures/{k}.png" for k in range(16))
    own = OwnMove("lantern swing", names)
    swing = Move("n", "lantern swing", Length(4))
    first, second = cues_of((Move("m", "walk on", Length(4)), swing), (own,))
    mover, read = Mover(Box(0, 0, 30, 40), 1.0, folder=tmp_path), []
    monkeypatch.setattr(mover, "_read", lambda _, name: read.append(name) or mover._empty())
    for frame in range(1, 17):
        mover.choose(second, first, 0.0, QColor("#fa0"))
        assert len(read) == frame
    for step in range(50):
        mover.choose(second, first, step / 50, QColor("#fa0"))
    assert tuple(read) == names


@pytest.mark.parametrize("travel", [0.0, 0.3, 1.0])
def test_a_missing_photo_leaves_the_figure(qapp, tmp_path, travel):
    own = OwnMove("lantern swing", ("pictures/none.png",))
    swing = Move("n", "lantern swing", Length(4))
    first, second = cues_of((Move("m", "walk on", Length(4)), swing), (own,))
    mover = Mover(Box(0, 0, 300, 400), 1.0, folder=tmp_path)
    picture = painted(mover, second, first, travel)
    assert QRectF(picture.rect()).width() == 300
    assert any(picture.pixelColor(150, y).red() > 90 for y in range(0, 400, 5))


def test_the_way_off_after_the_last_pose_is_walked_on_the_stage(qapp):
    """Nobody was on the stage once the last hold was over."""
    beatmap = sheet(120).beatmap
    poses = (Placed("a", "crucifix", Count(3, 1), Length(4), Length(4)),)
    off = (Move("m", "bow", Length(2)), Move("n", "walk off", Length(6), direction="left"))
    routine = Routine("t", "t.wav", poses=poses, exit=off)
    cue_sheet = CueSheet.compile(routine, beatmap, load_catalogue())
    (cue,), leaving = cue_sheet.cues, cue_sheet.leaving
    assert (leaving.start, leaving.hit) == (cue.end, beatmap.shift(cue.end, Length(8.0)))
    stage = Stage(
        cue_sheet, StageOptions(viewing=ViewingDistance(3.0, 309.4 / 960)), QSize(960, 540)
    )
    keys, middles = [], []
    for part in (0.0, 0.2, 0.6, 0.97):
        cue_state = cue_sheet.at(leaving.start + part * (leaving.hit - leaving.start))
        assert cue_state.move is not None
        keys.append(stage.look(cue_state).figure)
        picture = stage._mover(stage.layout)._pictures[stage._mover(stage.layout)._shown]
        alpha = np.array(picture.convertToFormat(QImage.Format.Format_Alpha8).constBits())
        wide = alpha.reshape(picture.height(), -1)[:, : picture.width()].sum(axis=0)
        middles.append(float((wide * np.arange(len(wide))).sum() / wide.sum()))
    assert len(set(keys)) == 4
    # The athlete's own left is the viewer's right.
    assert middles[3] > middles[0] + 5
    assert stage.look(cue_sheet.at(leaving.hit + 0.1)).figure == ()


def test_a_body_that_goes_to_another_place_is_never_cut_off(qapp):
    """A lunge leaves its place with legs far apart: a foot lay beyond the picture's edge."""
    poses = (
        Placed("a", "lunge reach right", Count(3, 1), Length(4), Length(8), place=Place("left")),
        Placed(
            *("b", "front lat spread", Count(5, 1), Length(4), Length(8)),
            moves=(Move("m", "unfold", Length(4)),),
            place=Place("right"),
        ),
    )
    routine = Routine("t", "t.wav", poses=poses)
    first, second = CueSheet.compile(routine, sheet(120).beatmap, load_catalogue()).cues
    mover = Mover(Box(0, 0, 300, 400), 1.0)
    for step in range(1, 24):
        image = painted(mover, second, first, step / 24)
        edge = [image.pixelColor(x, y).red() for x in (0, 299) for y in range(0, 400, 2)]
        assert max(edge) == 0, step
