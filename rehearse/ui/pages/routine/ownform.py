"""The form of an own pose or move: a name, how it is spoken, photos that stand for the figure.

Photos and clips are read, and written into the folder, in a worker; the form goes on meanwhile.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent, QPixmap
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from rehearse.files.user_error import UserError
from rehearse.routine.model import Routine
from rehearse.routine.photos import ENDINGS
from rehearse.routine.shots import CLIPS, Shot, keep_shots, make_shots
from rehearse.ui import file_dialog, theme
from rehearse.ui.flows.opening import pictures_folder
from rehearse.ui.jobs import RunningJob
from rehearse.ui.workspace import Workspace
from rehearse.words import _, shown

_LONGEST_NAME = 60
#: Height of a photo shown in the form, in pixels, and how many stand beside each other.
_PREVIEW, _SHOWN = 16 * theme.STEP, 8


class OwnForm(QWidget):
    """What the forms of poses and moves share; Return writes, Escape leaves.

    Signals:
        added: name of what is new. changed: name of what is changed. left: nothing was done.
    """

    added = Signal(str)
    changed = Signal(str)
    left = Signal()
    #: What it is, as in "own pose"; whether several photos, or a clip, may be shown in turn.
    kind, many = "pose", False

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self._old: Any = None
        self._kept: tuple[str, ...] = ()
        self._shots: tuple[Shot, ...] = ()
        self._running: RunningJob | None = None
        self._then_write = False
        self._title = QLabel()
        self._title.setProperty("role", "body")
        self.name, self.say = QLineEdit(maxLength=_LONGEST_NAME), QLineEdit(maxLength=200)
        self.say.setPlaceholderText(_("as the voice says it; empty: the name"))
        self.photo = QPushButton()
        self.no_photo = QPushButton(_("No photos") if self.many else _("No photo"))
        self.previews = [QLabel() for _unused in range(_SHOWN if self.many else 1)]
        self.write = QPushButton()
        self.write.setProperty("role", "main")
        self.back = QPushButton(_("Back   Esc"))
        self.back.setAccessibleName(_("Back, key Escape"))
        self._form = QGridLayout()
        self._lay_out()
        self.photo.clicked.connect(self._choose)
        self.no_photo.clicked.connect(self._drop)
        self.write.clicked.connect(self._write)
        self.back.clicked.connect(self.leave)

    def _lay_out(self) -> None:
        form = self._form
        form.setHorizontalSpacing(2 * theme.STEP)
        form.setVerticalSpacing(theme.STEP)
        photo = QHBoxLayout()
        photo.setSpacing(theme.STEP)
        photo.addWidget(self.photo, 1)
        photo.addWidget(self.no_photo)
        self.field(_("Name"), self.name, 0, 0)
        self.field(_("Spoken"), self.say, 0, 2)
        form.addWidget(QLabel(_("Photos") if self.many else _("Photo")), 2, 0)
        form.addLayout(photo, 2, 1)
        form.addWidget(self.write, 2, 3)
        form.setColumnStretch(1, 1)
        form.setColumnStretch(3, 1)
        head, pictures = QHBoxLayout(), QHBoxLayout()
        head.addWidget(self._title, 1)
        head.addWidget(self.back)
        for number, preview in enumerate(self.previews):
            preview.setAccessibleName(
                _("Photo {number}", number=number + 1) if self.many else _("The photo")
            )
            pictures.addWidget(preview)
        pictures.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(3 * theme.STEP, theme.STEP, 3 * theme.STEP, theme.STEP)
        layout.setSpacing(theme.STEP)
        for part in (head, form, pictures):
            layout.addLayout(part)
        layout.addStretch(1)

    def field(self, words: str, field: QWidget, row: int, column: int) -> None:
        """Put a field with its words into the form."""
        field.setAccessibleName(_("{words} of the own {kind}", words=words, kind=shown(self.kind)))
        self._form.addWidget(QLabel(words), row, column)
        self._form.addWidget(field, row, column + 1)

    def begin(self, old: Any, own: Any, kept: Sequence[str]) -> None:
        """Show `own`; `old` is what it replaces, None for a new one; `kept`: its photos so far."""
        self._stop()
        self._old, self._kept, self._shots = old, tuple(kept), ()
        self._title.setText(
            _("Change {name}", name=old.name) if old else _("Own {kind}", kind=shown(self.kind))
        )
        self.name.setText(own.name)
        self.say.setText(own.say)
        self._show_photos()
        if self._kept and self._workspace.folder is not None:
            paths = tuple(self._workspace.folder / name for name in self._kept)
            self._run(_("Reading the photo"), make_shots, paths, done=self._show_previews)

    def listen(self) -> None:
        """Give the keys to the name."""
        self.name.setFocus()
        self.name.selectAll()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter writes it from wherever the focus is, Escape leaves."""
        if event.key() == Qt.Key.Key_Escape:
            self.leave()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._write()
        else:
            super().keyPressEvent(event)

    @Slot()
    def leave(self) -> None:
        """Go back; nothing is done."""
        self._stop()
        self.left.emit()

    # -- photos ---------------------------------------------------------------------------
    @Slot()
    def _choose(self) -> None:
        kinds = " ".join(f"*{ending}" for ending in (*ENDINGS, *(CLIPS if self.many else ())))
        words = _("Photos, or a short clip, of the move") if self.many else _("Photo of the pose")
        kinds_words = _("Pictures") if self.many else words
        asked = (self, words, pictures_folder(), f"{kinds_words} ({kinds})")
        if self.many:
            names = file_dialog.open_files(*asked)
        else:
            names = list(filter(None, [file_dialog.open_file(*asked)]))
        if names:
            self.take([Path(name) for name in names])

    def take(self, paths: Sequence[Path]) -> None:
        """Read these photos, or this clip, in place of those there are."""
        self._stop()
        self._run(_("Reading the photo"), make_shots, tuple(paths), done=self._taken)

    def _taken(self, shots: tuple[Shot, ...]) -> None:
        self._shots, self._kept = shots, ()
        self._show_photos()
        self._show_previews(shots)

    @Slot()
    def _drop(self) -> None:
        self._stop()
        self._shots, self._kept = (), ()
        self._show_photos()

    def _show_photos(self) -> None:
        names = [s.name for s in self._shots] or [Path(name).name for name in self._kept]
        others = _(" and {number} more", number=len(names) - 1) if len(set(names)) > 1 else ""
        told = f"{names[0]}{others}" if names else ""
        nothing = _("Choose photos or a clip") if self.many else _("Choose a photo")
        self.photo.setText(told or nothing)
        self.photo.setAccessibleName(
            _("Photo of the own {kind}: {told}", kind=shown(self.kind), told=told or _("none"))
        )
        self.no_photo.setVisible(bool(names))
        self._show_previews(self._shots)
        self._show_state()

    def _show_previews(self, shots: Sequence[Shot]) -> None:
        # Of many pictures some of even distance.
        chosen = (
            [shots[k * len(shots) // _SHOWN] for k in range(_SHOWN)]
            if len(shots) > _SHOWN
            else shots
        )
        for number, preview in enumerate(self.previews):
            preview.setVisible(number < len(chosen))
            if number < len(chosen):
                picture = QPixmap()
                picture.loadFromData(chosen[number].preview, "JPEG")
                smooth = Qt.TransformationMode.SmoothTransformation
                preview.setPixmap(picture.scaledToHeight(theme.px(_PREVIEW), smooth))

    # -- work -----------------------------------------------------------------------------
    def _run(self, words: str, function: Any, *args: Any, done: Any) -> None:
        def well(result: Any) -> None:
            self._running = None
            self._show_state()
            done(result)
            if self._then_write:
                self._then_write = False
                self._write()

        def ill(error: UserError) -> None:
            self._running, self._then_write = None, False
            self._show_state()
            self._workspace.errorRaised.emit(error.sentence)

        self._running = self._workspace.run_job(words, function, *args, done=well, failed=ill)
        self._show_state()

    def _stop(self) -> None:
        running, self._running, self._then_write = self._running, None, False
        if running is not None:
            self._workspace.stop_job(running)

    def _show_state(self) -> None:
        words = _("Change it   Enter") if self._old else _("Add it   Enter")
        self.write.setText(f"{self._running.words} …" if self._running else words)

    @Slot()
    def _write(self) -> None:
        routine = self._workspace.routine
        if routine is None:
            return
        if self._running is not None and not self._running.stopped:
            self._then_write = True  # as soon as the photo is there
            return
        name = self.name.text().strip()
        try:
            changed = self.edited(routine, self._kept)
        except UserError as error:
            self._workspace.errorRaised.emit(error.sentence)
            return
        if self._shots and self._workspace.folder is not None:
            shots, self._shots = self._shots, ()
            self._run(
                _("Keeping the photo"),
                keep_shots,
                self._workspace.folder,
                shots,
                name,
                done=self._written,
            )
        else:
            self._edit(name, changed)

    def _written(self, kept: tuple[str, ...]) -> None:
        self._kept = kept
        self._write()

    def _edit(self, name: str, changed: Routine) -> None:
        old = self._old
        what = (
            _("change own {kind} {name}", kind=shown(self.kind), name=old.name)
            if old
            else _("add own {kind} {name}", kind=shown(self.kind), name=name)
        )
        self._workspace.edit(what, routine=changed)
        (self.changed if old else self.added).emit(name)

    def edited(self, routine: Routine, pictures: tuple[str, ...]) -> Routine:
        """The routine with what the form says; each form has its own.

        Raises:
            UserError: the name is empty, or taken.
        """
        raise NotImplementedError
