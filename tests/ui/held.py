"""The real window on a routine, started by `test_held_keys`: it says in lines what goes on.

Arguments: the routine's folder, a settings file.
"""

import sys
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QTimer

from rehearse.app import make_application
from rehearse.ui.pages.rehearse.drill_settings import DrillSettings
from rehearse.ui.settings import Settings
from rehearse.ui.window import REHEARSE, Window
from rehearse.ui.workspace import Workspace


def say(*words):
    print(*words, flush=True)


def main(folder, stored):
    application = make_application(["rehearse"])
    settings = Settings(stored)
    settings.put("silent", True)
    for caution in ("warm up", "ask"):
        settings.put(f"cautions/{caution}", "always")
    workspace = Workspace(settings)
    window = Window(workspace)
    window.resize(1280, 720)
    window.show()
    assert workspace.open(folder)

    def begin():
        window.show_page(REHEARSE)
        page = window.page
        drill = replace(DrillSettings(), way="steps", first=60, up=20, after=1, clean=1, count_in=1)
        page.drill_panel.form.set_drill_settings(drill)
        last = []

        def tell(_view=None):
            first, view = page.drill_panel.form.drill_settings.first, page.host.view
            told = (view.state, first, page.drill_panel.line.scope.name)
            if told != (last[-1] if last else None):
                last.append(told)
                say("now", *told)

        page.stage.looked.connect(tell)
        page.host.moved.connect(tell)
        page.drill_panel.changed.connect(tell)
        page.keys.actions["missed"].triggered.connect(lambda: say("missed"))
        told_by = QTimer(page, interval=20)
        told_by.timeout.connect(tell)
        told_by.start()
        say("ready")

    workspace.trackChanged.connect(
        lambda: workspace.track is not None and QTimer.singleShot(300, begin)
    )
    application.exec()


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
