"""Imported before Qt by the window's process, whose start it shortens.

Qt for Python replaces the import function, which slows down every import after it: what the
window needs anyway is imported here first. NumPy, which takes as long as all of Qt, is not: it
is loaded once the first picture is on the screen.
"""

import rehearse.cueing.cues
import rehearse.practice.cautions
import rehearse.practice.logbook
import rehearse.practice.summary
import rehearse.routine.folder  # noqa: F401
