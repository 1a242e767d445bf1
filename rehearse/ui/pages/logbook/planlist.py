"""Today's plan as a list: each line with its passes and, in words, its reason."""

from __future__ import annotations

from PySide6.QtCore import QRect, QSize, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QResizeEvent
from PySide6.QtWidgets import QListView, QStyle, QStyledItemDelegate, QStyleOptionViewItem

from rehearse.practice.planbook import DayPlan
from rehearse.practice.planline import GROUP_WORDS, PlanLine
from rehearse.ui import theme
from rehearse.ui.actions import key
from rehearse.ui.fonts import face
from rehearse.ui.widgets import Index, LineModel
from rehearse.words import _, ngettext, shown

_LINE = 22
_PAD = theme.STEP
_LEFT, _RIGHT = 2 * theme.STEP, 13 * theme.STEP


#: What stands beside a line that has nothing left to give.
DONE = _("✓ done")


def passes_words(line: PlanLine) -> str:
    """How often, in words: a drill until clean has no fixed number."""
    if line.group == "new":
        return _("until clean")
    return ngettext("{passes} pass", "{passes} passes", line.passes, passes=line.passes)


def state_words(line: PlanLine, day: DayPlan | None) -> str:
    """What became of a line, or how often it is to come."""
    if line.struck:
        return _("skipped")
    done = day.passes_of(line) if day else 0
    if day and done and day.is_done(line):
        return DONE
    if done and line.group != "new":
        return _("{done} of {passes_words}", done=done, passes_words=passes_words(line))
    return passes_words(line)


def reason_words(line: PlanLine, *, sources: bool) -> str:
    """The reason, with what it rests on where that is asked for."""
    return f"{line.reason} ({source_text(line.source)})" if sources else line.reason


def _title(line: PlanLine) -> str:
    """What it works at; a section is called as the athlete called it."""
    return line.title if line.work.scope.kind == "section" else shown(line.title)


def source_text(source: str) -> str:
    """What a reason rests on, as people read it."""
    return "; ".join(map(shown, source.split("; ")))


