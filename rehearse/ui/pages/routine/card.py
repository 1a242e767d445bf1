"""The selected pose large: its figure, moving with the music, its place, and the note on it."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QMimeData, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QFocusEvent, QKeyEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QLabel, QPlainTextEdit, QSizePolicy, QVBoxLayout, QWidget

from rehearse.routine.bones import Figure
from rehearse.routine.look import MAN, Look
from rehearse.routine.model import LONGEST_NOTE, Move
from rehearse.routine.motion import body_at
from rehearse.routine.moving import Timed
from rehearse.routine.timed_pose import TimedPose
from rehearse.routine.way import Way, done, way_into
from rehearse.ui import theme
from rehearse.ui.actions import key
from rehearse.ui.figure.painter import paint_figure
from rehearse.ui.figure.pose_thumbs import Thumbs, height_of, width_of
from rehearse.ui.pages.routine.choreography import Choreography
from rehearse.ui.pages.routine.pose_timings import PoseTimings
from rehearse.ui.settings import Settings
from rehearse.words import _, place_text, shown

#: Height of the card from which on an empty note is shown too.
ROOMY = 34 * theme.STEP


class FigureView(QWidget):
    """One figure, as large as fits: a pose, whose picture is kept, or a body on its way."""

    def __init__(self, thumbs: Thumbs) -> None:
        super().__init__()
        self.mirrored = False
        self._thumbs = thumbs
        self.figure: Figure | None = None
        self._look = MAN
        self._pose: TimedPose | None = None
        self.setMinimumHeight(8 * theme.STEP)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAccessibleName(_("Figure of the pose"))

    def show_figure(
        self, figure: Figure | None, pose: TimedPose | None = None, look: Look = MAN
    ) -> None:
        """Show this body, which is in `pose` or on its way; None: nobody."""
        look = pose.pose.look if pose else look
        if (figure, look) != (self.figure, self._look):
            self.figure, self._pose, self._look = figure, pose, look
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint it standing at the bottom middle."""
        if self.figure is None:
            return
        with QPainter(self) as painter:
            if self._pose is None:
                colours = (QColor(c) for c in (theme.INK, theme.DIM, theme.GROUND))
                ink, accent, ground = colours
                paint_figure(
                    painter,
                    QRectF(self.rect()),
                    self.figure,
                    self._look,
                    ink=ink,
                    accent=accent,
                    ground=ground,
                    mirrored=self.mirrored,
                )
            else:
                placed, ratio = self._pose.placed, self.devicePixelRatioF()
                height = min(self.height(), height_of(self.width()))
                picture = self._thumbs.picture(
                    self._pose.pose,
                    height,
                    facing=placed.facing,
                    level=placed.level,
                    mirrored=self.mirrored,
                    ratio=ratio,
                )
                left = (self.width() - width_of(height)) / 2
                painter.drawPixmap(QPointF(left, self.height() - height), picture)


class NoteEdit(QPlainTextEdit):
    """The coach's word on a pose; written when left, Escape puts it back.

    Signals:
        written: the new text.
    """

    written = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self._before = ""
        self.setPlaceholderText(_("Note ({key_note})", key_note=key("note")))
        self.setAccessibleName(_("Note on the pose"))
        self.setTabChangesFocus(True)
        self.setFixedHeight(9 * theme.STEP)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)

    def show_text(self, text: str) -> None:
        """Show the note of another pose."""
        if text != self.toPlainText() and not self.hasFocus():
            self.setPlainText(text)
        self._before = text

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Return writes, Shift with it begins a new line, Escape puts back."""
        plain = not event.modifiers() & Qt.KeyboardModifier.ShiftModifier
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and plain:
            self._leave()
        elif event.key() == Qt.Key.Key_Escape:
            self.setPlainText(self._before)
            self._leave()
        else:
            super().keyPressEvent(event)

    def _leave(self) -> None:
        if (card := self.parentWidget()) is not None:
            card.setFocus()

    def insertFromMimeData(self, source: QMimeData) -> None:
        """Take no more of what is pasted than a routine can hold."""
        room = LONGEST_NOTE - len(self.toPlainText()) + len(self.textCursor().selectedText())
        self.insertPlainText(source.text()[: max(0, room)])

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Write what was changed."""
        super().focusOutEvent(event)
        if self.toPlainText() != self._before:
            self._before = self.toPlainText()
            self.written.emit(self._before)


