"""A real window in a process of its own that works and tells what was kept, until it is ended.

`python -m tests.helpers.driven FOLDER drill|edit`. It prints, each line at once:

    ready           the song is read, the window is up
    child PID       a process it has started
    music           a pass is heard (or counted, without a speaker)
    pass N          N complete passes are in the logbook
    edited N        the title is `N` in the window
    saved N         a save of title `N` was seen to end
    said SENTENCE   the fault line
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QTimer

import rehearse.app
import rehearse.ui.window
from rehearse.practice.drill import Drill, fixed
from rehearse.practice.logbook import Logbook
from rehearse.practice.scope import section_scope

#: Milliseconds between two edits, and between two looks.
EDIT_EVERY, LOOK_EVERY = 70, 10


def tell(*words: object) -> None:
    print(*words, flush=True)


class Window(rehearse.ui.window.Window):
    """The program's window, working by itself."""

    mode = "drill"

    def __init__(self, workspace: object) -> None:
        super().__init__(workspace)
        workspace.settings.put("silent", True)
        workspace.trackChanged.connect(self._begin)
        workspace.errorRaised.connect(lambda sentence: sentence and tell("said", sentence))
        self._edits, self._passes, self._saved, self._was = 0, -1, "", ""
        self._children: set[int] = set()
        self._looking = QTimer(self, interval=LOOK_EVERY, timeout=self._look)
        self._editing = QTimer(self, interval=EDIT_EVERY, timeout=self._edit)

    def _begin(self) -> None:
        if self._workspace.track is None or self._looking.isActive():
            return
        self._looking.start()
        if self.mode == "edit":
            self._editing.start()
        else:
            self.show_page(2)
            self._drill()
        tell("ready")

    def _drill(self) -> None:
        workspace = self._workspace
        section = workspace.routine.sections[0].id
        scope = section_scope(workspace.routine, workspace.beatmap, section)
        workspace.rehearse(Drill(scope, fixed(105), count_in=1))

    def _edit(self) -> None:
        self._edits += 1
        title = f"{self._edits:06d}"
        self._workspace.edit("name it", routine=replace(self._workspace.routine, title=title))
        tell("edited", self._edits)

    def _look(self) -> None:
        workspace = self._workspace
        if workspace.saving.saved and workspace.routine.title != self._saved:
            self._saved = workspace.routine.title
            tell("saved", self._saved)
        if self.mode == "drill":
            self._look_at_passes()
        for child in children() - self._children:
            self._children.add(child)
            tell("child", child)

    def _look_at_passes(self) -> None:
        page = self._pages[2]
        state = page.host.view.state
        if state == "music" and self._was != "music":
            tell("music")
        if state != self._was:
            self._workspace.logbook.ask(_complete, self._tell_passes)
        self._was = state
        if not page.host.busy:
            self._drill()

    def _tell_passes(self, done: int) -> None:
        if done != self._passes:
            self._passes = done
            tell("pass", done)


def _complete(book: Logbook) -> int:
    return sum(done.complete for done in book.history())


def children() -> set[int]:
    """Numbers of the processes this one has started and that still run."""
    import os

    found = set()
    for task in os.listdir("/proc/self/task"):
        try:
            text = Path(f"/proc/self/task/{task}/children").read_text()
        except OSError:
            continue
        found |= {int(word) for word in text.split()}
    return found


if __name__ == "__main__":
    Window.mode = sys.argv[2]
    rehearse.app.Window = Window
    sys.exit(rehearse.app.run(Path(sys.argv[1])))
