"""The own camera in the set-up: whether runs are filmed, by which camera, how long films stay."""

from __future__ import annotations

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QCheckBox, QComboBox, QFormLayout, QLabel, QSpinBox, QWidget

from rehearse.ui import theme
from rehearse.ui.settings import Settings
from rehearse.words import _

#: Days that films may stay at most.
_MOST = 365


class CameraPart(QWidget):
    """Everything is stored as it is changed; off at first."""

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        from rehearse.film.camera_source import listed

        self._settings = settings
        form = QFormLayout(self)
        form.setContentsMargins(0, 0, 0, 0)
        form.setHorizontalSpacing(2 * theme.STEP)
        form.setVerticalSpacing(theme.STEP // 2)
        self.on = QCheckBox(_("Film runs with this computer's camera"))
        self.on.setChecked(settings.get("camera"))
        self.on.toggled.connect(lambda on: settings.put("camera", on))
        form.addRow(self.on)
        self.which = QComboBox()
        self.which.addItem(_("the first one"), "")
        for device in listed():
            self.which.addItem(device.words, device.name)
        self.which.setCurrentIndex(max(0, self.which.findData(settings.get("camera_name"))))
        self.which.currentIndexChanged.connect(self._chosen)
        self.days = QSpinBox(minimum=1, maximum=_MOST, suffix=_(" days"))
        self.days.setValue(settings.get("camera_days"))
        self.days.valueChanged.connect(lambda days: settings.put("camera_days", days))
        for words, field in ((_("Which camera"), self.which), (_("Films stay for"), self.days)):
            field.setAccessibleName(words)
            form.addRow(words, field)
        self.sound = QCheckBox(_("Microphone too: hits are more exact"))
        self.sound.setChecked(settings.get("camera_sound"))
        self.sound.toggled.connect(lambda on: settings.put("camera_sound", on))
        form.addRow(self.sound)
        flipped = QCheckBox(_("Late mirror: left and right as in a mirror"))
        flipped.setChecked(settings.get("mirror_flipped"))
        flipped.toggled.connect(lambda on: settings.put("mirror_flipped", on))
        form.addRow(flipped)
        told = QLabel(
            _(
                "Films stay in the routine's folder and are never sent. No camera was at hand: "
                "this was tried on none of Linux, Windows and macOS."
            ),
            wordWrap=True,
        )
        told.setProperty("role", "dim")
        form.addRow(told)
        settings.changed.connect(self._follow)

    @Slot()
    def _chosen(self) -> None:
        self._settings.put("camera_name", self.which.currentData())

    @Slot(str)
    def _follow(self, name: str) -> None:
        """Its key was pressed."""
        if name == "camera":
            self.on.setChecked(self._settings.get("camera"))
