"""Painting the stage display at 1920×1080: median, 95 % and largest, with the demo's routine.

Every frame of ten seconds of music at 60 frames a second is painted into a picture; CPU time is
told beside wall time because other work on the machine disturbs only the latter.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
from PySide6.QtCore import QSize
from PySide6.QtGui import QImage, QPainter

ROOT = Path(__file__).resolve().parents[2]
MOST_MS = 8.0


def main() -> int:
    """Measure and print; 1 when the median is missed."""
    from rehearse.app import make_application
    from rehearse.cueing.cues import CueSheet
    from rehearse.routine.folder import open_folder
    from rehearse.routine.poses import load_catalogue
    from rehearse.ui.stage.paint import Stage
    from rehearse.ui.stage.stage_options import StageOptions

    application = make_application(["bench"])
    opened = open_folder(ROOT / "demo" / "copper-lights")
    sheet = CueSheet.compile(opened.routine, opened.beatmap, load_catalogue())
    loudness = np.linspace(0.2, 1.0, 480, dtype=np.float32)
    worst = 0.0
    for width, height in ((1366, 768), (1920, 1080), (2560, 1440)):
        stage = Stage(sheet, StageOptions(loudness=loudness), QSize(width, height))
        picture = QImage(width, height, QImage.Format.Format_RGB32)
        wall, cpu = [], []
        for frame in range(600):
            cue_state = sheet.at(12.0 + frame / 60)
            before, used = time.perf_counter(), time.process_time()
            painter = QPainter(picture)
            stage.paint(painter, cue_state)
            painter.end()
            wall.append(time.perf_counter() - before)
            cpu.append(time.process_time() - used)
        w, c = (np.array(x) * 1000 for x in (wall, cpu))
        print(
            f"{width}×{height}: wall median {np.median(w):5.2f} p95 {np.percentile(w, 95):5.2f} "
            f"max {w.max():5.1f} ms, CPU median {np.median(c):5.2f} p95 {np.percentile(c, 95):5.2f}"
        )
        if width == 1920:
            worst = float(np.median(w))
    del application
    return int(worst > MOST_MS)


if __name__ == "__main__":
    sys.exit(main())
