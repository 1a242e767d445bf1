"""The list of what can be rehearsed: a name over its history on each line."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRect, QSize, Qt, QTimer
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QResizeEvent
from PySide6.QtWidgets import QListView, QStyle, QStyledItemDelegate, QStyleOptionViewItem

from rehearse.ui import theme
from rehearse.ui.fonts import face
from rehearse.ui.pages.rehearse.drill_rows import DrillRow
from rehearse.ui.widgets import Index, LineModel


class StretchModel(LineModel):
    """The lines by what they drill."""

    def __init__(self) -> None:
        super().__init__(lambda line: line.scope)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Name for the eye, name and history for a screen reader."""
        line = self.lines[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return line.scope.name[:1].upper() + line.scope.name[1:]
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{line.scope.name}, {line.words}"
        return None


#: Room to the left of a name, and to both its sides together, in pixels.
_LEFT, _ROOM = 2 * theme.STEP, 3 * theme.STEP


class StretchDelegate(QStyledItemDelegate):
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
            painter.fillRect(QRect(rect.x(), rect.y(), 4, rect.height()), QColor(theme.NEXT))
        text = rect.adjusted(theme.px(_LEFT), 2, theme.px(_LEFT - _ROOM), -2)
        model = index.model()
        assert isinstance(model, StretchModel)
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


class StretchList(QListView):
    """The list itself; its keys stay free for the page."""

    def __init__(self) -> None:
        super().__init__()
        self.lines = StretchModel()
        self.setModel(self.lines)
        self._delegate = StretchDelegate(self)
        self.setItemDelegate(self._delegate)
        self.setAccessibleName("What to rehearse")
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
