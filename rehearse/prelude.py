"""Imported before Qt by the window's process, whose start it shortens.

Qt for Python replaces the import function, which slows down every import after it: what the
window needs anyway is imported here first. The window multiplies no matrices: one thread for
them saves the time to start the others. Worker processes are not touched by this.
"""

import os

_before = os.environ.get("OPENBLAS_NUM_THREADS")
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as numpy  # noqa: E402

if _before is None:
    del os.environ["OPENBLAS_NUM_THREADS"]
else:
    os.environ["OPENBLAS_NUM_THREADS"] = _before

import rehearse.cueing.cues  # noqa: E402
import rehearse.practice.cautions  # noqa: E402
import rehearse.practice.logbook  # noqa: E402
import rehearse.practice.summary  # noqa: E402
import rehearse.routine.folder  # noqa: E402, F401
