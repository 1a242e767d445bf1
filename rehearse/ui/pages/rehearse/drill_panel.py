"""The left side of the page: the list of what can be rehearsed over the numbers of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, cast

from PySide6.QtCore import QRect, QSize, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QResizeEvent
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QListView,
    QPushButton,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from rehearse.cueing.cue_options import CUEINGS
from rehearse.practice.scope import shown_scope
from rehearse.routine.rounds import KINDS
from rehearse.ui import theme
from rehearse.ui.actions import named
from rehearse.ui.bindings import Bindings
from rehearse.ui.fonts import face
from rehearse.ui.icons import icon
from rehearse.ui.pages.rehearse.drill_rows import DrillRow, StandingsReader, lines_of, round_lines
from rehearse.ui.pages.rehearse.drill_settings import dump_settings, load_settings
from rehearse.ui.pages.rehearse.practice_forms import DrillForm, RoundForm, dump_wish, load_wish
from rehearse.ui.widgets import Index, LineModel
from rehearse.ui.workspace import Workspace
from rehearse.words import _, shown

if TYPE_CHECKING:
    from rehearse.routine.rounds import Kind
    from rehearse.session.session_view import SessionView


class DrillListModel(LineModel):
    """The lines by what they drill."""

    def __init__(self) -> None:
        super().__init__(lambda line: line.scope)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Name for the eye, name and history for a screen reader."""
        line = self.lines[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            name = shown_scope(line.scope)
            return name[:1].upper() + name[1:]
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{shown_scope(line.scope)}, {line.words}"
        return None


#: Room to the left of a name, and to both its sides together, in pixels.
_LEFT, _ROOM = 2 * theme.STEP, 3 * theme.STEP


class DrillListDelegate(QStyledItemDelegate):
    """A name over its history; the chosen one wears the light.

    Attributes:
        size: of all the names, in pixels: the largest of `SIZES` in which each is read whole.
    """

    SIZES = (24, 21, 18)
    _HEIGHT = 7 * theme.STEP

    size = SIZES[0]

    def fit(self, names: Sequence[str], width: int) -> None:
        """Choose the size for these names in a list `width` pixels wide."""
        for size in self.SIZES:
            self.size = size = theme.px(size)
            measure = QFontMetrics(face(size, strong=True)).horizontalAdvance
            if all(measure(name) <= width - theme.px(_ROOM) for name in names):
                break

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """All lines are equally high."""
        return QSize(0, theme.px(self._HEIGHT))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw one line."""
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        rect = option.rect
        if chosen:
            painter.fillRect(rect, QColor(theme.RAISED))
            mark = QRect(rect.x(), rect.y(), 4, rect.height())
            painter.fillRect(QStyle.visualRect(option.direction, rect, mark), QColor(theme.NEXT))
        text = rect.adjusted(theme.px(_LEFT), 2, theme.px(_LEFT - _ROOM), -2)
        model = index.model()
        assert isinstance(model, DrillListModel)
        half = text.height() * 5 // 9
        name = QRect(text.x(), text.y(), text.width(), half)
        history = QRect(text.x(), text.y() + half, text.width(), text.height() - half)
        painter.setPen(QColor(theme.NEXT if chosen else theme.INK))
        font = face(self.size, strong=True)
        painter.setFont(font)
        words = painter.fontMetrics().elidedText(
            str(index.data()), Qt.TextElideMode.ElideRight, name.width()
        )
        painter.drawText(name, Qt.AlignmentFlag.AlignVCenter, words)
        painter.setPen(QColor(theme.DIM))
        painter.setFont(face(theme.SMALL))
        painter.drawText(history, Qt.AlignmentFlag.AlignTop, model.lines[index.row()].words)


class DrillList(QListView):
    """The list itself; its keys stay free for the page."""

    def __init__(self) -> None:
        super().__init__()
        self.lines = DrillListModel()
        self.setModel(self.lines)
        self._delegate = DrillListDelegate(self)
        self.setItemDelegate(self._delegate)
        self.setAccessibleName(_("What to rehearse"))
        self.setVerticalScrollMode(QListView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)

    @property
    def chosen(self) -> DrillRow | None:
        """The chosen line; None when there is none."""
        row = self.currentIndex().row()
        return self.lines.lines[row] if 0 <= row < len(self.lines.lines) else None

    def put(self, lines: tuple[DrillRow, ...]) -> None:
        """Show these lines; the choice stays where they are the same ones."""
        self.lines.put(lines)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The chosen line stays in sight."""
        super().resizeEvent(event)
        self._fit()
        QTimer.singleShot(0, self, self._show_chosen)

    def _fit(self) -> None:
        names = [str(self.lines.index(k).data()) for k in range(self.lines.rowCount())]
        self._delegate.fit(names, self.viewport().width())

    def _show_chosen(self) -> None:
        self.scrollTo(self.currentIndex())

    def choose(self, row: int) -> None:
        """Choose a line, counted round and round."""
        count = len(self.lines.lines)
        if count:
            self.setCurrentIndex(self.lines.index(row % count))

    def keyboardSearch(self, search: str) -> None:
        """Letters are the page's keys, not a search."""


#: Three kinds and the set-up share the head.
_NEAR = "QPushButton { padding-left: 4px; padding-right: 4px; }"
#: Pixels.
WIDTH = 42 * theme.STEP


class DrillPanel(QWidget):
    """The list of sections or transitions over the form of the drill.

    Signals:
        chosen: another line is chosen. changed: the numbers of drill or round are others.
        turned: rounds are offered instead of the routine, or the other way round.
    """

    chosen = Signal()
    turned = Signal()
    changed = Signal()

    def __init__(self, workspace: Workspace, keys: Bindings, standings: StandingsReader) -> None:
        super().__init__()
        self._workspace, self._keys, self._standings = workspace, keys, standings
        self.list = DrillList()
        self.form = DrillForm()
        self.round_form = RoundForm()
        self.round_form.hide()
        self._of = ""
        self.by_plan = QLabel(wordWrap=True)
        self.by_plan.setProperty("role", "dim")
        self.by_plan.hide()
        self.setFixedWidth(WIDTH)
        column = QVBoxLayout(self)
        column.setContentsMargins(2 * theme.STEP, 0, 0, 2 * theme.STEP)
        column.setSpacing(2 * theme.STEP)
        column.addLayout(self._make_head())
        column.addWidget(self.list, 1)
        column.addWidget(self.form)
        column.addWidget(self.round_form)
        column.addWidget(self.by_plan)
        self.list.selectionModel().currentChanged.connect(self.chosen)
        self.list.selectionModel().currentChanged.connect(self._kind_chosen)
        self.form.changed.connect(self._store)
        self.round_form.changed.connect(self._store_round)
        keys.changed.connect(self._label)
        self._label()

    @property
    def line(self) -> DrillRow | None:
        """The chosen line."""
        return self.list.chosen

    @property
    def rounds(self) -> bool:
        """Whether comparison rounds are offered instead of the routine."""
        return bool(self._kinds[2].isChecked())

    @Slot()
    def toggle_rounds(self) -> None:
        """Offer the comparison rounds, or the routine's sections again."""
        self._kinds[0 if self.rounds else 2].setChecked(True)

    def offer_rounds(self, offered: bool = True) -> None:
        """Offer the comparison rounds, or the routine's sections."""
        if offered != self.rounds:
            self.toggle_rounds()

    @Slot()
    def refresh(self) -> None:
        """Show the document and the logbook as they are now; the choice stays where it can."""
        row = self.list.currentIndex().row()
        if self._workspace.routine is not None and self._workspace.routine.id != self._of:
            # What was set for one routine says nothing of another.
            self._of, row = self._workspace.routine.id, 0
            self.list.choose(0)
            self.form.set_choices(load_settings(self._workspace.settings.get(self._name, "{}")))
            wish, background = load_wish(self._workspace.settings.get(f"round/{self._of}", "{}"))
            self.round_form.set_wish(wish, background=background)
            if self.rounds:
                row = [*KINDS].index(wish.kind)
                self.list.choose(row)
        self.round_form.allow_background(self._workspace.track is not None)
        self.form.setVisible(not self.rounds and not self.by_plan.text())
        self.round_form.setVisible(self.rounds)
        if self.rounds:
            self.list.put(round_lines(self._standings.called))
        else:
            transitions = self._kinds[1].isChecked()
            self.list.put(
                lines_of(self._workspace, self._standings.summary, transitions=transitions)
            )
        if self.list.currentIndex().row() < 0:
            self.list.choose(max(0, row))

    def step(self, by: int) -> None:
        """Choose a line further on, round and round."""
        self.list.choose(self.list.currentIndex().row() + by)

    def _make_head(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(0)
        self._kinds = [QPushButton(w) for w in (_("Sections"), _("Transitions"), _("Rounds"))]
        for button in self._kinds:
            button.setProperty("role", "plain")
            button.setStyleSheet(_NEAR)
            button.setCheckable(True)
            button.setAutoExclusive(True)
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            row.addWidget(button)
        rounds = named("rounds")
        self._kinds[2].setToolTip(f"{rounds.sentence} ({self._keys.label(rounds.name)})")
        self._kinds[0].setChecked(True)
        for button in self._kinds:
            button.toggled.connect(self._kind_toggled)
        row.addStretch(1)
        self._set_up = QPushButton(icon("setup"), "")
        self._keys.button(self._set_up, "setup")
        row.addWidget(self._set_up)
        return row

    @Slot(bool)
    def _kind_toggled(self, checked: bool) -> None:
        """Sections, transitions or rounds; rounds begin with the kind set last."""
        if checked:
            kind = self.round_form.wish.kind  # before the list chooses its first line
            self.refresh()
            if self.rounds:
                self.list.choose([*KINDS].index(kind))
            self.turned.emit()

    @Slot()
    def _kind_chosen(self) -> None:
        if self.rounds and self.line is not None and self.line.scope.kind == "round":
            self.round_form.set_kind(cast("Kind", self.line.scope.item))

    @Slot()
    def _store_round(self) -> None:
        form = self.round_form
        self._workspace.settings.put(f"round/{self._of}", dump_wish(form.wish, form.background))
        self.changed.emit()

    @Slot()
    def _store(self) -> None:
        self._workspace.settings.put(self._name, dump_settings(self.form.way_settings))
        self.changed.emit()

    @property
    def _name(self) -> str:
        return f"drill/{self._of}"

    def show_view(self, view: SessionView, *, busy: bool) -> None:
        """While a plan runs its own numbers stand here, and none of the form's."""
        plan = view.plan if busy else None
        words = ""
        if plan is not None and plan.line:
            words = _(
                "Set by the plan: {percent} %, {cueings}, {effort}.",
                percent=plan.percent,
                cueings=CUEINGS[plan.cueing],
                effort=shown(plan.effort),
            )
        if words != self.by_plan.text():
            self.by_plan.setText(words)
            self.by_plan.setVisible(bool(words))
            self.form.setVisible(not words and not self.rounds)

    @Slot()
    def _label(self) -> None:
        self._keys.dress(self._set_up, "setup")
        self._set_up.setText(_("Set up"))  # beside three kinds there is no room for its key as well