class PlanModel(LineModel):
    """The lines of a plan."""

    def __init__(self) -> None:
        super().__init__(lambda line: line.id)
        self.states: tuple[str, ...] = ()
        self.sources = False

    def show(self, day: DayPlan | None) -> None:
        """Show a plan and what became of its lines."""
        lines = day.plan.lines if day else ()
        self.states = tuple(state_words(line, day) for line in lines)
        self.put(lines)

    def begins_group(self, row: int) -> bool:
        """Whether a heading stands over this line."""
        return row == 0 or self.lines[row].group != self.lines[row - 1].group

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Title for the eye, everything for a screen reader."""
        line = self.lines[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            title = _title(line)
            return title[:1].upper() + title[1:]
        if role == Qt.ItemDataRole.AccessibleTextRole:
            why = reason_words(line, sources=True)
            return f"{_title(line)}, {self.states[index.row()]}. {why}"
        if role == Qt.ItemDataRole.ToolTipRole:
            return _(
                "Rests on: {source} ({key_sources} shows it in every line)",
                source=source_text(line.source),
                key_sources=key("sources"),
            )
        return None


class PlanDelegate(QStyledItemDelegate):
    """A line: heading where a group begins, title and passes, the reason beneath."""

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """As high as its reason needs at the width there is."""
        model = index.model()
        assert isinstance(model, PlanModel)
        view = option.widget
        width = view.viewport().width() if isinstance(view, QListView) else 400
        return QSize(width, self._height(model, index.row(), width))

    def _height(self, model: PlanModel, row: int, width: int) -> int:
        line = model.lines[row]
        head = theme.px(_LINE) + theme.px(_PAD) + 4 if model.begins_group(row) else 0
        reason = 0 if line.struck else _reason_rect(model, line, width).height()
        return head + theme.px(_LINE) + 2 + reason + 2 * theme.px(_PAD)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw one line."""
        model = index.model()
        assert isinstance(model, PlanModel)
        line, area = model.lines[index.row()], QRect(option.rect)
        painter.save()
        if model.begins_group(index.row()):
            area.setTop(area.top() + self._heading(painter, area, line))
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        if chosen:
            painter.fillRect(area, QColor(theme.RAISED))
            mark = QRect(area.left(), area.top(), 4, area.height())
            focused = bool(option.state & QStyle.StateFlag.State_HasFocus)
            painter.fillRect(mark, QColor(theme.INK if focused else theme.LINE))
        room = area.adjusted(theme.px(_LEFT), theme.px(_PAD), -theme.px(_PAD), -theme.px(_PAD))
        self._words(painter, room, line, str(index.data()), model.states[index.row()])
        if not line.struck:
            self._reason(painter, room, reason_words(line, sources=model.sources))
        painter.restore()

    def _heading(self, painter: QPainter, area: QRect, line: PlanLine) -> int:
        painter.setFont(face(theme.SMALL, strong=True))
        painter.setPen(QColor(theme.DIM))
        row = QRect(
            area.left() + theme.px(_LEFT),
            area.top() + theme.px(_PAD),
            area.width(),
            theme.px(_LINE),
        )
        painter.drawText(row, Qt.AlignmentFlag.AlignVCenter, GROUP_WORDS[line.group])
        return theme.px(_LINE) + theme.px(_PAD) + 4

    def _words(
        self, painter: QPainter, area: QRect, line: PlanLine, title: str, state: str
    ) -> None:
        name = QRect(area.left(), area.top(), area.width() - theme.px(_RIGHT), theme.px(_LINE))
        font = face(theme.SMALL + 2, strong=True)
        if QFontMetrics(font).horizontalAdvance(title) > name.width():
            font = face(theme.SMALL, strong=True)
        font.setStrikeOut(line.struck)
        painter.setFont(font)
        painter.setPen(QColor(theme.DIM if line.struck or state == DONE else theme.INK))
        words = painter.fontMetrics().elidedText(title, Qt.TextElideMode.ElideRight, name.width())
        painter.drawText(name, Qt.AlignmentFlag.AlignVCenter, words)
        painter.setFont(face(theme.SMALL))
        side = QRect(area.right() - theme.px(_RIGHT), area.top(), theme.px(_RIGHT), theme.px(_LINE))
        flag = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        painter.drawText(side, flag, state)

    def _reason(self, painter: QPainter, area: QRect, words: str) -> None:
        painter.setPen(QColor(theme.DIM))
        place = QRect(area.left(), area.top() + theme.px(_LINE) + 2, area.width(), area.height())
        painter.drawText(place, Qt.TextFlag.TextWordWrap, words)


def _reason_rect(model: PlanModel, line: PlanLine, width: int) -> QRect:
    metrics = QFontMetrics(face(theme.SMALL))
    room = QRect(0, 0, max(80, width - theme.px(_LEFT) - theme.px(_PAD)), 2000)
    words = reason_words(line, sources=model.sources)
    return metrics.boundingRect(room, Qt.TextFlag.TextWordWrap, words)


class PlanList(QListView):
    """The list; arrows choose a line."""

    def __init__(self) -> None:
        super().__init__()
        self.lines = PlanModel()
        self.setModel(self.lines)
        self.setItemDelegate(PlanDelegate(self))
        self.setVerticalScrollMode(QListView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName(_("Today's plan"))
        # The bright mark on the chosen line shows the focus; a frame around the list would shout.
        self.setStyleSheet("QListView:focus { border-color: transparent; }")

    @property
    def chosen(self) -> PlanLine | None:
        """The line under the arrows."""
        row = self.currentIndex().row()
        return self.lines.lines[row] if 0 <= row < len(self.lines.lines) else None

    def show_sources(self) -> None:
        """Show what every reason rests on, or hide it."""
        self.lines.sources = not self.lines.sources
        self.scheduleDelayedItemsLayout()
        self.viewport().update()

    def choose(self, line_id: str) -> None:
        """Put the arrows on a line."""
        for row, line in enumerate(self.lines.lines):
            if line.id == line_id:
                self.setCurrentIndex(self.lines.index(row))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Reasons wrap anew."""
        super().resizeEvent(event)
        self.scheduleDelayedItemsLayout()
