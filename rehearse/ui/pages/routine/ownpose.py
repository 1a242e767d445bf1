"""A pose of one's own: a name, how it stands, and if wished a photo kept in the folder."""

from __future__ import annotations

import shutil
from pathlib import Path

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QImageReader, QKeyEvent
from PySide6.QtWidgets import (
    QComboBox,
    QFileDialog,
    QGridLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from rehearse.files.atomic import fault_of
from rehearse.files.fault import Fault
from rehearse.routine import edits
from rehearse.routine.model import Facing, Level, OwnPose
from rehearse.ui import theme
from rehearse.ui.desk import Desk

PICTURES = "pictures"


class OwnPosePanel(QWidget):
    """The form; Return adds the pose, Escape leaves.

    Signals:
        added: name of the new pose. left: nothing was added.
    """

    added = Signal(str)
    left = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._photo: Path | None = None
        title = QLabel("Own pose")
        title.setProperty("role", "body")
        self.name, self.say = QLineEdit(), QLineEdit()
        self.say.setPlaceholderText("as the voice says it; empty: the name")
        self.facing, self.level = QComboBox(), QComboBox()
        self.facing.addItems([str(f) for f in Facing])
        self.level.addItems([str(v) for v in Level])
        self.photo = QPushButton("Photo …")
        self.add = QPushButton("Add it   Return")
        self.add.setProperty("role", "main")
        form = QGridLayout()
        form.setHorizontalSpacing(2 * theme.STEP)
        form.setVerticalSpacing(theme.STEP)
        fields = (
            ("Name", self.name, 0, 0),
            ("Spoken", self.say, 0, 2),
            ("Facing", self.facing, 1, 0),
            ("Level", self.level, 1, 2),
            ("Photo", self.photo, 2, 0),
        )
        for words, field, row, column in fields:
            field.setAccessibleName(f"{words} of the own pose")
            form.addWidget(QLabel(words), row, column)
            form.addWidget(field, row, column + 1)
        form.addWidget(self.add, 2, 3)
        form.setColumnStretch(1, 1)
        form.setColumnStretch(3, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(3 * theme.STEP, theme.STEP, 3 * theme.STEP, theme.STEP)
        layout.setSpacing(theme.STEP)
        layout.addWidget(title)
        layout.addLayout(form)
        layout.addStretch(1)
        self.photo.clicked.connect(self._choose_photo)
        self.add.clicked.connect(self._add)
        self.name.returnPressed.connect(self._add)
        self.say.returnPressed.connect(self._add)

    def ask(self, name: str) -> None:
        """Begin anew with this name."""
        self.name.setText(name)
        self.say.clear()
        self._take_photo(None)
        self.name.setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Escape leaves."""
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            super().keyPressEvent(event)

    @Slot()
    def _choose_photo(self) -> None:
        kinds = " ".join(f"*.{bytes(k).decode()}" for k in QImageReader.supportedImageFormats())
        name, _ = QFileDialog.getOpenFileName(self, "Photo of the pose", "", f"Pictures ({kinds})")
        if name:
            self._take_photo(Path(name))

    def _take_photo(self, photo: Path | None) -> None:
        if photo is not None and not QImageReader(str(photo)).canRead():
            self._desk.faultRaised.emit(
                f"{photo.name}: is no picture that can be read – choose another one."
            )
            return
        self._photo = photo
        self.photo.setText(photo.name if photo else "Photo …")

    @Slot()
    def _add(self) -> None:
        routine = self._desk.routine
        if routine is None:
            return
        name = self.name.text().strip()
        try:
            own = OwnPose(
                name,
                Facing(self.facing.currentText()),
                Level(self.level.currentText()),
                self._kept(name),
                self.say.text().strip(),
            )
            changed = edits.add_own(routine, own)
        except Fault as fault:
            self._desk.faultRaised.emit(fault.sentence)
            return
        self._desk.edit(f"add own pose {own.name}", routine=changed)
        self.added.emit(own.name)

    def _kept(self, name: str) -> str:
        """Copy the photo into the routine's folder; its name there."""
        if self._photo is None or self._desk.folder is None or not name:
            return ""
        folder = self._desk.folder / PICTURES
        plain = "".join(c if c.isalnum() else "-" for c in name)[:40]
        target, number = folder / f"{plain}{self._photo.suffix.lower()}", 2
        try:
            folder.mkdir(exist_ok=True)
            while target.exists():
                target = folder / f"{plain}-{number}{self._photo.suffix.lower()}"
                number += 1
            shutil.copyfile(self._photo, target)
        except OSError as error:
            raise fault_of(error, folder) from error
        return f"{PICTURES}/{target.name}"
