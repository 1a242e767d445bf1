"""What the stage display chooses to show."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QSize

from rehearse.ui.stage.options import StageOptions
from rehearse.ui.stage.paint import Stage

from .made import sheet


@pytest.mark.parametrize("state", ["ready", "rest", "done", "no sound"])
def test_before_the_music_the_figure_is_the_pose_that_is_named(qapp, state):
    cue_sheet = sheet(120)
    second, third = cue_sheet.cues[1:3]
    moment = cue_sheet.ready(second.hit + 0.1)
    assert moment.next is third
    stage = Stage(cue_sheet, StageOptions(state=state), QSize(640, 360))
    on_the_hit = cue_sheet.at(third.hit - 1e-6)
    playing = Stage(cue_sheet, StageOptions(state="playing"), QSize(640, 360))
    assert stage.look(moment).figure == playing.look(replace(on_the_hit, travel=1.0)).figure
