"""Chooses a pose: figures with their names, narrowed down by typing any name of it."""

from __future__ import annotations

from PySide6.QtCore import (
    QAbstractListModel,
    QEvent,
    QModelIndex,
    QObject,
    QRect,
    QSize,
    Qt,
    QTimer,
    Signal,
    Slot,
)
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListView,
    QPushButton,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from rehearse.files.user_error import UserError
from rehearse.routine.pose import Pose
from rehearse.routine.poses import grouped
from rehearse.routine.rules import RuleSet, load_rules
from rehearse.ui import theme
from rehearse.ui.figure.pose_thumbs import Thumbs, width_of
from rehearse.ui.fonts import face
from rehearse.ui.widgets import Index
from rehearse.ui.workspace import Workspace
from rehearse.words import _, shown

#: Height of a figure and width of its cell, in pixels.
PICTURE, CELL = 88, 160
CELL_HEIGHT = PICTURE + 11 * theme.STEP
#: Room over a figure for the name of the group it begins.
_GROUP = 3 * theme.STEP
#: What a cell asks for: the name of the group it begins, and whether it belongs to one.
BEGINS, GROUPED = Qt.ItemDataRole.UserRole, Qt.ItemDataRole.UserRole + 1
#: Most room of the title, which leaves the search its own.
_TITLE = 60 * theme.STEP


def picture_grid(
    model: QAbstractListModel, name: str, cell: type[QStyledItemDelegate]
) -> QListView:
    """A grid of pictures worked from a search line: it never has the focus itself.

    Args:
        model: what is shown. name: for a screen reader. cell: what draws one.
    """
    grid = QListView()
    grid.setModel(model)
    grid.setAccessibleName(name)
    grid.setViewMode(QListView.ViewMode.IconMode)
    grid.setMovement(QListView.Movement.Static)
    grid.setResizeMode(QListView.ResizeMode.Adjust)
    grid.setUniformItemSizes(True)
    grid.setItemDelegate(cell(grid))
    grid.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
    grid.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    grid.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    return grid


class PoseList(QAbstractListModel):
    """The poses found, those of the search first.

    Where nothing is searched all are there in groups, what the rules ask for first.
    """

    def __init__(self, workspace: Workspace, thumbs: Thumbs) -> None:
        super().__init__()
        self._workspace, self._thumbs = workspace, thumbs
        self._found: tuple[Pose, ...] = ()
        self._begins: dict[int, str] = {}

    def search(self, words: str) -> None:
        """Show what these words find; nothing written: all."""
        self.beginResetModel()
        self._found, self._begins = self._workspace.catalogue.search(words), {}
        if not words.strip():
            self._group()
        self.endResetModel()

    def _group(self) -> None:
        routine = self._workspace.routine
        found: list[Pose] = []
        for name, poses in grouped(self._found, self._rules(), routine.figure if routine else ""):
            self._begins[len(found)] = name
            found += poses
        self._found = tuple(found)

    def _rules(self) -> RuleSet:
        routine = self._workspace.routine
        try:
            return load_rules(routine.rules if routine else "", self._workspace.folder)
        except UserError:  # the page's checks say so
            return load_rules("")

    def name(self, row: int) -> str:
        """Name of the pose in a row, empty for none."""
        return self._found[row].name if 0 <= row < len(self._found) else ""

    def is_own(self, row: int) -> bool:
        """Whether the athlete added this pose."""
        return 0 <= row < len(self._found) and self._found[row].own

    def row_of(self, name: str) -> int:
        """Row of a pose; 0 when it is not found."""
        return next((k for k, pose in enumerate(self._found) if pose.name == name), 0)

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """How many were found."""
        return len(self._found)

    def data(self, index: Index, role: int = 0) -> object:
        """Name and figure."""
        pose = self._found[index.row()]
        routine, name = self._workspace.routine, shown(pose.name)
        placed = {p.pose for p in routine.poses} if routine else set()
        if role == Qt.ItemDataRole.DisplayRole:
            return f"✓ {name}" if pose.name in placed else name
        if role == BEGINS:
            return self._begins.get(index.row(), "")
        if role == GROUPED:
            return bool(self._begins)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            group = self._begins.get(index.row(), "")
            return ", ".join(filter(None, (group, name, shown(pose.facing), shown(pose.level))))
        if role == Qt.ItemDataRole.ToolTipRole:
            own = (_("own pose, F2 changes it, Del deletes it"),) if pose.own else ()
            return theme.tip(", ".join((name, *pose.synonyms, *own)))
        if role == Qt.ItemDataRole.DecorationRole:
            return self._thumbs.icon(pose, theme.px(PICTURE))
        return None


