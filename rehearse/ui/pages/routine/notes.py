"""A list of things said about the routine: where, why, what to do; Return does it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from PySide6.QtCore import QAbstractListModel, QEvent, QModelIndex, QRect, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetrics, QKeyEvent, QPainter
from PySide6.QtWidgets import QListView, QStyle, QStyledItemDelegate, QStyleOptionViewItem

from rehearse.ui import theme
from rehearse.ui.fonts import face
from rehearse.ui.widgets import Index
from rehearse.words import _

_KEYS = (Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Return, Qt.Key.Key_Enter)


def keeps(event: QEvent, keys: Sequence[Qt.Key]) -> bool:
    """Claim these keys, plain, for the widget that has the focus, before a gesture hears them."""
    if not isinstance(event, QKeyEvent) or event.type() != QEvent.Type.ShortcutOverride:
        return False
    if event.key() in keys and event.modifiers() in (_PLAIN, Qt.KeyboardModifier.KeypadModifier):
        event.accept()
        return True
    return False


_PLAIN = Qt.KeyboardModifier.NoModifier


@dataclass(frozen=True)
class Note:
    """One line of the list.

    Args:
        sign: ▲ fault, △ warning, · hint, or any other mark. head: where or what, in one line.
        text: why and what to do, any length. data: what the list's owner means by it.
        act: what Return does to it, or empty; None: the list asks for it when the note is marked.
    """

    sign: str
    head: str
    text: str
    data: Any = None
    act: str | None = ""


class _Notes(QAbstractListModel):
    def __init__(self) -> None:
        super().__init__()
        self.notes: tuple[Note, ...] = ()

    def set_notes(self, notes: Sequence[Note]) -> None:
        """Show these."""
        self.beginResetModel()
        self.notes = tuple(notes)
        self.endResetModel()

    def retell(self, row: int, **fields: str) -> None:
        """Another text, or act, for the note in a row."""
        changed = list(self.notes)
        changed[row] = replace(changed[row], **fields)
        self.notes = tuple(changed)
        self.dataChanged.emit(self.index(row, 0), self.index(row, 0))

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """How many."""
        return len(self.notes)

    def data(self, index: Index, role: int = 0) -> object:
        """The note itself, and how a screen reader says it."""
        note = self.notes[index.row()]
        if role == Qt.ItemDataRole.UserRole:
            return note
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole):
            words = {"▲": _("fault"), "△": _("warning"), "·": _("hint")}.get(note.sign, "")
            return f"{words} {note.head} {note.text} {note.act or ''}".strip()
        return None


class _Painter(QStyledItemDelegate):
    """Two voices: the head in ink, the rest dimmer and wrapped.

    The marked note says what Return does to it, beside its head or, where both have no room
    there, in a line of its own.
    """

    PAD = theme.STEP
    SIGN = 3 * theme.STEP

    def __init__(self, view: QListView) -> None:
        super().__init__(view)
        self._view = view

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """As tall as the text wraps."""
        note = index.data(Qt.ItemDataRole.UserRole)
        view = option.widget if isinstance(option.widget, QListView) else None
        width = _width(view) if view else 300
        line = QFontMetrics(face(theme.SMALL, strong=True)).height()
        marked = view is not None and index == view.currentIndex()
        lines = 2 if marked and self._act_apart(width, note) else 1
        height = self._text_box(width, note).height()
        return QSize(width, lines * line + height + 2 * theme.px(self.PAD))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Sign, head, text, and for the marked one what Return does."""
        note = index.data(Qt.ItemDataRole.UserRole)
        marked = bool(option.state & QStyle.StateFlag.State_Selected)
        box = option.rect
        if marked:
            painter.fillRect(box, QColor(theme.RAISED))
            mark = QRect(box.left(), box.top(), 4, box.height())
            painter.fillRect(QStyle.visualRect(option.direction, box, mark), QColor(theme.NEXT))
        painter.setFont(face(theme.SMALL, strong=True))
        line = painter.fontMetrics().height()
        left = box.left() + theme.px(self.PAD) + 4
        sign = QRect(left, box.top() + theme.px(self.PAD), theme.px(self.SIGN), line)
        painter.setPen(QColor(theme.FAULT if note.sign in "▲△" else theme.DIM))
        seen = QStyle.visualRect(option.direction, box, sign)
        painter.drawText(seen, Qt.AlignmentFlag.AlignLeft, note.sign)
        head = sign.translated(theme.px(self.SIGN), 0)
        head.setRight(box.right() - theme.px(self.PAD))
        head = QStyle.visualRect(option.direction, box, head)
        if marked and note.act:
            self._paint_act(painter, head, box, note)
        painter.setPen(QColor(theme.INK))
        name = painter.fontMetrics().elidedText(
            note.head, Qt.TextElideMode.ElideRight, head.width()
        )
        painter.drawText(head, Qt.AlignmentFlag.AlignLeft, name)
        painter.setFont(face(theme.SMALL))
        painter.setPen(QColor(theme.DIM))
        text = self._text_box(box.width(), note).translated(
            box.left(), box.top() + theme.px(self.PAD) + line
        )
        text = QStyle.visualRect(option.direction, box, text)
        painter.drawText(text, Qt.TextFlag.TextWordWrap, note.text)

    def _paint_act(self, painter: QPainter, head: QRect, box: QRect, note: Note) -> None:
        room = QRect(head)
        if self._act_apart(_width(self._view), note):
            room.moveBottom(box.bottom() - theme.px(self.PAD))
        painter.setPen(QColor(theme.NEXT))
        painter.drawText(room, Qt.AlignmentFlag.AlignRight, _act(note))

    def _act_apart(self, width: int, note: Note) -> bool:
        """Whether head and act have no room beside each other."""
        metrics = QFontMetrics(face(theme.SMALL, strong=True))
        room = width - 3 * theme.px(self.PAD) - 4 - theme.px(self.SIGN)
        both = metrics.horizontalAdvance(note.head) + metrics.horizontalAdvance(_act(note))
        return bool(note.act) and both > room

    def _text_box(self, width: int, note: Note) -> QRect:
        left = theme.px(self.PAD) + 4 + theme.px(self.SIGN)
        room = max(40, width - left - theme.px(self.PAD))
        high = _height(note.text, room, round(theme.SMALL)) if note.text else 0
        return QRect(left, 0, room, high)


