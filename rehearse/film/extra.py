"""The extra `film`, OpenCV: whether it is there, and what is typed to have it.

It is looked for, not loaded: the window asks, the process that reads a film uses it.
"""

from __future__ import annotations

import importlib.util
import sys

from rehearse.words import _

MODULE, PACKAGE = "cv2", "opencv-python-headless>=4.10"
#: What readings lack without it.
LESS_SURE = _(
    "Without the extra “film”, a pause on the way in is more often taken for the arrival, and more "
    "poses cannot be read."
)


def installed() -> bool:
    """Whether the extra is there."""
    return importlib.util.find_spec(MODULE) is not None


def install_line() -> str:
    """The line that installs it for this Python; empty where nothing can be installed."""
    if getattr(sys, "frozen", False):
        return ""
    python = f'"{sys.executable}"' if " " in sys.executable else sys.executable
    return " ".join((python, "-m", "pip", "install", f'"{PACKAGE}"'))


def offer() -> str:
    """What is less sure, and the line that changes it; empty where the extra is there."""
    if installed():
        return ""
    line = install_line()
    if not line:
        return LESS_SURE
    return _("{less_sure} This line installs it: {line}", less_sure=LESS_SURE, line=line)
