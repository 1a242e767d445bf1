"""A filmed run played in the window: how late each picture is shown, and what it costs.

usage: python -m tests.bench.film_play FOLDER [SECONDS]

FOLDER is a routine with a film that was read. Plays without a sound device, on the real clock.
Bound: 95 % of the pictures within one frame of their time (exit status 1 when broken).
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

SHARE = 0.95


def main() -> int:
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from PySide6.QtTest import QTest

    from rehearse.app import make_application
    from rehearse.ui.settings import Settings
    from rehearse.ui.window import Window
    from rehearse.ui.workspace import Workspace

    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 10.0
    app = make_application(["rehearse"])
    settings = Settings(Path(tempfile.mkdtemp()) / "settings.ini")
    settings.put("silent", True)
    workspace = Workspace(settings)
    window = Window(workspace)
    window.resize(1366, 768)
    window.show()
    workspace.open(Path(sys.argv[1]))
    window.film_of_a_run()
    flow = window._flow

    def wait(done) -> None:
        until = time.monotonic() + 120
        while not done() and time.monotonic() < until:
            app.processEvents()
            time.sleep(0.01)

    wait(lambda: workspace.track is not None and flow.take is not None)
    wait(lambda: flow.sheet.contact is not None)
    shown: list[tuple[float, float]] = []

    def painted(asked: float, own: float, image: object) -> None:
        if flow.watching.music.on:
            shown.append((flow.watching.film_second(), own))

    flow.watching.feeder.shown.connect(painted)
    flow.main_action()
    used = time.process_time()
    QTest.qWait(round(1000 * seconds))
    used = time.process_time() - used
    flow.main_action()
    # The first half second the music settles.
    first = shown[0][0] + 0.5 if shown else 0.0
    pairs = np.array([pair for pair in shown if pair[0] >= first])
    frame = float(np.median(np.diff(np.unique(pairs[:, 1])))) if len(pairs) > 2 else 1.0
    late = pairs[:, 0] - pairs[:, 1]
    share = float(np.mean((late > -0.002) & (late <= 2 * frame)))
    different = len(np.unique(pairs[:, 1])) / max(1e-9, (pairs[-1, 1] - pairs[0, 1]) / frame)
    print(
        f"{len(pairs)} pictures asked for, frame {1000 * frame:.0f} ms; shown in their own frame "
        f"or the next: {100 * share:.0f} %; frames shown {100 * different:.0f} %; lateness median "
        f"{1000 * np.median(late):.0f} ms, 95 % {1000 * np.percentile(late, 95):.0f} ms; "
        f"{100 * used / seconds:.0f} % of a core"
    )
    flow.leave()
    window.close()
    workspace.close()
    return 0 if share >= SHARE else 1


if __name__ == "__main__":
    sys.exit(main())
