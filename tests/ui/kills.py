"""The real window killed in mid-pass: `python -m tests.ui.kills KILLS SEED`.

Each time a window begins a loop of a short section, says how many passes its list shows, and is
killed at a random moment of it. Whatever it showed must be in the logbook that is opened next, no
pass twice. Exit status 1 when one was lost.
"""

import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from rehearse.practice.logbook import FILE_NAME, Logbook
from rehearse.routine.folder import open_folder

ROOT = Path(__file__).resolve().parents[2]


def scene(folder, settings):
    """Loop the shortest section for ever; say what the list shows."""
    from dataclasses import replace

    from PySide6.QtCore import QTimer

    from rehearse.app import make_application
    from rehearse.ui.pages.rehearse.drill_settings import DrillSettings
    from rehearse.ui.settings import Settings
    from rehearse.ui.window import REHEARSE, Window
    from rehearse.ui.workspace import Workspace

    application = make_application(["rehearse"])
    workspace = Workspace(Settings(settings))
    workspace.settings.put("silent", True)
    window = Window(workspace)
    workspace.open(folder)
    window.show()
    window.show_page(REHEARSE)
    page = window.page

    def begin():
        if workspace.track is None:
            QTimer.singleShot(50, begin)
            return
        page.drill_panel.step(1)
        page.drill_panel.form.set_drill_settings(replace(DrillSettings(), count_in=0))
        page.controller.begin_chosen()
        print("began", flush=True)

    page.standings.changed.connect(
        lambda: print("shown", page.standings.summary.sections[0].passes, flush=True)
    )
    begin()
    application.exec()


def killed(folder, settings, delay):
    """Passes shown by a window that was killed `delay` seconds after it began."""
    command = [sys.executable, "-m", "tests.ui.kills", "scene", str(folder), str(settings)]
    environment = {
        **os.environ,
        "PYTHONPATH": str(ROOT),
        "QT_QPA_PLATFORM": "offscreen",
        "XDG_DATA_HOME": str(folder.parent / "machine"),
        "XDG_STATE_HOME": str(folder.parent / "machine"),
    }
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, text=True, cwd=ROOT, env=environment
    ) as process:
        for line in process.stdout:
            if line == "began\n":
                break
        time.sleep(delay)
        process.send_signal(signal.SIGKILL)
        shown = [int(x.split()[1]) for x in process.stdout.read().splitlines() if "shown" in x]
    return max(shown, default=0)


def main(kills, seed):
    from tests.ui.made import fast_folder

    draw, lost = random.Random(seed), 0
    with tempfile.TemporaryDirectory(prefix="kills-") as name:
        folder = fast_folder(Path(name) / "routine")
        for number in range(kills):
            shown = killed(folder, Path(name) / "settings.ini", draw.uniform(0.2, 6.0))
            identity = open_folder(folder).routine.id
            with Logbook(folder / FILE_NAME, identity=identity) as book:
                passes = book.history()
                assert book.notice == ""
            complete = sum(p.complete for p in passes)
            twice = len(passes) - len({p.id for p in passes})
            print(f"kill {number + 1}: {shown} shown, {complete} in the logbook, {twice} twice")
            lost += max(0, shown - complete) + twice
    print(f"{kills} kills, seed {seed}: {lost} lost or doubled")
    return 1 if lost else 0


if __name__ == "__main__":
    if sys.argv[1] == "scene":
        scene(Path(sys.argv[2]), Path(sys.argv[3]))
    else:
        sys.exit(main(int(sys.argv[1]), int(sys.argv[2])))
