"""The stage display says one thing: all that is large is the next pose's, and one sign is one."""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QSize
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.cueing.cues import CueSheet
from rehearse.handout.sheet.drawings import draw_facing
from rehearse.music.position import Length
from rehearse.routine.model import Facing, Level, Move, Side
from rehearse.routine.poses import load_catalogue
from rehearse.routine.skeleton import Frames
from rehearse.ui import theme
from rehearse.ui.stage.facing_icon import draw_facing_icon
from rehearse.ui.stage.layout import Box, lay_out
from rehearse.ui.stage.paint import Stage
from rehearse.ui.stage.stage_options import StageOptions, ViewingDistance
from rehearse.ui.stage.still import MIRROR, corner_texts, paint_still

from .made import routine, sheet, steady

SIZE = QSize(960, 540)
SIGHT = ViewingDistance(3.0, 309.4 / 960)


def stage_of(cue_sheet, **options):
    return Stage(cue_sheet, StageOptions(**{"viewing": SIGHT, **options}), SIZE)


def picture(stage, cue_state):
    """The picture of the figure that is chosen for a moment, shape (height, width, 4)."""
    stage.look(cue_state)
    mover = stage._mover(stage.layout)
    image = mover._pictures[mover._shown].convertToFormat(QImage.Format.Format_RGBA8888)
    data = np.frombuffer(image.constBits(), np.uint8)
    return data.reshape(image.height(), image.width(), 4).copy()


