"""Sets up Rehearse and opens the demo routine: `python3 demo/start.py`.

Without a screen it rehearses the same routine headless and says where pictures and sound are.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

from environment import PYTHON, ROOT, prepare

SOURCE = ROOT / "demo" / "copper-lights"
#: The routine is rehearsed in a copy, so that the log and edits stay out of the demo itself.
COPY = ROOT / ".demo" / "copper-lights"
OUT = ROOT / ".demo" / "dry-run"


def has_screen() -> bool:
    """Whether a window can be opened here."""
    if sys.platform in ("win32", "darwin"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def rehearse(*arguments: str) -> int:
    """Run the program in the project's own environment."""
    return subprocess.run(
        [str(PYTHON), "-m", "rehearse", *arguments], cwd=ROOT, check=False
    ).returncode


def headless() -> int:
    """The main job without a screen: the whole at full tempo, one section slower on a loop."""
    whole = rehearse("dry-run", str(COPY), "--out", str(OUT / "whole"))
    loop = rehearse(
        "dry-run", str(COPY), "--section", "Back", "--tempo", "60", "--passes", "2",
        "--out", str(OUT / "back-at-60"),
    )  # fmt: skip
    log = rehearse("log", str(COPY))
    print(f"\nNo screen here, so the demo was rehearsed without one.\nPictures and sound: {OUT}")
    return max(whole, loop, log)


def main() -> int:
    """Set up, copy the demo routine once, and open or rehearse it."""
    prepare()
    if not COPY.exists():
        shutil.copytree(SOURCE, COPY)
    return rehearse("open", str(COPY), "--walk") if has_screen() else headless()


if __name__ == "__main__":
    sys.exit(main())