def _width(view: QListView) -> int:
    """Of a note beside the list's bar, there or not: it comes while the notes are laid out."""
    return view.width() - 2 * view.frameWidth() - view.verticalScrollBar().sizeHint().width()


@lru_cache(maxsize=1000)
def _height(text: str, width: int, pixels: int) -> int:
    """Of wrapped text; each change of the list's size asks for that of every note in it."""
    flags = int(Qt.TextFlag.TextWordWrap)
    metrics = QFontMetrics(face(pixels))
    return metrics.boundingRect(QRect(0, 0, width, 10_000), flags, text).height()


def _act(note: Note) -> str:
    return _("Enter: {act}", act=note.act)


class NoteList(QListView):
    """The list.

    Args:
        name: what it is called. act_of: what Return does to a note that does not say so itself.

    Signals:
        marked: the note the keys are on. taken: Return or a double click on a note.
        tried: the right arrow on a note.
    """

    tried = Signal(Note)
    marked = Signal(Note)
    taken = Signal(Note)

    def __init__(self, name: str, act_of: Callable[[Any], str] | None = None) -> None:
        super().__init__()
        self._act_of = act_of
        #: Keys the list keeps from the page while it has the focus.
        self.own_keys: tuple[Qt.Key, ...] = _KEYS
        self._given: tuple[Note, ...] = ()
        self._notes = _Notes()
        self.setModel(self._notes)
        self.setItemDelegate(_Painter(self))
        self.setAccessibleName(name)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollMode(QListView.ScrollMode.ScrollPerPixel)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.setEditTriggers(QListView.EditTrigger.NoEditTriggers)
        self.doubleClicked.connect(self._take)

    @property
    def notes(self) -> tuple[Note, ...]:
        """What is shown."""
        return self._notes.notes

    @property
    def note(self) -> Note | None:
        """The marked note."""
        index = self.currentIndex()
        return self._notes.notes[index.row()] if index.isValid() else None

    def show_notes(self, notes: Sequence[Note]) -> None:
        """Show these; the mark stays in its row."""
        if tuple(notes) == self._given:
            self._settle(again=True)
            return
        self._given = tuple(notes)
        row = max(0, self.currentIndex().row())
        self._notes.set_notes(notes)
        if notes:
            blocked = self.blockSignals(True)
            self.setCurrentIndex(self._notes.index(min(row, len(notes) - 1), 0))
            self.blockSignals(blocked)
            self._settle()

    def retell(self, row: int, text: str) -> None:
        """Give the note in a row another text."""
        self._notes.retell(row, text=text)
        self.scheduleDelayedItemsLayout()

    def _settle(self, *, again: bool = False) -> None:
        """Find out what Return does to the marked note: asking for all of them takes too long."""
        row = self.currentIndex().row()
        if self._act_of is None or not 0 <= row < len(self._given):
            return
        if self._given[row].act is None and (again or self._notes.notes[row].act is None):
            act = self._act_of(self._given[row].data)
            if act != self._notes.notes[row].act:
                self._notes.retell(row, act=act)

    def currentChanged(self, current: Index, previous: Index) -> None:
        """Tell which note is marked."""
        super().currentChanged(current, previous)
        self.scheduleDelayedItemsLayout()  # the marked note is taller
        if current.isValid():
            self._settle()
            self.marked.emit(self._notes.notes[current.row()])

    def event(self, event: QEvent) -> bool:
        """Arrows and Return are the list's while it has the focus, not the page's."""
        return keeps(event, self.own_keys) or super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Return takes the marked note."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._take(self.currentIndex())
        elif event.key() == Qt.Key.Key_Right and (note := self.note) is not None:
            self.tried.emit(note)
        else:
            super().keyPressEvent(event)

    def keyboardSearch(self, search: str) -> None:
        """Letters are the page's keys, not a search."""

    def _take(self, index: QModelIndex) -> None:
        if index.isValid():
            self.taken.emit(self._notes.notes[index.row()])
