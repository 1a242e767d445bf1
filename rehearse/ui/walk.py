"""The first walk: seven things done once on the real pages, from the demo to the own song.

A band under the head of the window says one thing to do, in letters that are read from three
metres. The walk does nothing by itself and keeps nobody from anything: it looks, a few times a
second, whether the thing has been done – by key, pointer or clicker – and then says the next one.
Where the clicker's forward button has no meaning of its own for it, that button does it.

It is offered once on a machine, goes with one key and comes back with the same.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QFontMetricsF, QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import QGridLayout, QLabel, QPushButton, QWidget

from rehearse.ui import theme
from rehearse.ui.actions import WALKING, named
from rehearse.ui.bindings import Bindings, keys_of, with_keys
from rehearse.ui.workspace import Workspace
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.session.session_view import SessionView
    from rehearse.ui.handout.handout_flow import HandoutFlow
    from rehearse.ui.pages.rehearse.page import RehearsePage
    from rehearse.ui.window import Window

#: Milliseconds between two looks.
_LOOK = 150
#: Metres from which the band is read, and the share of a line that a capital letter is high.
_AWAY, _CAPITAL = 3.0, 0.7
#: How much wider than the medium the bold face may be.
_BOLD = 1.06
#: Pixels of a small window's height below which the band is one row.
_LOW = 680
#: Poses that the own routine is begun with.
POSES = 5
#: What the setting says of the walk on this machine; empty: it was never begun.
SETTING, DONE, LEFT = "walk", "done", "left"


@dataclass(frozen=True)
class Step:
    """One thing to do.

    Args:
        sentence: the large line, one line at any size of window.
        more: the small line, with the pointer's and the clicker's way.
        clicker: whether the clicker's forward button is taken for it.
    """

    name: str
    sentence: str
    more: str
    clicker: bool = False


STEPS = (
    Step(
        "play",
        _("{begin} starts the music"),
        _(
            "Or click Start; with a clicker, {clicker_on}. The next pose and the "
            "counts left to it fill the stage. {stop everything} stops everything, "
            "at any time."
        ),
    ),
    Step(
        "slow",
        _("{slower} plays it slower"),
        _(
            "Or click {slower} at the foot; clicker: {clicker_on}. The pitch stays,"
            " the counts follow."
        ),
        clicker=True,
    ),
    Step(
        "loop",
        _("{mark}, later {mark}: that part repeats"),
        _(
            "Or click a section in the list on the left twice; clicker: "
            "{clicker_on}. It comes again and again, counted in."
        ),
        clicker=True,
    ),
    Step(
        "clean",
        _("{clean}: this pass was clean"),
        _(
            "Or click Clean; clicker: {clicker_on}. {missed} says it was missed. "
            "The logbook keeps it."
        ),
        clicker=True,
    ),
    Step(
        "export",
        _("{take along}, Enter: a sheet to print"),
        _("Or More … and Handouts; clicker: {clicker_on}, twice."),
        clicker=True,
    ),
    Step(
        "own",
        _("Now drop your own song here"),
        _("Or {new} and choose it; any format. Its counts are found, and the routine is made."),
    ),
    Step(
        "poses",
        _("Enter adds a pose on an accent"),
        _("Or click Apply. {earlier} {later} move it, {exchange} shows another pose."),
    ),
)


class Walk(QObject):
    """Where the walk is, and whether its step was done.

    Signals:
        changed: `step` is another one, or it began or ended.
    """

    changed = Signal()

    def __init__(self, window: Window, workspace: Workspace) -> None:
        super().__init__(window)
        self._window, self._workspace = window, workspace
        self._number = -1
        self._before = 100
        self._first: Path | None = None
        self._look = QTimer(self, interval=_LOOK)
        self._look.timeout.connect(self.look)
        self._forward = QShortcut(window)
        self._forward.setEnabled(False)
        self._forward.setAutoRepeat(False)
        self._forward.activated.connect(self.do_step)
        self._done: dict[str, Callable[[], bool]] = {
            "play": lambda: self._view().state == "music",
            "slow": lambda: self._percent() < self._before,
            "loop": self._loops,
            "clean": lambda: self._view().verdict == "clean",
            "export": self._is_made,
            "own": lambda: workspace.folder != self._first and workspace.track is not None,
            "poses": lambda: self.poses >= POSES,
        }

    @property
    def step(self) -> Step | None:
        """What is to be done now; None: nobody walks."""
        return STEPS[self._number] if self._number >= 0 else None

    @property
    def number(self) -> int:
        """The number of the step, from 1."""
        return self._number + 1

    @property
    def poses(self) -> int:
        """How many poses the open routine has."""
        return len(self._workspace.routine.poses) if self._workspace.routine else 0

    @property
    def expects_song(self) -> bool:
        """Whether a song that is dropped now is the own one, to be gone on with at once."""
        return self.step is not None and self.step.name == "own"

    def begin(self) -> None:
        """From the first step, on the routine that is open."""
        self._first = self._workspace.folder
        self._look.start()
        self._go_to(0)

    def leave(self) -> None:
        """No further; it is not offered again."""
        if self.step is not None:
            self._end(LEFT)

    @Slot()
    def go_on(self) -> None:
        """The next step, whether this one was done or not."""
        if self.number == len(STEPS):
            self._end(DONE)
        elif self.step is not None:
            self._go_to(self._number + 1)

    @Slot()
    def look(self) -> None:
        """Go on when the step was done."""
        if self.step is not None and self._done[self.step.name]():
            self.go_on()
        self._take_clicker()

    @Slot()
    def do_step(self) -> None:
        """The clicker's forward button, where it has no meaning of its own for the step."""
        step, page = self.step, self._rehearse
        if step is None:
            return
        if step.name == "export":
            flow = self._handouts()
            flow.do_main() if flow is not None else self._window.take_along()
        elif page is not None and step.name == "loop":
            page.controller.next_section()
            if not page.host.busy:
                page.controller.begin_chosen()
        elif page is not None:
            page.keys.actions[{"slow": "slower"}.get(step.name, step.name)].trigger()

    def _go_to(self, number: int) -> None:
        self._number = number
        if STEPS[number].name == "slow":
            self._before = self._percent()
        self._take_clicker()
        self.changed.emit()

    def _end(self, how: str) -> None:
        self._number = -1
        self._look.stop()
        self._take_clicker()
        self._workspace.settings.put(SETTING, how)
        self.changed.emit()

    def _take_clicker(self) -> None:
        """The forward button is the walk's where it is needed, and the page's everywhere else."""
        step, page = self.step, self._rehearse
        judged = page is not None and page.host.busy and page.host.judged
        here = page is not None or self._handouts() is not None
        mine = step is not None and step.clicker and here
        if mine and step is not None and step.name == "clean" and judged:
            mine = False
        if mine == self._forward.isEnabled():
            return
        keys = keys_of(named("clicker_on"), self._workspace.settings)
        self._forward.setKeys([QKeySequence(key) for key in keys])
        self._forward.setEnabled(mine)
        if (rehearse := self._window.rehearse_page) is not None and rehearse.has_controls:
            rehearse.keys.allow("clicker_on", not mine)

    @property
    def _rehearse(self) -> RehearsePage | None:
        """The Rehearse page, while it is what is shown, whole."""
        page = self._window.rehearse_page
        return (
            page if page is not None and page is self._window.page and page.has_controls else None
        )

    def _view(self) -> SessionView:
        from rehearse.session.session_view import SessionView

        page = self._rehearse
        return page.host.view if page is not None else SessionView()

    def _percent(self) -> int:
        """The tempo that is heard, else the one that is set."""
        page = self._rehearse
        if page is None:
            return self._before
        plan = page.host.view.plan if page.host.busy else None
        settings = page.drill_panel.form.drill_settings
        if plan is not None:
            return plan.percent
        return settings.first if settings.way == "steps" else settings.percent

    def _loops(self) -> bool:
        plan = self._view().plan
        heard = self._view().state in ("count-in", "music")
        return plan is not None and heard and plan.kind == "drill" and plan.scope.kind != "whole"

    def _handouts(self) -> HandoutFlow | None:
        from rehearse.ui.handout.handout_flow import HandoutFlow

        page = self._window.page
        return page if isinstance(page, HandoutFlow) else None

    def _is_made(self) -> bool:
        flow = self._handouts()
        return flow is not None and flow.made is not None


