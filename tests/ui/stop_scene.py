"""A real window for a real screen: says on standard output what sounds, until it is ended.

`python -m tests.ui.stop_scene FOLDER SETTINGS`
"""

import sys
from pathlib import Path

from PySide6.QtCore import QTimer

from rehearse.app import make_application
from rehearse.ui.settings import Settings
from rehearse.ui.window import Window
from rehearse.ui.workspace import Workspace


def main(folder, settings):
    application = make_application(["rehearse"])
    workspace = Workspace(Settings(settings))
    workspace.settings.put("silent", True)
    window = Window(workspace)
    workspace.open(folder)
    window.show()
    told = []

    def tell():
        page = type(window.page).__name__ if window._flow is None else type(window._flow).__name__
        state = f"{page} {'sound' if workspace.is_playing else 'silence'}"
        if workspace.track is not None and state != (told or [""])[-1]:
            told.append(state)
            print(state, flush=True)

    timer = QTimer(interval=20)
    timer.timeout.connect(tell)
    timer.start()
    workspace.stopAsked.connect(lambda: print("stop", flush=True))
    application.exec()


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
