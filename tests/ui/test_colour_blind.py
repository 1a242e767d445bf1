"""Whoever lacks one kind of cone reads and tells apart the same: by contrast and by shape."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QCheckBox, QPushButton

from rehearse.ui import theme
from rehearse.ui.pages.routine.findings import SIGNS
from rehearse.ui.stage.stage_options import StageOptions
from rehearse.ui.window import REHEARSE, ROUTINE, Window
from rehearse.ui.workspace import Workspace

from .made import DEMO

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))
from colour_blind import KINDS, contrast, differing, luminance, shape, simulated

each_kind = pytest.mark.parametrize("kind", KINDS)


def colour(name):
    return np.array([int(name[k : k + 2], 16) / 255 for k in (1, 3, 5)])


@each_kind
def test_the_matrices_keep_white_white_and_black_black(kind):
    assert np.sum(KINDS[kind], axis=1) == pytest.approx([1.0, 1.0, 1.0], abs=1e-5)
    assert simulated(np.zeros(3), kind) == pytest.approx(np.zeros(3))


def test_red_and_green_of_one_luminance_are_one_colour_without_the_right_cones():
    """The model does what it is for: this red and this green, told apart by everyone else."""
    red, green = colour("#c4523a"), colour("#7f7a2e")
    far = np.abs(simulated(red, "deuteranopia") - simulated(green, "deuteranopia")).max()
    assert far < np.abs(simulated(red, "tritanopia") - simulated(green, "tritanopia")).max() / 2


@each_kind
@pytest.mark.parametrize(("ink", "ground", "least"), theme.PAIRS)
def test_every_text_keeps_its_contrast(kind, ink, ground, least):
    """SC 1.4.3 (4.5:1 for text) holds without the cones too; the look's own 7:1 with them."""
    seen = [float(luminance(simulated(colour(name), kind))) for name in (ink, ground)]
    assert contrast(*seen) >= min(least, 4.5)


def test_a_colour_alone_is_no_difference():
    """What these tests would find: the same square in two colours of the look."""
    one, other = (QImage(20, 20, QImage.Format.Format_RGB32) for _ in range(2))
    one.fill(QColor(theme.NEXT))
    other.fill(QColor(theme.HELD))
    assert all(differing(one, other, theme.GROUND, kind) == 0 for kind in KINDS)
    assert all(shape(one, theme.GROUND, kind).all() for kind in KINDS)


@pytest.fixture
def window(qapp, settings, tmp_path, qtbot):
    workspace = Workspace(settings)
    window = Window(workspace)
    qtbot.addWidget(window)
    window.workspace = workspace
    window.resize(1366, 768)
    window.show()
    assert workspace.open(shutil.copytree(DEMO, tmp_path / "copper-lights"))
    qtbot.waitUntil(lambda: workspace.track is not None, timeout=20_000)
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    yield window
    window.close()
    workspace.save()
    workspace.close()


def looks(window):
    """Two pictures of each pair of states that must be told apart, by the pair's name."""
    head = window._head.buttons
    window.show_page(REHEARSE)
    shown = head[REHEARSE].grab().toImage()
    window.show_page(ROUTINE)
    yield "page shown or not", shown, head[REHEARSE].grab().toImage()

    page, poses = window.page, window.workspace.routine.poses
    page.choreography.editor.select("")
    none = page.lane.grab().toImage()
    page.choreography.editor.select(poses[1].id)
    yield "pose chosen in the lane or not", page.lane.grab().toImage(), none
    table = page.table
    row = QRect(0, table.rowViewportPosition(1), 300, table.rowHeight(1))
    chosen = table.viewport().grab(row).toImage()
    page.choreography.editor.select(poses[0].id)
    yield "row chosen or not", chosen, table.viewport().grab(row).toImage()

    window.show_page(REHEARSE)
    page = window.page
    drills = page.drill_panel.list
    line = drills.visualRect(drills.model().index(1))
    drills.choose(1)
    chosen = drills.viewport().grab(line).toImage()
    drills.choose(0)
    yield "drill chosen or not", chosen, drills.viewport().grab(line).toImage()
    buttons = {b.accessibleName().partition(",")[0]: b for b in page.findChildren(QPushButton)}
    clean, missed = (
        buttons[name].grab(QRect(0, 0, 36, 38)).toImage() for name in ("Clean", "Missed")
    )
    yield "clean or missed", clean, missed
    stage = page.stage
    first = window.workspace.sheet.cues[1]
    stage.set_start(first.start - 0.5)
    coming = stage.grab().toImage()
    stage.set_start(first.hit + 0.01)
    yield "the next pose or the one held", stage.grab().toImage(), coming
    page.toggle_setup()
    check = page.findChild(QCheckBox)
    before = check.grab().toImage()
    check.setChecked(not check.isChecked())
    yield "checked or not", check.grab().toImage(), before
    check.setChecked(not check.isChecked())
    page.close_setup()
    button = buttons["Full screen"]
    window.page.setFocus()
    before = button.grab().toImage()
    button.setFocus(Qt.FocusReason.TabFocusReason)
    yield "with the focus or not", button.grab().toImage(), before


#: Pixels that a shape has at least: a stroke of 2 by 20.
LEAST = 40


def test_states_differ_by_shape_for_every_eye(window):
    alike = []
    for name, one, other in looks(window):
        for kind in KINDS:
            if (pixels := differing(one, other, theme.GROUND, kind)) < LEAST:
                alike.append(f"{name}: {pixels} pixels of shape, {kind}")
    assert alike == []


def test_findings_differ_by_their_signs():
    assert len(set(SIGNS.values())) == len(SIGNS) == 3


def test_steady_border_and_no_animation_reach_the_display(window):
    """What is set once in the set-up holds for the stage at once: reduced motion and flash."""
    window.show_page(REHEARSE)
    settings = window.workspace.settings
    for name in ("reduced_motion", "reduced_flash"):
        for value in (True, False):
            settings.put(name, value)
            base: StageOptions = window.page.stage.base
            assert getattr(base, name) == value
