"""The Logbook page: today's plan first, the numbers beside it, the warmth of the routine below.

One main action, under Space: start today's plan. It runs by itself on the Rehearse page.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

from PySide6.QtCore import Qt, QTimer, Slot
from PySide6.QtGui import QFocusEvent, QHideEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from rehearse.practice.logbook import Logbook
from rehearse.practice.planbook import DayPlan
from rehearse.ui import theme
from rehearse.ui.actions import ON_LOGBOOK, Action, key, named
from rehearse.ui.bindings import Bindings
from rehearse.ui.empty import missing
from rehearse.ui.pages.logbook.heat_ribbon import LEAST_HEIGHT, HeatRibbon
from rehearse.ui.pages.logbook.logbook_data import (
    LogbookData,
    film_words,
    round_words,
    show_words,
)
from rehearse.ui.pages.logbook.picture import save_picture
from rehearse.ui.pages.logbook.planpanel import PlanPanel
from rehearse.ui.pages.logbook.save_as import ask_and_save, save_calls, save_table
from rehearse.ui.pages.logbook.standings import StandingTable
from rehearse.ui.pages.logbook.today import PlanReply, TodaysPlan, answer
from rehearse.ui.pages.logbook.weeks import WeeksView
from rehearse.ui.workspace import Workspace
from rehearse.words import _

KINDS = (_("Sections"), _("Transitions"), _("Poses"), _("Rounds"))
#: Pixels from which the buttons have room for all their words.
_WIDE = 138 * theme.STEP
#: Pixels from which there is room for the calendar beneath the table.
_HIGH = 75 * theme.STEP


def _today() -> date:
    return datetime.now().astimezone().date()


class LogbookPage(QWidget):
    """What was practised and what to practise today.

    Args:
        today: tells the day; replaced in tests.
    """

    def __init__(self, workspace: Workspace, today: Callable[[], date] = _today) -> None:
        super().__init__()
        self._workspace, self._today = workspace, today
        self.overview: LogbookData | None = None
        self._plans = TodaysPlan(workspace)
        self._opened: Path | None = None
        self._number = self._answered = 0
        self._wanted = False
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.ribbon, self.weeks = HeatRibbon(), WeeksView()
        self.table, self.panel = StandingTable(), PlanPanel(workspace)
        self._lay_out()
        self._make_keys()
        self._later = QTimer(self, singleShot=True, interval=0)
        self._later.timeout.connect(self.refresh)
        workspace.documentChanged.connect(self._refresh_soon)
        workspace.selectionChanged.connect(self._selection_changed)
        self.ribbon.poseChosen.connect(self._choose_pose)
        self.panel.minutesChanged.connect(self._ask)
        workspace.stopAsked.connect(self._forget_wish)
        self.panel.planChanged.connect(self._keep_plan)
        self.panel.start.clicked.connect(self.start_plan)
        self.panel.rounds.asked.connect(workspace.rehearse)
        self.csv.clicked.connect(self.export_csv)
        self.picture.clicked.connect(self.export_picture)

    # -- what it is made of ------------------------------------------------------------------

    def _lay_out(self) -> None:
        self._missing = QLabel(wordWrap=True)
        self._missing.setProperty("role", "title")
        self._missing.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._front = QStackedWidget()
        whole = QWidget()
        column = QVBoxLayout(whole)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2 * theme.STEP)
        row = QHBoxLayout()
        row.setSpacing(4 * theme.STEP)
        row.addWidget(self.panel, 9)
        row.addLayout(self._numbers(), 11)
        column.addLayout(row, 1)
        column.addWidget(self.ribbon)
        self._front.addWidget(whole)
        self._front.addWidget(self._missing)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(3 * theme.STEP, theme.STEP, 3 * theme.STEP, 2 * theme.STEP)
        outer.addWidget(self._front)

    def _numbers(self) -> QVBoxLayout:
        kinds = QHBoxLayout()
        kinds.setSpacing(0)
        self.kinds = [QPushButton(word) for word in KINDS]
        for button in self.kinds:
            button.setCheckable(True)
            button.setProperty("role", "plain")
            button.setAutoExclusive(True)
            button.setAccessibleName(
                _(
                    "Show {text}, key {key_next_table} for the next",
                    text=button.text().lower(),
                    key_next_table=key("next_table"),
                )
            )
            button.toggled.connect(self._show_table)
            kinds.addWidget(button)
        self.kinds[0].setChecked(True)
        kinds.addStretch(1)
        self.csv, self.picture = QPushButton(), QPushButton()
        for button, action in self._saving():
            button.setToolTip(f"{action.tip} ({action.key})")
            button.setAccessibleName(_("{tip}, key {key}", tip=action.tip, key=action.key))
            button.setProperty("role", "plain")
            kinds.addWidget(button)
        self.show_line = QLabel()
        self.show_line.setProperty("role", "body")
        self.show_line.setWordWrap(True)
        column = QVBoxLayout()
        column.setSpacing(theme.STEP)
        column.addLayout(kinds)
        column.addWidget(self.table, 1)
        column.addWidget(self.show_line)
        column.addWidget(self.weeks)
        return column

    def _saving(self) -> tuple[tuple[QPushButton, Action], ...]:
        return (self.csv, named("save_table")), (self.picture, named("save_picture"))

    def _make_keys(self) -> None:
        slots = {
            "start_plan": self.main_action,
            "skip": self.panel.strike_chosen,
            "line_up": self.panel.move_up,
            "line_down": self.panel.move_down,
            "fewer_minutes": self.panel.fewer_minutes,
            "more_minutes": self.panel.more_minutes,
            "next_table": self.next_table,
            "rounds": self.panel.rounds.begin,
            "sources": self._show_sources,
            "save_table": self.export_csv,
            "save_picture": self.export_picture,
        }
        Bindings(self, ON_LOGBOOK, slots)

    # -- what it does ------------------------------------------------------------------------

    @Slot()
    def main_action(self) -> None:
        """Space: start the plan, wherever the focus is."""
        self.start_plan()

    @Slot()
    def start_plan(self) -> None:
        """Run today's plan on the Rehearse page, from where it was; after its end another one."""
        day = self.panel.day
        if self._number != self._answered and not self.missing:
            self._wanted = True  # it begins with the answer that is on its way
        elif self.panel.rounds.coming is not None and (day is None or not day.plan.lines):
            self.panel.rounds.begin()  # without a song there is nothing else
        elif day is None or not day.plan.kept:
            self._workspace.errorRaised.emit(
                self.missing
                or _("Every line is skipped: put one back with {key_skip}.", key_skip=key("skip"))
            )
        elif day.is_over:
            self._wanted = True
            self._ask(anew=True)
        else:
            day = DayPlan(self._plans.keep(day.plan), day.done)
            self.panel.show_plan(day)
            self._workspace.rehearse(day.work)

    @Slot()
    def _forget_wish(self) -> None:
        self._wanted = False

    @Slot()
    def _show_sources(self) -> None:
        self.panel.list.show_sources()
        self.panel.rounds.show_sources()

    @Slot()
    def next_table(self) -> None:
        """Sections, transitions, poses, rounds in turn."""
        now = next(k for k, button in enumerate(self.kinds) if button.isChecked())
        self.kinds[(now + 1) % len(self.kinds)].setChecked(True)

    @Slot()
    def export_csv(self) -> None:
        """Ask for a name and write every pass, or every call of the rounds shown, as CSV."""
        rounds = self.kinds[3].isChecked()
        name, write = (_("rounds"), save_calls) if rounds else (_("practice"), save_table)
        self._export(name + ".csv", _("CSV table (*.csv)"), lambda p: write(self._workspace, p))

    @Slot()
    def export_picture(self) -> None:
        """Ask for a name and write the picture."""
        overview = self.overview

        def write(path: Path) -> None:
            if overview is not None:
                save_picture(overview, path)

        self._export(_("practice") + ".png", _("Picture (*.png)"), write)

    def _export(self, name: str, kind: str, write: Callable[[Path], None]) -> None:
        if self.overview is None:
            self._workspace.errorRaised.emit(self.missing)
        else:
            ask_and_save(self, self._workspace, name, kind, write)

    # -- what it shows -----------------------------------------------------------------------

    @property
    def missing(self) -> str:
        """What must be there first, as one sentence with its key; empty: nothing."""
        routine = self._workspace.routine
        alone = routine is not None and not routine.track  # rounds need no music
        if not alone and (said := missing(self._workspace)):
            return said
        if self._workspace.logbook is None:
            return _("The logbook of this routine cannot be read; nothing is lost, see below.")
        return ""

    def focusInEvent(self, event: QFocusEvent) -> None:
        """The list takes the keys; as a focus proxy it would take the minutes out of Tab's way."""
        self.panel.list.setFocus()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The ribbon takes its share of a larger window; a low one keeps the table."""
        super().resizeEvent(event)
        tight = self.width() < theme.px(_WIDE)
        for button, action in self._saving():
            button.setText(action.words if tight else f"{action.words}   {action.key}")
        high = self.height() >= theme.px(_HIGH)
        self.weeks.setVisible(high)
        self.panel.rounds.set_low(not high)
        self.ribbon.setFixedHeight(max(theme.px(LEAST_HEIGHT), round(0.22 * self.height())))

    def hideEvent(self, event: QHideEvent) -> None:
        """Another page comes up: nothing begins behind it."""
        super().hideEvent(event)
        self._wanted = False

    def showEvent(self, event: QShowEvent) -> None:
        """What was practised meanwhile is read when the page is looked at."""
        super().showEvent(event)
        self.refresh()

    @Slot()
    def refresh(self) -> None:
        """Read the logbook and make today's plan."""
        missing = self.missing
        self._missing.setText(missing)
        self._front.setCurrentIndex(1 if missing else 0)
        if missing:
            self.overview = None
            self.panel.show_plan(None)
            self.panel.show_rounds(())
            return
        self._ask()

    @Slot()
    def _ask(self, *, anew: bool = False) -> None:
        """Ask the logbook; only the newest question is answered."""
        workspace = self._workspace
        if self.missing or workspace.logbook is None:
            return
        as_kept = self._opened != workspace.folder
        minutes = self.panel.minutes.value()
        question = self._plans.question(self._today(), minutes, as_kept=as_kept, anew=anew)
        self._number = number = self._number + 1

        def read(book: Logbook) -> PlanReply | None:
            return answer(book, question) if number == self._number else None

        workspace.logbook.ask(read, lambda found: self._take(number, found), self._unanswered)

    def _take(self, number: int, found: PlanReply | None) -> None:
        if found is None or number != self._number:
            return
        self._answered = number
        if self._opened != self._workspace.folder:
            self._opened = self._workspace.folder
            self.panel.set_minutes(found.minutes)
        self._plans.take(found)
        self.overview = found.overview
        self._show(found.overview)
        self.panel.show_plan(found.day)
        self.panel.show_rounds(found.rounds)
        if self._wanted:
            self._wanted = False
            self.start_plan()

    @Slot()
    def _unanswered(self) -> None:
        """It is told why; nothing waits for an answer any more."""
        self._answered, self._wanted = self._number, False

    def _show(self, overview: LogbookData) -> None:
        self.ribbon.show_overview(overview, self._workspace.selected)
        self.weeks.show_overview(overview)
        self._show_table()

    @Slot()
    def _keep_plan(self) -> None:
        day = self.panel.day
        if day is not None:
            self.panel.show_plan(DayPlan(self._plans.keep(day.plan), day.done))

    @Slot()
    def _refresh_soon(self) -> None:
        if self.isVisible():
            self._later.start()

    @Slot()
    def _show_table(self) -> None:
        if self.overview is None:
            return
        summary = self.overview.summary
        kind = next(k for k, button in enumerate(self.kinds) if button.isChecked())
        self._say_show(self.overview, rounds=kind == 3)
        if kind == 3:
            self.table.rows.show_rounds(self.overview.stamina.poses, self.overview.today)
            return
        shown = (summary.sections, summary.transitions, summary.poses)[kind]
        self.table.rows.show((summary.whole, *shown) if kind == 0 else shown, self.overview.today)

    def _say_show(self, overview: LogbookData, *, rounds: bool) -> None:
        if overview.is_empty and not rounds:
            words = _(
                "Nothing is logged yet: press {key_start_plan} to start today's plan.",
                key_start_plan=key("start_plan"),
            )
        else:
            words = round_words(overview) if rounds else show_words(overview.show)
        films = "" if rounds else film_words(overview)
        self.show_line.setText("  ·  ".join(part for part in (words, films) if part))

    @Slot(str)
    def _choose_pose(self, pose: str) -> None:
        self._workspace.selected = pose

    @Slot()
    def _selection_changed(self) -> None:
        if self.overview is not None:
            self.ribbon.show_overview(self.overview, self._workspace.selected)
