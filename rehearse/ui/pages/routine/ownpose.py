"""A pose of one's own: a name, how it stands, and if wished a photo kept in the folder."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QComboBox,
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from rehearse.files.fault import Fault
from rehearse.routine import edits
from rehearse.routine.model import Facing, Level, OwnPose, Routine
from rehearse.routine.pictures import ENDINGS, keep_picture, read_picture
from rehearse.routine.poses import plain
from rehearse.ui import theme
from rehearse.ui.desk import Desk
from rehearse.ui.figure.thumbs import decoded, photo_of
from rehearse.ui.places import pictures_folder

_LONGEST_NAME = 60
#: Height of the photo shown in the form, in pixels.
_PREVIEW = 16 * theme.STEP


class OwnPosePanel(QWidget):
    """The form of a new own pose, or of one that is changed; Return writes it, Escape leaves.

    Signals:
        added: name of the new pose. changed: name of the changed one. left: nothing was done.
    """

    added = Signal(str)
    changed = Signal(str)
    left = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._old: OwnPose | None = None
        self._photo: Path | None = None
        self._picture = ""
        self._title = QLabel()
        self._title.setProperty("role", "body")
        self.name, self.say = QLineEdit(maxLength=_LONGEST_NAME), QLineEdit(maxLength=200)
        self.say.setPlaceholderText("as the voice says it; empty: the name")
        self.facing, self.level = QComboBox(), QComboBox()
        self.facing.addItems([str(f) for f in Facing])
        self.level.addItems([str(v) for v in Level])
        self.photo, self.no_photo = QPushButton(), QPushButton("No photo")
        self.preview = QLabel()
        self.preview.setAccessibleName("The photo")
        self.write = QPushButton()
        self.write.setProperty("role", "main")
        self.back = QPushButton("Back   Esc")
        self.back.setAccessibleName("Back, key Escape")
        self._lay_out()
        self._begin(None, "Own pose", "Add it   Enter", OwnPose(""))
        self.photo.clicked.connect(self._choose_photo)
        self.no_photo.clicked.connect(self._drop_photo)
        self.write.clicked.connect(self._write)
        self.back.clicked.connect(self.left)

    def _lay_out(self) -> None:
        form = QGridLayout()
        form.setHorizontalSpacing(2 * theme.STEP)
        form.setVerticalSpacing(theme.STEP)
        photo = QHBoxLayout()
        photo.setSpacing(theme.STEP)
        photo.addWidget(self.photo, 1)
        photo.addWidget(self.no_photo)
        fields = (
            ("Name", self.name, 0, 0),
            ("Spoken", self.say, 0, 2),
            ("Facing", self.facing, 1, 0),
            ("Level", self.level, 1, 2),
        )
        for words, field, row, column in fields:
            field.setAccessibleName(f"{words} of the own pose")
            form.addWidget(QLabel(words), row, column)
            form.addWidget(field, row, column + 1)
        form.addWidget(QLabel("Photo"), 2, 0)
        form.addLayout(photo, 2, 1)
        form.addWidget(self.write, 2, 3)
        form.setColumnStretch(1, 1)
        form.setColumnStretch(3, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(3 * theme.STEP, theme.STEP, 3 * theme.STEP, theme.STEP)
        layout.setSpacing(theme.STEP)
        head = QHBoxLayout()
        head.addWidget(self._title, 1)
        head.addWidget(self.back)
        layout.addLayout(head)
        layout.addLayout(form)
        layout.addWidget(self.preview)
        layout.addStretch(1)

    def ask(self, name: str) -> None:
        """Begin a new pose with this name."""
        self._begin(None, "Own pose", "Add it   Enter", OwnPose(name))
        self._listen()

    def change(self, name: str) -> None:
        """Change the own pose of this name; where it stands in the routine it stays."""
        routine = self._desk.routine
        own = next((o for o in routine.own_poses if o.name == name), None) if routine else None
        if own is not None:
            self._begin(own, f"Change {own.name}", "Change it   Enter", own)
            self._listen()

    def _begin(self, old: OwnPose | None, title: str, words: str, own: OwnPose) -> None:
        self._old = old
        self._title.setText(title)
        self.write.setText(words)
        self.name.setText(own.name)
        self.say.setText(own.say)
        self.facing.setCurrentText(str(own.facing))
        self.level.setCurrentText(str(own.level))
        self._photo, self._picture = None, own.picture
        self._show_photo()

    def _listen(self) -> None:
        self.name.setFocus()
        self.name.selectAll()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter writes it from wherever the focus is, Escape leaves."""
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._write()
        else:
            super().keyPressEvent(event)

    @Slot()
    def _choose_photo(self) -> None:
        kinds = " ".join(f"*{ending}" for ending in ENDINGS)
        name, _ = QFileDialog.getOpenFileName(
            self, "Photo of the pose", pictures_folder(), f"Pictures ({kinds})"
        )
        if name:
            self._take_photo(Path(name))

    @Slot()
    def _drop_photo(self) -> None:
        self._photo, self._picture = None, ""
        self._show_photo()

    def _take_photo(self, photo: Path) -> None:
        try:
            picture = decoded(read_picture(photo), _PREVIEW)
            if picture.isNull():
                raise Fault("isn't a readable image", where=photo.name, do="choose another photo")
        except Fault as fault:
            self._desk.faultRaised.emit(fault.sentence)
            return
        self._photo = photo
        self._show_photo()

    def _show_photo(self) -> None:
        name = self._photo.name if self._photo else Path(self._picture).name
        self.photo.setText(name or "Choose a photo")
        self.photo.setAccessibleName(f"Photo of the own pose: {name or 'none'}")
        self.no_photo.setVisible(bool(name))
        self._preview()

    def _preview(self) -> None:
        photo = self._photo
        if photo is None and self._picture and self._desk.folder is not None:
            photo = self._desk.folder / self._picture
        picture = photo_of(photo, _PREVIEW) if photo else None
        self.preview.setVisible(picture is not None)
        if picture is not None:
            self.preview.setPixmap(picture)

    @Slot()
    def _write(self) -> None:
        routine, old = self._desk.routine, self._old
        if routine is None:
            return
        own = OwnPose(
            self.name.text().strip(),
            Facing(self.facing.currentText()),
            Level(self.level.currentText()),
            self._picture,
            self.say.text().strip(),
        )
        try:
            changed = self._edited(routine, own)
            if self._photo is not None and self._desk.folder is not None:
                picture = keep_picture(self._desk.folder, self._photo, own.name)
                changed = self._edited(routine, replace(own, picture=picture))
        except Fault as fault:
            self._desk.faultRaised.emit(fault.sentence)
            return
        self._desk.edit(
            f"change own pose {old.name}" if old else f"add own pose {own.name}", routine=changed
        )
        (self.changed if old else self.added).emit(own.name)

    def _edited(self, routine: Routine, own: OwnPose) -> Routine:
        if self._old is not None:
            return edits.change_own(routine, self._old.name, **vars(own))
        if plain(own.name) in {plain(other.name) for other in routine.own_poses}:
            raise Fault(
                f"there is already an own pose {own.name}",
                do="choose another name, or change that one",
            )
        return edits.add_own(routine, own)
