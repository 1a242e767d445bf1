"""The same poses in a table, for the keyboard."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QItemSelectionModel, QModelIndex, Qt, Signal
from PySide6.QtGui import QAccessible, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView

from rehearse.music.position import Length
from rehearse.ui import theme
from rehearse.ui.actions import key
from rehearse.ui.pages.routine.editor_state import EditorState
from rehearse.ui.pages.routine.notes import keeps
from rehearse.ui.pages.routine.pose_rows import COLUMNS, HOLD, NOTE, POSE, TRANSITION, PoseRows
from rehearse.ui.pages.routine.tablepaint import Fields, Numbers, Written, paint_nothing, paint_rows
from rehearse.ui.widgets import Index
from rehearse.words import _, place_text

_KEYS = (
    *(Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Left, Qt.Key.Key_Right),
    *(Qt.Key.Key_Return, Qt.Key.Key_Enter),
)
#: Widths of the fields before the note, and from this width of the table on wider ones.
_WIDTHS, _WIDER, _WIDE = (
    (64, 208, 80, 88, 120, 80, 80, 136),
    (72, 224, 88, 96, 176, 80, 88, 168),
    960,
)
#: Width that no field is narrower than, in pixels.
_LEAST = 64
#: Pixels of a field that no text takes.
_PADDING = 16

#: What to do while there is no pose, and its keys.
BEGIN = (
    (key("suggestions"), _("see suggestions from the music; Enter applies one")),
    (
        key("play"),
        _("play, and {key_beat} on the beat adds the current pose there", key_beat=key("beat")),
    ),
    (key("put"), _("add a pose at the cursor")),
    (key("keys"), _("all keys")),
)


class PoseTable(QTableView):
    """Rows of poses; the row with the focus is the selected pose.

    Up and Down choose a pose, Left and Right a field, F2 or typing over it writes it; every other
    key does what it does on the whole page.

    Signals:
        exchangeWanted: another pose for this id. moveWanted: another move for the chosen one.
    """

    exchangeWanted = Signal(str)
    moveWanted = Signal()

    def __init__(self, rows: PoseRows, editor: EditorState) -> None:
        super().__init__()
        self._rows, self._editor = rows, editor
        self._following = False
        self.setModel(rows)
        self.setAccessibleName(_("Poses as a table"))
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ContiguousSelection)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.DoubleClicked
        )
        self.setItemDelegate(Written(self))
        self.setTabKeyNavigation(False)
        self.setAutoScroll(False)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setVerticalHeader(Numbers(self))
        self.setHorizontalHeader(Fields(self))
        head = self.horizontalHeader()
        head.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        head.setHighlightSections(False)
        head.setSectionResizeMode(NOTE, QHeaderView.ResizeMode.Stretch)
        editor.chosenChanged.connect(self._follow)
        rows.refreshed.connect(self._follow)
        rows.refreshed.connect(self._show_head)
        self._following = False

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fields are as wide as there is room for; what the last whole one leaves is the pose's."""
        least, head = theme.px(_LEAST), self.horizontalHeader()
        head.setMinimumSectionSize(least)
        wide = self.width() > theme.px(_WIDE)
        widths = [
            max(theme.px(width), self._asked(column))
            for column, width in enumerate(_WIDER if wide else _WIDTHS)
        ]
        room = self.viewport().width()
        left = room - max(sum(widths[:k]) for k in range(len(widths)) if sum(widths[:k]) <= room)
        if sum(widths) > room:  # else the note takes it
            widths[POSE] += left
        for column, width in enumerate(widths):
            self.setColumnWidth(column, width)
        # Where there is no room left to stretch into, a field keeps the width it had before.
        if head.sectionSize(NOTE) < least:
            head.setSectionResizeMode(NOTE, QHeaderView.ResizeMode.Fixed)
            self.setColumnWidth(NOTE, least)
            head.setSectionResizeMode(NOTE, QHeaderView.ResizeMode.Stretch)
        super().resizeEvent(event)

    def _asked(self, column: int) -> int:
        """Pixels that a field's heading takes, and a length in words, in this language."""
        metrics = self.fontMetrics()
        texts = [COLUMNS[column]]
        if column in (HOLD, TRANSITION):
            texts.append(place_text(Length(3.5)))
        return max(map(metrics.horizontalAdvance, texts)) + theme.px(_PADDING)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint what is visible."""
        with QPainter(self.viewport()) as painter:
            if self._rows.rowCount():
                paint_rows(painter, self, self._rows, event.region(), self.edited)
            else:
                paint_nothing(painter, self.viewport().rect(), BEGIN)

    def dataChanged(self, first: Index, last: Index, roles: Sequence[int] = ()) -> None:
        """Paint the rows that changed anew: Qt paints all of them for more than one field."""
        if self.edited.isValid() or QAccessible.isActive():
            super().dataChanged(first, last, roles)
            return
        top, foot = self.rowViewportPosition(first.row()), self.rowViewportPosition(last.row())
        high = foot + self.rowHeight(last.row()) - top
        self.viewport().update(0, top, self.viewport().width(), high)

    def currentChanged(self, current: Index, previous: Index) -> None:
        """The row with the focus becomes the selected pose."""
        super().currentChanged(current, previous)
        if self._following or not current.isValid():
            return
        self._show(current)
        if current.row() != previous.row() and len(self._lit()) < 2:
            self._choose_row(current.row())

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A click chooses a pose, with Shift all up to there."""
        super().mousePressEvent(event)
        self._choose_lit()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """A drag chooses all it goes over."""
        super().mouseMoveEvent(event)
        if event.buttons() & Qt.MouseButton.LeftButton:
            self._choose_lit()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """A click on one of several chosen poses takes that one when it is let go."""
        super().mouseReleaseEvent(event)
        self._choose_lit()

    def _choose_lit(self) -> None:
        """The rows that are lit are the chosen poses, no more and no fewer."""
        lit = sorted(self._lit())
        ids = tuple(i for i in (self._rows.id_at(row) for row in lit) if i)
        if lit and not ids:
            self._choose_row(lit[0])
        elif ids and ids != self._editor.chosen:
            self._editor.choose(ids, self._rows.id_at(self.currentIndex().row()))

    def _choose_row(self, row: int) -> None:
        """A pose; of the way off its first move, unless one of them is chosen already."""
        if not self._rows.is_way_off(row):
            self._editor.select(self._rows.id_at(row))
        elif self._rows.row_of_move(self._editor.move) != row:
            self._editor.select_move(self._editor.routine.exit[0].id, "")

    @property
    def edited(self) -> QModelIndex:
        """The field that is being written; an invalid one for none."""
        writes = self.state() is QAbstractItemView.State.EditingState
        return self.currentIndex() if writes else QModelIndex()

    def _lit(self) -> set[int]:
        return {index.row() for index in self.selectionModel().selectedRows()}

    def event(self, event: QEvent) -> bool:
        """Arrows and Return are the table's while it has the focus, not the page's."""
        return keeps(event, _KEYS) or super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Return asks for another pose; the rest is the table's or the page's."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            pose_id = self._rows.id_at(self.currentIndex().row())
            if pose_id and not self.edited.isValid():
                self.exchangeWanted.emit(pose_id)
            elif not self.edited.isValid() and self._editor.move:
                self.moveWanted.emit()
            return
        super().keyPressEvent(event)

    def keyboardSearch(self, search: str) -> None:
        """Letters are the page's keys, not a search."""

    def _show_head(self) -> None:
        """Names of fields only where there are any."""
        self.horizontalHeader().setVisible(self._rows.rowCount() > 0)

    def _follow(self) -> None:
        """Show what is chosen elsewhere."""
        rows = [self._rows.row_of(i) for i in self._editor.chosen]
        off = self._rows.row_of_move(self._editor.move) if self._editor.move else -1
        rows += [off] if off >= 0 else []
        model = self.selectionModel()
        if self._lit() == set(rows) or min(rows, default=0) < 0:
            return  # what the rows lack comes with their next refresh
        self._following = True
        if not rows:
            model.clear()
        else:
            selected = self._editor.selected
            row = self._rows.row_of(selected.id) if selected else rows[0]
            flags = QItemSelectionModel.SelectionFlag
            index = self._rows.index(row, max(0, self.currentIndex().column()))
            model.setCurrentIndex(index, flags.NoUpdate)
            model.clearSelection()
            for k in rows:
                model.select(self._rows.index(k, 0), flags.Select | flags.Rows)
            self._show(index)
        self._following = False

    def _show(self, index: Index) -> None:
        """Scroll only where the field is out of sight: scrolling lays all rows out anew."""
        area, field = self.viewport().rect(), self.visualRect(index)
        if not (area.top() <= field.top() and field.bottom() <= area.bottom()) or not (
            area.left() <= field.left() and field.right() <= area.right()
        ):
            self.scrollTo(index)
