"""Process start to first painted window, with the demo loaded, against a bare window.

Both run on Qt's off-screen platform, five times each, in turn; the medians' ratio is the figure.
"""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RUNS = 5
MOST = 2.5

BARE = """
import sys
from PySide6.QtWidgets import QApplication, QWidget
class Window(QWidget):
    def paintEvent(self, event):
        print("painted", flush=True)
app = QApplication(sys.argv)
window = Window()
window.resize(1280, 720)
window.show()
app.exec()
"""
OURS = """
import sys
from pathlib import Path
import rehearse.files.quick_start
rehearse.files.quick_start.begin()  # and Qt after it: as the command does
import rehearse.app, rehearse.ui.window
from PySide6.QtCore import QTimer
class Window(rehearse.ui.window.Window):
    def __init__(self, workspace):
        super().__init__(workspace)
        self.painted.connect(lambda: QTimer.singleShot(0, lambda: print("painted", flush=True)))
        workspace.startFinished.connect(lambda: QTimer.singleShot(0, self.tell_all))
    def tell_all(self):
        print("whole", flush=True)
rehearse.app.Window = Window
rehearse.app.run(Path(sys.argv[1]))
"""


def seconds(
    code: str, *arguments: str, environment: dict[str, str], word: str = "painted"
) -> float:
    """From starting the process to its word."""
    begun = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-c", code, *arguments],
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env=environment,
    )
    assert process.stdout is not None
    for line in process.stdout:
        if line.strip() == word:
            break
    taken = time.perf_counter() - begun
    process.kill()
    process.wait()
    process.stdout.close()
    return taken


def main() -> int:
    """Measure and print; 1 when the ratio is missed."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        demo = Path(folder) / "demo"
        shutil.copytree(ROOT / "demo" / "copper-lights", demo)
        environment = os.environ | {"QT_QPA_PLATFORM": "offscreen", "XDG_CONFIG_HOME": folder}
        # As on an athlete's machine: byte code, and what else is kept, is from the first start on.
        environment |= {"PYTHONPYCACHEPREFIX": str(Path(folder) / "bytecode")}
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        bare, ours = [], []
        seconds(BARE, environment=environment)
        seconds(OURS, str(demo), environment=environment, word="whole")
        for _ in range(RUNS):
            bare.append(seconds(BARE, environment=environment))
            ours.append(seconds(OURS, str(demo), environment=environment))
    ratio = statistics.median(ours) / statistics.median(bare)
    print(f"bare window     {statistics.median(bare) * 1000:6.0f} ms (median of {RUNS})")
    print(f"with the demo   {statistics.median(ours) * 1000:6.0f} ms")
    print(f"ratio           {ratio:6.2f} (at most {MOST})")
    return int(ratio > MOST)


if __name__ == "__main__":
    sys.exit(main())
