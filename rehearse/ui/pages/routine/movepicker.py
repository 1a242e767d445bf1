"""Chooses a move by typing some of its letters, with its counts and its side if wished.

"gather 4" and Return puts one; a comma puts it and asks for the next, so that a whole eight is
typed in one line.
"""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QAbstractListModel, QEvent, QModelIndex, QObject, QSize, Qt, Signal, Slot
from PySide6.QtGui import QColor, QKeyEvent, QPainter
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from rehearse.routine.moves import MoveCatalogue, MoveRequest
from rehearse.ui import theme
from rehearse.ui.figure.move_thumbs import MoveThumbs
from rehearse.ui.fonts import face
from rehearse.ui.pages.routine.picker import picture_grid
from rehearse.ui.widgets import Index
from rehearse.words import _, shown

#: Width and height of a cell, in pixels.
CELL, HEIGHT = 232, 44


def told(wanted: MoveRequest) -> str:
    """A move as it would be put: "reach up right, 2"."""
    words = " ".join(shown(p) for p in (wanted.kind.name, wanted.side, wanted.direction) if p)
    return _("{words}, {counts:g}", words=words, counts=wanted.counts)


class MoveList(QAbstractListModel):
    """The moves found, best first."""

    def __init__(self) -> None:
        super().__init__()
        self._found: tuple[MoveRequest, ...] = ()

    def search(self, catalogue: MoveCatalogue, words: str) -> None:
        """Show what these words find; nothing written: all."""
        self.beginResetModel()
        self._found = catalogue.wanted(words)
        self.endResetModel()

    def wanted(self, row: int) -> MoveRequest | None:
        """The move of a row."""
        return self._found[row] if 0 <= row < len(self._found) else None

    def own_at(self, row: int) -> str:
        """Name of the athlete's own move in a row; empty for any other."""
        wanted = self.wanted(row)
        return wanted.kind.name if wanted is not None and wanted.kind.own else ""

    def row_of(self, name: str) -> int:
        """Row of a move; 0 when it is not found."""
        return next((k for k, w in enumerate(self._found) if w.kind.name == name), 0)

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own
        """How many were found."""
        return len(self._found)

    def data(self, index: Index, role: int = 0) -> object:
        """Its name and its counts."""
        wanted = self._found[index.row()]
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole):
            return told(wanted)
        if role == Qt.ItemDataRole.ToolTipRole:
            return theme.tip(", ".join((shown(wanted.kind.name), *wanted.kind.synonyms)))
        if role == Qt.ItemDataRole.UserRole:
            return wanted
        return None


