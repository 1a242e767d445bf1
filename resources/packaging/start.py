"""Where the packaged program begins: what a folder without Python around it needs, then the rest.

Run by PyInstaller's starter, never from the checkout.
"""

from __future__ import annotations

import ctypes.util
import os
import sys
from pathlib import Path

_HERE = Path(getattr(sys, "_MEIPASS", ""))
_PATHS = "LD_LIBRARY_PATH"


def _give_back_paths() -> None:
    """Let programs of the system that are started from here find the system's libraries.

    The starter has put the folder in front of them; the loader of this process has read that
    already. A child process of the program is told to have it set up anew by its own starter.
    """
    before = os.environ.pop(f"{_PATHS}_ORIG", None)
    if before is not None:
        os.environ[_PATHS] = before
    else:
        os.environ.pop(_PATHS, None)
    os.environ["PYINSTALLER_RESET_ENVIRONMENT"] = "1"


def _find_bundled() -> None:
    """Let the sound library that lies in the folder be found without a compiler or `ldconfig`."""
    search = ctypes.util.find_library

    def find(name: str) -> str | None:
        bundled = _HERE / f"lib{name}.so.2"
        return str(bundled) if bundled.is_file() else search(name)

    ctypes.util.find_library = find


_give_back_paths()
if sys.platform.startswith("linux"):
    _find_bundled()

from rehearse.__main__ import begin  # noqa: E402

sys.exit(begin())