def painted(stage, cue_state):
    image = QImage(SIZE, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    stage.paint(painter, cue_state)
    painter.end()
    data = np.frombuffer(image.constBits(), np.uint8).reshape(SIZE.height(), SIZE.width(), 4)
    return data[:, :, 2::-1].astype(int)


def share(pixels, colour, box):
    part = pixels[int(box.y) : int(box.bottom), int(box.x) : int(box.right)]
    return (np.abs(part - np.array(QColor(colour).getRgb()[:3])).max(axis=2) < 12).mean()


def test_from_a_hit_on_the_figure_is_the_next_pose_and_still(qapp):
    cue_sheet = sheet(120)
    held, coming = cue_sheet.cues[1:3]
    stage = stage_of(cue_sheet)
    wanted = picture(stage, cue_sheet.ready(held.hit + 0.1))  # before a start: the pose named
    for time in (held.hit, held.hit + 0.3, coming.start - 0.05):
        cue_state = cue_sheet.at(time)
        assert cue_state.next is coming
        assert cue_state.held is held
        assert np.array_equal(picture(stage, cue_state), wanted)


def test_in_the_transition_the_figure_runs_the_way_there_and_arrives(qapp):
    cue_sheet = sheet(120)
    held, coming = cue_sheet.cues[1:3]
    stage = stage_of(cue_sheet)
    there = picture(stage, cue_sheet.ready(held.hit + 0.1)).astype(int)
    from_held = picture(stage, cue_sheet.ready(held.hit - 0.1)).astype(int)  # the held pose
    parts = np.linspace(0.02, 0.999, 8)
    way = [
        picture(stage, cue_sheet.at(coming.start + part * (coming.hit - coming.start))).astype(int)
        for part in parts
    ]
    left = [np.abs(one - there).mean() for one in way]
    assert np.abs(way[0] - from_held).mean() < 0.2 * left[0]  # it begins in what was held
    assert left[-1] < 0.1 * left[0]
    assert len({one.tobytes() for one in way}) == len(way)


def test_what_is_held_is_small_cool_and_beneath(qapp):
    cue_sheet = sheet(120)
    held = cue_sheet.cues[1]
    stage = stage_of(cue_sheet)
    pixels = painted(stage, cue_sheet.at(held.hit + 0.6))
    layout = stage.layout
    assert layout.foot.y > layout.numeral.y
    assert share(pixels, theme.HELD, layout.foot) > 0.03
    bar = Box(layout.foot.x, layout.foot.y, 3, layout.foot.height)  # told by its shape, too
    assert share(pixels, theme.HELD, bar) > 0.6
    for box in (layout.name, layout.sign):
        assert share(pixels, theme.HELD, box) == 0
        assert share(pixels, theme.NEXT, box) > 0.03
    gone = painted(stage, cue_sheet.at(cue_sheet.cues[2].start + 0.05))
    assert share(gone, theme.HELD, layout.foot) == 0


def test_the_numeral_is_what_is_left_and_the_strip_is_what_is_said(qapp):
    cue_sheet = sheet(120)
    stage = stage_of(cue_sheet)
    hit = cue_sheet.cues[2].hit
    for back in (4, 3, 2, 1):
        look = stage.look(cue_sheet.at(hit - 0.5 * back + 0.01))
        assert (look.numeral, look.counted) == (str(back), str(9 - back))  # it is on a 1
    counted_in = stage_of(cue_sheet, state="count-in").look(cue_sheet.before(hit, 3.0, 0.5))
    assert (counted_in.numeral, counted_in.counted) == ("3", "6")


def moving_sheet():
    beats = steady(120.0)
    made = routine(beats, every=8, hold=2, transition=5)
    moves = (Move("m", "turn", Length(2), Side.LEFT), Move("n", "reach up", Length(2), Side.RIGHT))
    poses = [replace(pose, moves=moves) for pose in made.poses]
    return CueSheet.compile(replace(made, poses=tuple(poses)), beats, load_catalogue())


def test_the_move_under_way_stands_above_the_name_with_its_own_counts(qapp):
    cue_sheet = moving_sheet()
    coming = cue_sheet.cues[2]
    stage = stage_of(cue_sheet)
    shown = []
    for back in (5, 4, 3, 2, 1):
        cue_state = cue_sheet.at(coming.hit - 0.5 * back + 0.01)
        look = stage.look(cue_state)
        shown.append((cue_state.move.text if cue_state.move else "", look.move[0], look.numeral))
    assert shown == [
        ("turn left", "2", "5"),
        ("turn left", "1", "4"),
        ("reach up right", "2", "3"),
        ("reach up right", "1", "2"),
        ("", "", "1"),
    ]
    cue_state = cue_sheet.at(coming.start + 0.1)
    pixels = painted(stage, cue_state)
    assert stage.layout.move.bottom < stage.layout.name.y + 1
    assert share(pixels, theme.INK, stage.layout.move) > 0.05


@pytest.mark.parametrize("metres", [2.0, 3.0, 4.0, 5.0, 6.0])
def test_a_mirror_view_says_so(qapp, metres):
    cue_sheet = sheet(120)
    options = StageOptions(
        viewing=ViewingDistance(metres, 309.4 / 1920), mirrored=True, passes="3/8"
    )
    layout = lay_out(1920, 1080, options.viewing)
    told = []

    class Written(QPainter):
        def drawText(self, *arguments):
            told.append(arguments[-1])
            super().drawText(*arguments)

    image = QImage(1920, 1080, QImage.Format.Format_RGB32)
    painter = Written(image)
    paint_still(painter, cue_sheet.at(cue_sheet.cues[2].hit - 0.3), layout, options)
    painter.end()
    assert MIRROR in told
    assert MIRROR not in [text for text, _ in corner_texts(replace(options, mirrored=False))]


def test_a_mirror_view_mirrors_the_figure(qapp):
    cue_sheet = sheet(120, names=("archer left", "side chest left"))
    cue_state = cue_sheet.at(cue_sheet.cues[0].hit + 0.1)
    plain, flipped = (picture(stage_of(cue_sheet, mirrored=m), cue_state) for m in (False, True))
    same = np.abs(plain[:, ::-1].astype(int) - flipped).mean()
    assert same < 0.1 * np.abs(plain.astype(int) - flipped).mean()


@pytest.mark.parametrize("facing", list(Facing))
@pytest.mark.parametrize("mirrored", [False, True])
def test_the_signs_wedge_is_where_the_figures_face_looks(qapp, facing, mirrored):
    stance = load_catalogue().find("front stance")
    face = Frames.of(stance.seen(facing, Level.STANDING)).head @ np.array([0.0, 0.0, 1.0])
    wanted = np.array([-face[0] if mirrored else face[0], face[2]])  # right, and to the judges
    image = QImage(200, 200, QImage.Format.Format_RGB32)
    image.fill(0)
    painter = QPainter(image)
    ink, quiet = QColor("white"), QColor("black")
    draw_facing_icon(
        painter, Box(0, 0, 150, 150), facing, Level.STANDING, ink, quiet, mirrored=mirrored
    )
    painter.end()
    data = np.frombuffer(image.constBits(), np.uint8).reshape(200, 200, 4)[:150, :150, 0]
    rows, columns = np.nonzero(data > 128)
    middle = np.array([75.0, 75.0 - 150 * 0.066])
    pull = np.array([columns.mean(), rows.mean()]) - middle
    pull /= np.linalg.norm(pull)
    assert pull @ (wanted / np.linalg.norm(wanted)) > 0.98


@pytest.mark.parametrize("facing", list(Facing))
def test_the_printed_sign_is_the_same(facing):
    class Paper:
        def circle(self, *_, **__):
            pass

        def shape(self, points, **_):
            self.tip = np.array(points[0])

    paper = Paper()
    draw_facing(paper, facing, 0.0, 0.0, 1.0)
    assert paper.tip / np.linalg.norm(paper.tip) == pytest.approx(facing.looks, abs=1e-9)
