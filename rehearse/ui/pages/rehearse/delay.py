"""The delay of speakers that report none, as Bluetooth ones do not."""

from __future__ import annotations

from PySide6.QtWidgets import QFormLayout, QLabel, QSpinBox, QWidget

from rehearse.ui import theme
from rehearse.ui.desk import Desk


class DelayPanel(QWidget):
    """Sets by how much the sound comes later than the machine knows, in milliseconds."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._settings = desk.settings
        form = QFormLayout(self)
        form.setContentsMargins(0, 0, 0, 0)
        form.setHorizontalSpacing(2 * theme.STEP)
        self.delay = QSpinBox(minimum=0, maximum=500, singleStep=5, suffix=" ms")
        self.delay.setAccessibleName("Delay of the speakers")
        self.delay.setValue(round(self._settings.get("delay_s") * 1000))
        self.delay.valueChanged.connect(lambda v: self._settings.put("delay_s", v / 1000))
        form.addRow("Delay", self.delay)
        hint = QLabel("Wireless speakers are often 100–250 ms late: find yours by tapping.")
        hint.setWordWrap(True)
        hint.setProperty("role", "dim")
        form.addRow(hint)
