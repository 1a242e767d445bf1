"""The part used on stage: its ends, its fades, its length against the limit."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QSignalBlocker, Slot
from PySide6.QtWidgets import QDoubleSpinBox, QHBoxLayout, QLabel, QWidget

from rehearse.files.user_error import UserError
from rehearse.music import trim
from rehearse.routine.model import StagePart
from rehearse.routine.rules import load_rules
from rehearse.ui import theme
from rehearse.ui.wave.wave_view import WaveView
from rehearse.ui.workspace import Workspace
from rehearse.words import _

#: Seconds of a step of the fades.
FADE_STEP = 0.5


class StageLine(QWidget):
    """Fades and length, and the edits behind the stage part."""

    def __init__(self, workspace: Workspace, view: WaveView) -> None:
        super().__init__()
        self._workspace, self._view = workspace, view
        self._drag, self._fades = "", (0.0, 0.0)
        self.length = QLabel()
        self.length.setAccessibleName(_("Length on stage against the limit"))
        self.fade_in, self.fade_out = self._fade(_("Fade in")), self._fade(_("Fade out"))
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(theme.STEP)
        for words, box in ((_("Fade in"), self.fade_in), (_("out"), self.fade_out)):
            label = QLabel(words)
            label.setProperty("role", "dim")
            row.addWidget(label)
            row.addWidget(box)
        row.addStretch(1)
        workspace.documentChanged.connect(self.refresh)
        self.refresh()

    @property
    def part(self) -> StagePart | None:
        """The part, the whole song when none is set; None while there is no song."""
        routine, duration = self._workspace.routine, self._view.duration
        if routine is None or not duration:
            return None
        return routine.stage or StagePart(0.0, duration)

    def move_end(self, end: str, time: float, reach: float, merge: str = "") -> None:
        """Move "start" or "end" to `time`, onto an accent or beat within `reach` seconds."""
        part = self.part
        if part is None:
            return
        time = self._view.caught(time, reach)
        ends = (time, part.end) if end == "start" else (part.start, time)
        if ends[1] - ends[0] < trim.SHORTEST:
            self._workspace.errorRaised.emit(
                _("The part would be shorter than a second – move its other end first.")
            )
            return
        start, stop = trim.fit_part(*ends, self._view.duration)
        moved = replace(part, start=round(start, 6), end=round(stop, 6))
        if not merge or merge != self._drag:
            # Of the part as the drag found it: on its way it may have room for less.
            self._drag, self._fades = merge, (part.fade_in, part.fade_out)
        self._set(_faded(moved, *self._fades), merge)

    def begin_here(self) -> None:
        """The part begins at the cursor."""
        self.move_end("start", self._view.cursor_time, 0.0)

    def end_here(self) -> None:
        """The part ends at the cursor."""
        self.move_end("end", self._view.cursor_time, 0.0)

    def whole(self) -> None:
        """Use the whole song."""
        part = self.part
        if part is not None:
            self._set(replace(part, start=0.0, end=round(self._view.duration, 6)))

    @Slot()
    def refresh(self) -> None:
        """Show what is on the workspace."""
        routine = self._workspace.routine
        # While the song is being read what the routine says of it stands here already.
        part = self.part or (routine.stage if routine else None)
        self.setEnabled(self.part is not None)
        if part is None:
            self.length.setText("")
            return
        for box, value in ((self.fade_in, part.fade_in), (self.fade_out, part.fade_out)):
            with QSignalBlocker(box):
                box.setValue(value)
        limit = self._limit()
        words = _("{length:.1f} s on stage", length=part.length)
        if limit is not None:
            over = trim.over_limit(part.length, limit)
            words += (
                _(", {over:.1f} s over the limit of {limit:g} s", over=over, limit=limit)
                if over
                else _(" of {limit:g} s", limit=limit)
            )
            words = f"▲ {words}" if over else words
            self.length.setProperty("role", "fault" if over else "")
            self.length.style().polish(self.length)
        self.length.setText(words)
        self._view.refresh()

    def _limit(self) -> float | None:
        routine = self._workspace.routine
        try:
            return load_rules(routine.rules if routine else "", self._workspace.folder).limit
        except UserError:
            # The Routine page tells of a missing rule set; here there is just no limit.
            return None

    def _fade(self, words: str) -> QDoubleSpinBox:
        box = QDoubleSpinBox(decimals=1, singleStep=FADE_STEP, maximum=30.0, suffix=" s")
        box.setAccessibleName(words)
        # Without arrows the style sheet's padding is not heeded.
        box.lineEdit().setTextMargins(6, 0, 0, 0)
        box.setKeyboardTracking(False)
        box.valueChanged.connect(self._fades_changed)
        return box

    @Slot()
    def _fades_changed(self) -> None:
        part = self.part
        if part is not None:
            self._set(_faded(part, self.fade_in.value(), self.fade_out.value()))

    def _set(self, part: StagePart, merge: str = "") -> None:
        routine = self._workspace.routine
        if routine is not None:
            self._workspace.edit(
                _("set the stage part"), routine=replace(routine, stage=part), merge=merge
            )


def _faded(part: StagePart, fade_in: float, fade_out: float) -> StagePart:
    """The part with these fades, as far as they fit into it."""
    fades = trim.fit_fades(part.length, fade_in, fade_out)
    return replace(part, fade_in=round(fades[0], 3), fade_out=round(fades[1], 3))
