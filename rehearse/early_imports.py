"""Imported before Qt by the window's process, whose start it shortens.

Qt for Python replaces the import function, which slows down every import after it: what the
first picture needs anyway is imported here. NumPy, which takes as long as all of Qt, is not, nor
is the logbook: they are loaded once the first picture is on the screen.
"""

import rehearse.cueing.cues
import rehearse.routine.folder
import rehearse.routine.posefile
import rehearse.ui.stage.changes
import rehearse.ui.stage.frame_timer
import rehearse.ui.stage.showing
import rehearse.ui.stage.stage_options  # noqa: F401
