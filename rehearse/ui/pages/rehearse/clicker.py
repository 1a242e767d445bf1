"""A presentation clicker's two buttons, obeyed by what is going on (the table is in `keys`)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Slot

if TYPE_CHECKING:
    from rehearse.ui.pages.rehearse.page import RehearsePage

#: Milliseconds after which a button counts as held.
_HELD = 1000


class Clicker(QObject):
    """Turns forward and back into deeds of the page."""

    def __init__(self, page: RehearsePage) -> None:
        super().__init__(page)
        self._page = page
        self._holding = QTimer(self, singleShot=True, interval=_HELD)
        self._holding.timeout.connect(self._held)

    def words(self) -> str:
        """What the two buttons do now, for the foot of the page."""
        page = self._page
        on, back = page.keys.label("clicker_on"), page.keys.label("clicker_back")
        if not page.conductor.busy:
            return f"Clicker: {on} begins, {back} chooses the section before."
        if page.conductor.judged:
            return f"Clicker: {on} clean, {back} missed, {back} held stops."
        return f"Clicker: {on} next section, {back} stops."

    @Slot()
    def on(self) -> None:
        """The forward button."""
        page = self._page
        if page.foot.question.asking:
            page.foot.question.confirm()
        elif not page.conductor.busy or page.conductor.paused:
            page.deeds.main_action()
        elif page.conductor.judged:
            page.conductor.judge("clean")
        else:
            page.deeds.next_section()

    @Slot()
    def back(self) -> None:
        """The back button."""
        page = self._page
        if page.foot.question.asking:
            page.foot.question.point_back()
            page.show_question()
        elif not page.conductor.busy:
            page.deeds.section_before()
        elif page.conductor.judged:
            self._holding.start()  # what it means shows when it is let go
        else:
            page.conductor.stop()

    def released(self) -> None:
        """A button was let go: a short press says missed."""
        if self._holding.isActive():
            self._holding.stop()
            self._page.conductor.judge("missed")

    @Slot()
    def _held(self) -> None:
        self._page.conductor.stop()