class _PoseCell(QStyledItemDelegate):
    """Figure over name, which has two lines; over the first of a group the group's name."""

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Paint one pose."""
        box = option.rect.adjusted(2, 2, -2, -2)
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(box, QColor(theme.RAISED))
            painter.fillRect(box.left(), box.bottom() - 3, box.width(), 4, QColor(theme.NEXT))
        self._paint_group(painter, box, index)
        icon = index.data(Qt.ItemDataRole.DecorationRole)
        place = QRect(box.left(), box.top() + theme.px(_GROUP), box.width(), theme.px(PICTURE))
        icon.paint(painter, place, Qt.AlignmentFlag.AlignCenter)
        painter.setFont(face(theme.SMALL))
        painter.setPen(QColor(theme.INK))
        words = box.adjusted(4, theme.px(_GROUP + PICTURE) + 2, -4, -4)
        flags = Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop
        text = index.data(Qt.ItemDataRole.DisplayRole)
        painter.drawText(words, int(flags) | int(Qt.TextFlag.TextWordWrap), text)

    def _paint_group(self, painter: QPainter, box: QRect, index: Index) -> None:
        if not index.data(GROUPED):
            return
        top = box.top() + theme.px(_GROUP)
        begins = index.data(BEGINS)
        painter.fillRect(box.left() - 2, top, box.width() + 4, 1, QColor(theme.LINE))
        if begins:
            painter.fillRect(
                box.left(), box.top() + 4, 3, theme.px(CELL_HEIGHT) - 12, QColor(theme.DIM)
            )
            painter.setFont(face(theme.SMALL, strong=True))
            painter.setPen(QColor(theme.DIM))
            words = QRect(box.left() + 8, box.top(), box.width() - 8, theme.px(_GROUP))
            painter.drawText(words, Qt.AlignmentFlag.AlignVCenter, begins)

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """Every cell alike."""
        return QSize(theme.px(CELL), theme.px(CELL_HEIGHT))


class PosePicker(QWidget):
    """Search line over a grid of figures.

    Return takes the marked pose, Escape leaves, the arrows move, every letter searches. An own
    pose is changed by F2, and taken out by Delete with nothing written.

    Signals:
        taken: name of the pose. left: nothing was taken. ownWanted: add a pose of one's own.
        ownChanged: change this own pose. ownUnwanted: take this own pose out.
    """

    taken = Signal(str)
    left = Signal()
    ownWanted = Signal(str)
    ownChanged = Signal(str)
    ownUnwanted = Signal(str)

    def __init__(self, workspace: Workspace, thumbs: Thumbs) -> None:
        super().__init__()
        self.poses = PoseList(workspace, thumbs)
        self._title = QLabel()
        self._title.setProperty("role", "body")
        self.search = QLineEdit(clearButtonEnabled=True)
        self.search.setPlaceholderText(_("Any name of it: abs, rear lats, kneeling …"))
        self.search.setAccessibleName(_("Search poses"))
        self._own = QPushButton(_("Own pose …"))
        self._own.setAccessibleName(_("Add a pose of your own"))
        self.change = QPushButton(_("Change own pose   F2"))
        back = QPushButton(_("Back   Esc"))
        back.setAccessibleName(_("Back, key Escape"))
        self.grid = self._make_grid()
        self._nothing = QLabel(
            _("No pose is called that – shorten it, or press Enter to add it as your own.")
        )
        self._nothing.setProperty("role", "dim")
        row = QHBoxLayout()
        row.setSpacing(2 * theme.STEP)
        row.addWidget(self._title)
        row.addWidget(self.search, 1)
        row.addWidget(self.change)
        row.addWidget(self._own)
        row.addWidget(back)
        column = QVBoxLayout(self)
        column.setContentsMargins(3 * theme.STEP, 2 * theme.STEP, 3 * theme.STEP, theme.STEP)
        column.setSpacing(theme.STEP)
        column.addLayout(row)
        column.addWidget(self._nothing)
        column.addWidget(self.grid, 1)
        self.search.textChanged.connect(self._narrow)
        self.search.installEventFilter(self)
        self._own.clicked.connect(self._ask_own)
        self.change.clicked.connect(self._change_own)
        back.clicked.connect(self.left)
        self.grid.clicked.connect(self._take_index)

    def ask(self, title: str, name: str = "") -> None:
        """Begin anew, with `name` marked."""
        fits = self._title.fontMetrics().elidedText
        self._title.setText(fits(title, Qt.TextElideMode.ElideRight, theme.px(_TITLE)))
        self.show_again(name)

    def show_again(self, name: str) -> None:
        """Search anew under the same title, with `name` marked."""
        self.search.clear()
        self._narrow("")
        self._mark(self.poses.row_of(name) if name else 0)
        self.search.setFocus()

    def _make_grid(self) -> QListView:
        grid = picture_grid(self.poses, _("Poses found"), _PoseCell)
        grid.setIconSize(QSize(width_of(PICTURE), PICTURE))
        grid.setGridSize(QSize(CELL, CELL_HEIGHT))
        return grid

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The marked pose stays in sight."""
        super().resizeEvent(event)
        QTimer.singleShot(0, self.grid, self._show_mark)

    def _show_mark(self) -> None:
        self.grid.scrollTo(self.grid.currentIndex())

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """The search line's arrows, Return and Escape work the grid."""
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
        across = max(1, self.grid.viewport().width() // theme.px(CELL))
        row = self.grid.currentIndex().row()
        steps = {
            Qt.Key.Key_Down: across,
            Qt.Key.Key_Up: -across,
            Qt.Key.Key_Right: 1,
            Qt.Key.Key_Left: -1,
        }
        key = Qt.Key(event.key())
        if key in steps:
            self._mark(row + steps[key])
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and not self.poses.rowCount():
            self._ask_own()
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._take_index(self.grid.currentIndex())
        elif key == Qt.Key.Key_Escape:
            self.left.emit()
        elif key == Qt.Key.Key_F2:
            self._change_own()
        elif key == Qt.Key.Key_Delete and not self.search.text() and self.poses.is_own(row):
            self.ownUnwanted.emit(self.poses.name(row))
            self._narrow("")
        else:
            return False
        return True

    def _narrow(self, words: str) -> None:
        self.poses.search(words)
        self._nothing.setVisible(self.poses.rowCount() == 0)
        self._mark(0)

    def _mark(self, row: int) -> None:
        row = min(max(0, row), self.poses.rowCount() - 1)
        index = self.poses.index(row, 0)
        self.grid.setCurrentIndex(index)
        self.grid.scrollTo(index)
        self.change.setVisible(self.poses.is_own(row))

    def _take_index(self, index: QModelIndex) -> None:
        if name := self.poses.name(index.row()):
            self.taken.emit(name)

    @Slot()
    def _change_own(self) -> None:
        row = self.grid.currentIndex().row()
        if self.poses.is_own(row):
            self.ownChanged.emit(self.poses.name(row))

    @Slot()
    def _ask_own(self) -> None:
        self.ownWanted.emit(self.search.text().strip())
