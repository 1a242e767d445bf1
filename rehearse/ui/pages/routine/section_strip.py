"""The sections over the music: click chooses its poses, ends are dragged, a double click renames.

Delete takes the chosen section out; its poses stay.
"""

from __future__ import annotations

from itertools import count

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from rehearse.routine import edits
from rehearse.routine.model import Section
from rehearse.routine.snapping import Snap, snap
from rehearse.ui import theme
from rehearse.ui.fonts import face
from rehearse.ui.pages.routine.choreography import Choreography
from rehearse.ui.pages.routine.notes import keeps
from rehearse.ui.pages.routine.pose_timings import PoseTimings
from rehearse.ui.wave.scale import Scale
from rehearse.words import _, section_text

NEAR = 7
_DELETE = (Qt.Key.Key_Delete, Qt.Key.Key_Backspace)
_numbers = count(1)


class SectionStrip(QWidget):
    """Named stretches over time.

    Signals:
        renameWanted: another name for this id.
    """

    renameWanted = Signal(str)

    def __init__(self, choreography: Choreography, timings: PoseTimings) -> None:
        super().__init__()
        self._choreography, self._editor = choreography, choreography.editor
        self._timings = timings
        self.scale = Scale(0.0, 60.0, 1.0, 1.0)
        self.selected = ""
        self._drag: tuple[str, str, str] | None = None
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(_("Sections"))

    def sizeHint(self) -> QSize:
        """One line."""
        return QSize(600, theme.px(4 * theme.STEP))

    def show_scale(self, scale: Scale) -> None:
        """Show the stretch the waveform shows."""
        self.scale = scale
        self.update()

    def refresh(self) -> None:
        """Show the sections there are; without any the strip takes no room."""
        self.setVisible(self._editor.ready and bool(self._editor.routine.sections))
        self._tell()
        self.update()

    def _tell(self) -> None:
        """Say the same to a screen reader."""
        sections = self._editor.routine.sections if self._editor.ready else ()
        chosen = [s.name for s in sections if s.id == self.selected]
        words = [_("{chosen} chosen of", chosen=chosen[0])] if chosen else []
        self.setAccessibleDescription(" ".join([*words, ", ".join(s.name for s in sections)]))

    def bounds(self, section: Section) -> tuple[float, float]:
        """Seconds of a section's start and end."""
        beatmap = self._editor.beatmap
        return beatmap.time_of(section.start), beatmap.time_of(section.end)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Bars with names; the chosen one in ink."""
        if not self._editor.ready:
            return
        with QPainter(self) as painter:
            painter.setFont(face(theme.SMALL))
            sections = self._editor.routine.sections
            starts = [*(self.scale.x(self.bounds(later)[0]) for later in sections[1:]), 1e9]
            for section, cover in zip(sections, starts, strict=False):
                start, end = self.bounds(section)
                if not self.scale.shows(start, end):
                    continue
                left, right = max(-2.0, self.scale.x(start)), self.scale.x(end)
                box = QRectF(left + 1, 2, right - left - 2, self.height() - 6)
                seen = min(box.right(), cover, float(self.width()))
                chosen = section.id == self.selected
                painter.fillRect(box, QColor(theme.INK if chosen else theme.RAISED))
                painter.setPen(QPen(QColor(theme.DIM), 2))
                painter.drawLine(box.topLeft(), box.bottomLeft())
                painter.setPen(QColor(theme.GROUND if chosen else theme.INK))
                # A section that begins inside this one covers the rest of its name.
                free = int(seen - box.left()) - 2 * theme.STEP
                if free < 2 * theme.STEP:
                    continue
                text = painter.fontMetrics().elidedText(
                    section_text(section.name), Qt.TextElideMode.ElideRight, free
                )
                room = box.adjusted(theme.STEP, 0, 0, 0)
                painter.drawText(room, Qt.AlignmentFlag.AlignVCenter, text)

    def part_at(self, point: QPointF) -> tuple[Section | None, str]:
        """The section under a point and what of it: "start", "end" or "body"."""
        if not self._editor.ready:
            return None, ""
        for section in reversed(self._editor.routine.sections):  # what lies on top first
            left, right = (self.scale.x(t) for t in self.bounds(section))
            if left - NEAR <= point.x() <= right + NEAR:
                if abs(point.x() - left) <= NEAR:
                    return section, "start"
                return section, "end" if abs(point.x() - right) <= NEAR else "body"
        return None, ""

    def choose(self, section_id: str) -> None:
        """Show a section as chosen; an empty id none."""
        self.selected = section_id
        self._tell()
        self.update()

    def poses_in(self, section: Section) -> tuple[str, ...]:
        """Ids of the poses hit in a section."""
        start, end = self.bounds(section)
        return tuple(s.placed.id for s in self._timings.all if start <= s.hit < end)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Choose a section and its poses."""
        section, part = self.part_at(event.position())
        self.choose(section.id if section else "")
        if section is None:
            return
        if inside := self.poses_in(section):
            self._editor.choose(inside)
        if part != "body":
            self._drag = (section.id, part, f"section drag {next(_numbers)}")

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Move the end that was caught."""
        if self._drag is None:
            return
        section_id, part, merge = self._drag
        section = self._editor.routine.section(section_id)
        grid = self._editor.grid if self._editor.grid is not Snap.ACCENTS else Snap.COUNTS
        there = snap(self._editor.beatmap, self.scale.time(event.position().x()), grid)
        ends = (there, section.end) if part == "start" else (section.start, there)
        times = [self._editor.beatmap.time_of(end) for end in ends]
        if times[0] < times[1]:
            self._choreography.edit(
                _("section {name}", name=section_text(section.name)),
                lambda: edits.move_section(
                    self._editor.routine, self._editor.beatmap, section_id, *ends
                ),
                merge=merge,
            )

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """The drag is done."""
        self._drag = None

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Ask for another name."""
        section, _unused = self.part_at(event.position())
        if section is not None:
            self.renameWanted.emit(section.id)

    def event(self, event: QEvent) -> bool:
        """With a section chosen, Delete is the strip's."""
        return (bool(self.selected) and keeps(event, _DELETE)) or super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Delete takes the chosen section out."""
        if event.key() in _DELETE and self.selected:
            gone, self.selected = self.selected, ""
            name = self._editor.routine.section(gone).name
            self._choreography.edit(
                _("delete section {name}", name=name),
                lambda: edits.remove_section(self._editor.routine, gone),
            )
        else:
            super().keyPressEvent(event)