class WalkBand(QWidget):
    """The step in one large line, more about it in a small one, and the two ways out of it."""

    def __init__(self, walk: Walk, workspace: Workspace) -> None:
        super().__init__()
        self._walk, self._workspace = walk, workspace
        self.setObjectName("walk")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setStyleSheet(
            f"#walk {{ background: {theme.RAISED}; }} QPushButton {{ background: {theme.GROUND}; }}"
        )
        self.sentence = QLabel()
        self.more = QLabel(wordWrap=True)
        self.next, self.skip = QPushButton(), QPushButton()
        slots = {"walk_on": walk.go_on}
        self._bindings = Bindings(self, WALKING, slots, context=Qt.ShortcutContext.WindowShortcut)
        self._bindings.button(self.next, "walk_on", _("Next"))
        self._bindings.dress(self.skip, "walk_on")
        self.skip.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.skip.setText(_("Leave the walk   {key}", key=named("walk").key))
        self.skip.setToolTip(
            _("End the walk; it is not shown again by itself ({key})", key=named("walk").key)
        )
        self.skip.setAccessibleName(_("Leave the walk, key {key}", key=named("walk").key))
        self.skip.clicked.connect(walk.leave)
        self._grid = grid = QGridLayout(self)
        grid.setContentsMargins(3 * theme.STEP, 0, 2 * theme.STEP, theme.STEP)
        grid.setHorizontalSpacing(2 * theme.STEP)
        grid.setVerticalSpacing(0)
        grid.setColumnStretch(0, 1)
        grid.addWidget(self.sentence, 0, 0, 1, 3)
        for column, widget in enumerate((self.more, self.next, self.skip)):
            grid.addWidget(widget, 1, column)
        walk.changed.connect(self.refresh)
        self.full_screen = False
        self.refresh()

    def set_full_screen(self, on: bool) -> None:
        """Make room for the stage on the whole screen, or come back."""
        self.full_screen = on
        self.refresh()

    @Slot()
    def refresh(self) -> None:
        """Show the step."""
        step = self._walk.step
        self._bindings.allow("walk_on", step is not None)
        self.setVisible(step is not None and not self.full_screen)
        if step is None:
            return
        settings = self._workspace.settings
        sentence = with_keys(step.sentence, settings)
        self.sentence.setText(sentence)
        self.more.setText(
            _(
                "{number} of {number2}.  {with_keys}",
                number=self._walk.number,
                number2=len(STEPS),
                with_keys=with_keys(step.more, settings),
            )
        )
        self.setAccessibleName(
            _("Step {number} of the walk: {sentence}", number=self._walk.number, sentence=sentence)
        )
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The line keeps the size that is read from three metres, as long as it has the width."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """A low window, whose page needs every line, has the sentence beside the buttons."""
        from rehearse.ui.pages.rehearse.page_layout import Screen  # no other page needs it
        from rehearse.ui.stage.stage_options import LEAST, ViewingDistance

        low = self.window().height() < theme.px(_LOW)
        self._grid.addWidget(self.sentence, 1 if low else 0, 0, 1, 1 if low else 3)
        self.more.setVisible(not low)
        self.sentence.setToolTip(self.more.text() if low else "")
        away = ViewingDistance(_AWAY, Screen(self._workspace, self).pixel_mm())
        pixels = theme.BODY if low else round(away.pixels(LEAST) / _CAPITAL) + 1
        room = self.width() - 5 * theme.STEP
        font = self.sentence.font()
        font.setPixelSize(pixels)
        wide = QFontMetricsF(font).horizontalAdvance(self.sentence.text()) * _BOLD
        if wide > room > 0:
            pixels = max(theme.BODY, int(pixels * room / wide))
        self.sentence.setStyleSheet(f"font-size: {pixels}px; font-weight: 600;")