class PoseCard(QWidget):
    """Figure, name, place and note of the selected pose, or of the one at the cursor."""

    def __init__(
        self,
        choreography: Choreography,
        timings: PoseTimings,
        thumbs: Thumbs,
        settings: Settings,
    ) -> None:
        super().__init__()
        self._settings = settings
        self._choreography, self._editor = choreography, choreography.editor
        self._timings = timings
        self._noted = ""
        self._told: TimedPose | None = None
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.setAccessibleName(_("Pose: none here"))
        self.figure = FigureView(thumbs)
        self.name, self.place = QLabel(wordWrap=True), QLabel(wordWrap=True)
        self.place.setProperty("role", "dim")
        self.note = NoteEdit()
        column = QVBoxLayout(self)
        column.setContentsMargins(3 * theme.STEP, 0, theme.STEP, theme.STEP)
        column.setSpacing(theme.STEP // 2)
        column.addWidget(self.figure, 1)
        for widget in (self.name, self.place, self.note):
            column.addWidget(widget)
        self.note.written.connect(self._write)
        self._editor.chosenChanged.connect(self.refresh)

    def write_note(self) -> None:
        """Give the keys to the note."""
        self.note.show()
        self.note.setFocus()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Where there is little room the figure comes before an empty note."""
        self._make_room()
        super().resizeEvent(event)
        if self._told is not None:
            self._describe(self._told)

    def _make_room(self) -> None:
        roomy = bool(self._noted) and self.height() > theme.px(ROOMY)
        self.note.setVisible(self.note.hasFocus() or roomy)
        self.place.setVisible(self.height() > theme.px(ROOMY) * 0.6)

    def refresh(self) -> None:
        """Show the selected pose as it is now."""
        selected = self._editor.selected
        span = self._timings.find(selected.id) if selected else None
        self.note.setEnabled(span is not None)
        if span is None:
            self._noted = ""
            self.note.show_text("")
            self._make_room()
            self.show_time(self._editor.cursor)
            return
        self.figure.show_figure(span.figure, span)
        self._describe(span)
        self._noted = span.placed.id
        self.note.show_text(span.placed.note)
        self._make_room()

    def show_time(self, time: float) -> None:
        """Show the body as it is at a time: held, or on its way; without animation, in its pose."""
        figure, span = figure_at(self._timings, time)
        if span is not None and self._settings.get("reduced_motion"):
            figure = span.figure
        self.figure.show_figure(figure, look=span.pose.look if span else MAN)
        if span is None:
            self._told = None
            self.setAccessibleName(_("Pose: none here"))
            self.name.clear()
            self.place.clear()
        else:
            self._describe(span)

    def _describe(self, span: TimedPose) -> None:
        placed, self._told = span.placed, span
        self.name.setText(shown(placed.pose))
        where, stance = place_text(placed.hit), [shown(span.facing), shown(span.level)]
        said = _(
            "Pose: {pose}, {hit}, {facing}, {level}",
            pose=shown(placed.pose),
            hit=placed.hit,
            facing=shown(span.facing),
            level=shown(span.level),
        )
        if said != self.accessibleName():  # the music asks at the rate of the screen
            self.setAccessibleName(said)
        more = [_("turn {turn}", turn=shown(placed.turn))] if placed.turn else []
        more += [_("at {place}", place=shown(placed.place))] if placed.place else []
        # The label's own width is an old one while it is hidden or the card is being laid out.
        edges = self.contentsMargins() if (lay := self.layout()) is None else lay.contentsMargins()
        room = self.width() - edges.left() - edges.right()
        metrics = self.place.fontMetrics()
        lines = [f"{where}   {', '.join([*stance, *more])}"]
        self.place.setToolTip(theme.tip(lines[0]))
        if metrics.horizontalAdvance(lines[0]) > room:
            # A second line would be cut in a small window; turn and place stand in the tool tip.
            lines = [f"{where}   {', '.join(stance)}"]
        alone = metrics.horizontalAdvance(lines[0]) > room  # it takes the room of two lines
        if placed.note and self.height() <= theme.px(ROOMY) and not alone:
            first = placed.note.splitlines()[0]
            lines.append(metrics.elidedText(first, Qt.TextElideMode.ElideRight, room))
        self.place.setText("\n".join(lines))
        self.setToolTip(theme.tip(placed.note))

    def _write(self, text: str) -> None:
        if self._noted and self._timings.find(self._noted):
            self._choreography.write(self._noted, note=text)


def figure_at(timings: PoseTimings, time: float) -> tuple[Figure | None, TimedPose | None]:
    """The body at a time, and the pose it is in or on its way to."""
    last, coming = timings.before(time)
    if coming is None:
        off = timings.way_off
        if last is None or not off or time <= off[0].start:
            return (last.figure, last) if last else (None, None)
        moves = done(_timed(off), timings.known_moves)
        leaving = Way(last.figure, None, off[0].start, off[-1].end, moves)
        return body_at(leaving, time).figure, last
    if last is None and not coming.moves:
        return coming.figure, coming
    way = way_into(last, coming, _timed(coming.moves), timings.known_moves)
    if last is not None and time <= way.start:
        return last.figure, last
    return body_at(way, time).figure, coming


def _timed(moves: Iterable[Timed]) -> list[tuple[Move, float, float]]:
    return [(timed.move, timed.start, timed.end) for timed in moves]