class _MoveCell(QStyledItemDelegate):
    """Picture and name; the marked one is underlined."""

    def __init__(self, view: QAbstractItemView) -> None:
        super().__init__(view)
        self._pictures = MoveThumbs(self)
        self.folder: Path | None = None
        self._pictures.painted.connect(view.viewport().update)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Paint one move."""
        box = option.rect.adjusted(2, 2, -2, -2)
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(box, QColor(theme.RAISED))
            painter.fillRect(box.left(), box.bottom() - 3, box.width(), 4, QColor(theme.NEXT))
        side = box.height() - 4
        wanted: MoveRequest = index.data(Qt.ItemDataRole.UserRole)
        ratio = painter.device().devicePixelRatioF()
        picture = self._pictures.picture(
            wanted.kind,
            wanted.side,
            wanted.direction,
            QSize(side, side),
            ratio=ratio,
            folder=self.folder,
        )
        if picture is not None:
            painter.drawPixmap(box.left() + 4, box.top() + 2, picture)
        box.adjust(side, 0, 0, 0)
        painter.setFont(face(theme.SMALL))
        painter.setPen(QColor(theme.INK))
        text = painter.fontMetrics().elidedText(
            index.data(Qt.ItemDataRole.DisplayRole), Qt.TextElideMode.ElideRight, box.width() - 16
        )
        painter.drawText(box.adjusted(8, 0, -8, 0), int(Qt.AlignmentFlag.AlignVCenter), text)

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """Every cell alike."""
        return QSize(theme.px(CELL), theme.px(HEIGHT))


class MovePicker(QWidget):
    """Search line over the moves that fit.

    Signals:
        taken: a `MoveRequest`, and whether another is asked for. left: no more is wanted.
        ownWanted: add a move of one's own by this name. ownAsked: the same, by its form.
        ownChanged: change this own move. ownUnwanted: take this own move out.
    """

    taken = Signal(MoveRequest, bool)
    left = Signal()
    ownWanted = Signal(str)
    ownAsked = Signal(str)
    ownChanged = Signal(str)
    ownUnwanted = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self.moves = MoveList()
        self._catalogue = MoveCatalogue(())
        self._title = QLabel()
        self._title.setProperty("role", "body")
        self.search = QLineEdit(clearButtonEnabled=True)
        self.search.setPlaceholderText(_("Letters, then counts and side: gath 4, reach up r …"))
        self.search.setAccessibleName(_("Search moves"))
        self.search.setMaxLength(50)
        self.own = QPushButton(_("Own move …"))
        self.own.setAccessibleName(_("Add a move of your own, with photos or a clip"))
        self.change = QPushButton(_("Change own move   F2"))
        back = QPushButton(_("Back   Esc"))
        back.setAccessibleName(_("Back, key Escape"))
        self.list = picture_grid(self.moves, _("Moves found"), _MoveCell)
        self._told = QLabel(_("Enter adds it, a comma adds it and asks for the next."))
        self._told.setProperty("role", "dim")
        row = QHBoxLayout()
        row.setSpacing(2 * theme.STEP)
        row.addWidget(self._title)
        row.addWidget(self.search, 1)
        for button in (self.change, self.own, back):
            row.addWidget(button)
        column = QVBoxLayout(self)
        column.setContentsMargins(3 * theme.STEP, 2 * theme.STEP, 3 * theme.STEP, theme.STEP)
        column.setSpacing(theme.STEP)
        column.addLayout(row)
        column.addWidget(self._told)
        column.addWidget(self.list, 1)
        self.search.textChanged.connect(self._narrow)
        self.search.installEventFilter(self)
        self.own.clicked.connect(self._ask_own)
        self.change.clicked.connect(self._change_own)
        back.clicked.connect(self.left)
        self.list.clicked.connect(self._clicked)

    def ask(self, title: str, catalogue: MoveCatalogue, name: str = "") -> None:
        """Begin anew, with the move `name` marked."""
        self._title.setText(title)
        self.show_again(catalogue, name)

    def show_again(self, catalogue: MoveCatalogue, name: str = "") -> None:
        """Search anew under the same title, with the move `name` marked."""
        self._catalogue = catalogue
        self.search.clear()
        self._narrow("")
        self._mark(self.moves.row_of(name) if name else 0)
        self.search.setFocus()

    @property
    def folder(self) -> Path | None:
        """Where the photos of own moves lie."""
        return self.list.itemDelegate().folder  # type: ignore[attr-defined, no-any-return]

    @folder.setter
    def folder(self, folder: Path | None) -> None:
        self.list.itemDelegate().folder = folder  # type: ignore[attr-defined]

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """The search line's arrows, Return, comma and Escape work the list."""
        if (
            watched is self.search
            and event.type() == QEvent.Type.KeyPress
            and isinstance(event, QKeyEvent)
        ):
            return self._work(event)
        return super().eventFilter(watched, event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """The same from a button that has the focus."""
        if not self._work(event):
            super().keyPressEvent(event)

    def _work(self, event: QKeyEvent) -> bool:
        across = max(1, self.list.viewport().width() // theme.px(CELL))
        row, key = self.list.currentIndex().row(), Qt.Key(event.key())
        steps = {Qt.Key.Key_Down: across, Qt.Key.Key_Up: -across}
        steps |= {Qt.Key.Key_Right: 1, Qt.Key.Key_Left: -1}
        if key in steps:
            self._mark(row + steps[key])
        elif key == Qt.Key.Key_Escape:
            self.left.emit()
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Comma):
            more = key == Qt.Key.Key_Comma
            wanted = self.moves.wanted(row)
            if not more and not self.search.text().strip() and self._following:
                self.left.emit()  # the line of moves is done
            elif wanted is not None:
                self._take(wanted, more)
            elif self.search.text().strip():
                self.ownWanted.emit(self.search.text().strip())
        elif key == Qt.Key.Key_F2:
            self._change_own()
        elif key == Qt.Key.Key_Delete and not self.search.text() and self.moves.own_at(row):
            self.ownUnwanted.emit(self.moves.own_at(row))
        else:
            return False
        return True

    _following = False

    def _take(self, wanted: MoveRequest, more: bool) -> None:
        self._following = more
        if more:
            self.search.clear()
        self.taken.emit(wanted, more)

    @Slot(QModelIndex)
    def _clicked(self, index: QModelIndex) -> None:
        if wanted := self.moves.wanted(index.row()):
            self._take(wanted, more=False)

    @Slot()
    def _ask_own(self) -> None:
        self.ownAsked.emit(self.search.text().strip())

    @Slot()
    def _change_own(self) -> None:
        if name := self.moves.own_at(self.list.currentIndex().row()):
            self.ownChanged.emit(name)

    @Slot(str)
    def _narrow(self, words: str) -> None:
        self.moves.search(self._catalogue, words)
        found = self.moves.rowCount()
        self._told.setText(
            _("Enter adds it, a comma adds it and asks for the next.")
            if found
            else _("No move is called that – shorten it, or press Enter to add it as your own.")
        )
        self._mark(0)

    def _mark(self, row: int) -> None:
        index = self.moves.index(min(max(0, row), self.moves.rowCount() - 1), 0)
        self.list.setCurrentIndex(index)
        self.list.scrollTo(index)
        self.change.setVisible(bool(self.moves.own_at(index.row())))
