"""Shows every page in another language and prints what does not fit, as JSON.

`python -m tests.ui.language_pages de FOLDER` in German; with `mirrored` for a language it is a
made-up one that is written from right to left, each text marked by the letters around it. Settings
and a copy of the demo lie in FOLDER.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import sys
import time
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
MIRRORED = "mirrored"
ALEPH, TAV = "\u05d0", "\u05ea"
#: The usual size, and the least, where long words are short of room first.
SIZE, LEAST = (1366, 768), (960, 600)
FLOWS = ("new_rounds", "another_show", "new_routine", "show_and_rules", "take_along", "own_voice")
FLOWS += ("film_of_a_run", "recent_routines", "cut_song")


class Marked(dict):
    """Every text as it is in English, between two letters of a language read from the right."""

    def __bool__(self):
        return True  # names that are stored in English are looked up, too

    def get(self, key, default=None):
        text = key.rpartition("\x04")[2]
        # What is read again by the program or is made of bits would no longer be what it is.
        bits = not any(letter.isalpha() for letter in text) or ";;" in text or text == "keys?"
        return (text,) if bits else (f"{ALEPH}{text}{TAV}",)


def _unmarked(window, fits) -> set[str]:
    """Lines of texts, names and tips that no catalogue was asked for."""
    from PySide6.QtWidgets import QComboBox, QWidget

    texts = []
    for widget in window.findChildren(QWidget):
        if not widget.isVisible():
            continue
        texts += [fits._words(widget) or "", widget.accessibleName(), widget.toolTip()]
        if isinstance(widget, QComboBox):
            texts += [widget.itemText(row) for row in range(widget.count())]
    lines = {line.strip() for text in texts for line in text.splitlines()}
    return {line for line in lines if _is_plain(line)}


def _is_plain(line: str) -> bool:
    told = ALEPH in line or line.startswith(("<p", "/")) or line in ("PDF", "PNG")
    return not told and re.search("[A-Za-z]{3,}", line) is not None


def _own_words(routine) -> set[str]:
    """What the athlete wrote."""
    notes = {placed.note for placed in routine.poses}
    names = {section.name for section in routine.sections}
    return {routine.title, routine.show, routine.division, *notes, *names}


def _in_the_least_window(window, workspace, fits) -> list[str]:
    """What does not fit on pages, on the fullest form, and beneath a run's question."""
    fits.settle(window, LEAST)
    found = []
    for page in range(4):
        window.show_page(page)
        fits.settle(window)
        found += fits.unfitting(window)
        if page == 2:
            footer = window.page.footer
            footer.question.ask(workspace.sheet.cues)
            footer._arrange()
            fits.settle(window)
            found += fits.unfitting(window)
            footer.question.hide()
            footer._arrange()
    window.cut_song()
    fits.settle(window)
    found += fits.unfitting(window)
    window.begin_walk()
    window.show_page(3)
    fits.settle(window)
    found += fits.unfitting(window)
    window.walk.leave()
    return found


def main(language: str, place: Path) -> None:
    """Open the demo, go through the pages and print what was seen."""
    from rehearse import words

    if language == MIRRORED:
        words._messages, words.RIGHT_TO_LEFT = Marked(), True
    from rehearse.app import make_application
    from rehearse.ui.settings import Settings
    from rehearse.ui.window import Window
    from rehearse.ui.window_header import WindowHeader
    from rehearse.ui.workspace import Workspace

    from . import fits
    from .made import DEMO

    folder = shutil.copytree(DEMO, place / "copper-lights")
    application = make_application([])
    workspace = Workspace(Settings(place / "settings.ini"))
    window = Window(workspace)
    window.show()
    assert workspace.open(folder)
    deadline = time.monotonic() + 30
    while workspace.track is None and time.monotonic() < deadline:
        application.processEvents()
        time.sleep(0.005)
    fits.settle(window, SIZE)
    seen = {"right to left": window.isRightToLeft(), "pages": {}}
    buttons = window.findChild(WindowHeader).buttons
    seen["from left"] = [button.mapTo(window, button.rect().center()).x() for button in buttons]
    plain = set()
    for page in range(4):
        window.show_page(page)
        fits.settle(window)
        seen["pages"][page] = fits.unfitting(window)
        if page == 2:
            drills = window.page.drill_panel.list
            at = drills.mapTo(window, drills.rect().topLeft()).x()
            seen["sides"] = [at, window.width() - at - drills.width()]
        picture = window.grab()
        assert not picture.isNull()
        if len(sys.argv) > 3:
            picture.save(f"{sys.argv[3]}-{language}-{page}.png")
        if language == MIRRORED:
            plain |= _unmarked(window, fits)
    for flow in FLOWS if language == MIRRORED else ():
        getattr(window, flow)()
        fits.settle(window)
        plain |= _unmarked(window, fits)
    if language != MIRRORED:
        seen["least"] = _in_the_least_window(window, workspace, fits)
    seen["plain"] = sorted(plain - _own_words(workspace.routine))
    print(json.dumps(seen))
    window.close()
    workspace.close()


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
