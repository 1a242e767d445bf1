"""Whose figure shows the routine: chosen with the show, kept, and the same wherever it is drawn."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.cueing.cues import CueSheet
from rehearse.handout.sheet.drawings import draw_figure
from rehearse.handout.sheet.paper import Paper
from rehearse.routine.folder import open_folder
from rehearse.routine.look import MAN, Look, look_of_routine
from rehearse.routine.poses import load_catalogue
from rehearse.ui import theme
from rehearse.ui.figure.painter import paint_figure
from rehearse.ui.figure.pose_thumbs import Thumbs
from rehearse.ui.flows.show import ShowAndRules
from rehearse.ui.stage.paint import Stage
from rehearse.ui.stage.stage_options import StageOptions

DEMO = Path(__file__).parents[2] / "demo" / "copper-lights"
WOMAN = Look("woman", "two-piece", "dark", heels=True)


@pytest.fixture
def opened(workspace, tmp_path):
    shutil.copytree(DEMO, tmp_path / "mine")
    assert workspace.open(tmp_path / "mine")
    return workspace


def pixels(image: QImage) -> np.ndarray:
    flat = image.convertToFormat(QImage.Format.Format_RGB32)
    return np.array(flat.constBits()).reshape(flat.height(), flat.width(), 4)[..., :3].astype(int)


def luminance(red: float, green: float, blue: float) -> float:
    """Relative luminance, WCAG 2.2."""
    parts = np.array([red, green, blue])
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def test_figure_dress_and_skin_are_chosen_with_the_show_in_one_step(opened):
    before, flow = opened.routine, ShowAndRules(opened)
    assert [box.currentData() for box in (flow.figure, flow.dress, flow.skin)] == [
        before.figure, before.dress, before.skin,
    ]  # fmt: skip
    for box, value in ((flow.figure, "woman"), (flow.dress, "one-piece"), (flow.skin, "dark")):
        box.setCurrentIndex(box.findData(value))
    flow.division.setText("Bikini")
    flow.do_main()
    assert look_of_routine(opened.routine) == Look("woman", "one-piece", "dark", heels=True)
    assert opened.catalogue.find("victory").look.figure == "woman"
    assert opened.catalogue is opened.catalogue  # made once, asked for by every look-up
    opened.undo.undo()
    assert opened.routine == before
    flow.close()


def test_the_figure_is_chosen_by_keys(opened, qtbot):
    flow = ShowAndRules(opened)
    qtbot.addWidget(flow)
    flow.show()
    qtbot.waitExposed(flow)
    for box, key in ((flow.figure, Qt.Key.Key_Down), (flow.skin, Qt.Key.Key_End)):
        box.setFocus()
        qtbot.keyClick(box, key)
    flow.do_main()
    assert (opened.routine.figure, opened.routine.skin) == ("woman", "dark")


def test_what_was_chosen_is_kept_in_the_file(opened):
    for figure, dress, skin in (("woman", "one-piece", "dark"), ("man", "board shorts", "light")):
        routine = replace(opened.routine, figure=figure, dress=dress, skin=skin)
        opened.edit("change show and rules", routine=routine)
        assert opened.save()
        again = open_folder(opened.folder).routine
        assert (again.figure, again.dress, again.skin) == (figure, dress, skin)


def test_pictures_of_poses_show_the_routines_figure(qapp):
    thumbs, pose = Thumbs(), load_catalogue().find("victory")
    man = pixels(thumbs.picture(pose, 88).toImage())
    woman = pixels(thumbs.picture(replace(pose, look=WOMAN), 88).toImage())
    assert np.abs(man - woman).max() > 60
    assert (man == pixels(thumbs.picture(pose, 88).toImage())).all()


def test_the_stage_display_shows_the_routines_figure(opened):
    seen = []
    for figure in ("man", "woman"):
        routine = replace(opened.routine, figure=figure, dress="", skin="light", division="Bikini")
        sheet = CueSheet.compile(routine, opened.beatmap, load_catalogue().of(routine))
        image = QImage(683, 384, QImage.Format.Format_RGB32)
        stage, painter = Stage(sheet, StageOptions(), QSize(683, 384)), QPainter(image)
        stage.paint(painter, sheet.at(sheet.hits[2]))
        painter.end()
        seen.append(pixels(image))
    assert (np.abs(seen[0] - seen[1]).max(axis=2) > 60).sum() > 200


def test_the_printed_sheet_shows_the_routines_figure():
    figure = load_catalogue().find("victory").figure
    made = []
    for look in (MAN, WOMAN):
        paper = Paper((60, 60), "test")
        draw_figure(paper, figure, look, 0, 0, 60, 60)
        draw_figure(paper, figure, look, 0, 0, 60, 60)
        paper.end_page()
        made.append(paper.finish())
    assert made[0] != made[1]


@pytest.mark.parametrize("figure", ["man", "woman"])
@pytest.mark.parametrize("skin", ["light", "dark"])
def test_both_skins_stand_out_from_the_stage(qapp, figure, skin):
    # WCAG 2.2, SC 1.4.6, the bound for text; SC 1.4.11 asks 3:1 of shapes.
    look, size = Look(figure, "two-piece" if figure == "woman" else "briefs", skin), 300
    image = QImage(size, size, QImage.Format.Format_RGB32)
    image.fill(QColor(theme.GROUND))
    painter, pose = QPainter(image), load_catalogue().find("front double biceps").figure
    ground = QColor(theme.GROUND)
    paint_figure(
        painter, QRectF(0, 0, size, size), pose, look,
        ink=QColor(theme.INK), accent=QColor(theme.NEXT), ground=ground,
    )  # fmt: skip
    painter.end()
    colours, counts = np.unique(pixels(image).reshape(-1, 3), axis=0, return_counts=True)
    blue, green, red = (colours[np.argsort(counts)[-2]] / 255).tolist()  # most but the stage itself
    stage = luminance(*ground.getRgbF()[:3])
    assert (luminance(red, green, blue) + 0.05) / (stage + 0.05) >= 7.0


def test_a_marked_body_keeps_its_colour(qapp):
    # What is held now wears the held colour, whatever the skin.
    made = []
    for skin in ("light", "dark"):
        image = QImage(100, 100, QImage.Format.Format_RGB32)
        image.fill(0)
        painter, pose = QPainter(image), load_catalogue().find("victory").figure
        held = QColor(theme.HELD)
        place = QRectF(0, 0, 100, 100)
        paint_figure(painter, place, pose, Look(skin=skin), ink=held, accent=held)
        painter.end()
        made.append(pixels(image))
    assert (made[0] == made[1]).all()
