"""The delay of speakers that report none, as wireless ones do: found by tapping, or set."""

from __future__ import annotations

from PySide6.QtCore import QSignalBlocker, Qt, QTimer, Slot
from PySide6.QtWidgets import QFormLayout, QLabel, QPushButton, QSpinBox, QWidget

from rehearse.cueing.count_in import click
from rehearse.files.user_error import UserError
from rehearse.ui import theme
from rehearse.ui.workspace import Workspace
from rehearse.words import _

#: Seconds from click to click, how many there are, the silence before the first, and after the
#: last the time for the latest speaker.
_STEP, _CLICKS, _BEFORE, _AFTER = 0.75, 10, 1.5, 1.5
_KEY = "delay"


class DelayPanel(QWidget):
    """Plays a steady click and takes a tap for each; the median counts."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self._taps: list[float] = []
        self._clicks: tuple[float, ...] = ()
        self._before = 0.0
        self._looking = QTimer(self, interval=100)
        self._looking.timeout.connect(self._end_after_the_last)
        workspace.stopAsked.connect(self.leave)
        form = QFormLayout(self)
        form.setContentsMargins(0, 0, 0, 0)
        form.setHorizontalSpacing(2 * theme.STEP)
        self.delay = QSpinBox(minimum=0, maximum=600, singleStep=5, suffix=_(" ms"))
        self.delay.lineEdit().setTextMargins(6, 0, 0, 0)
        self.delay.setAccessibleName(_("Delay of the speakers"))
        self.tap = QPushButton(_("Find it by tapping"))
        self.tap.setAccessibleName(_("Find the delay: tap this button on each click you hear"))
        self.words = QLabel(_("Wireless speakers are often 100–250 ms late without saying so."))
        self.words.setWordWrap(True)
        self.words.setProperty("role", "dim")
        form.addRow(_("Delay"), self.delay)
        form.addRow(self.tap)
        form.addRow(self.words)
        self.delay.valueChanged.connect(self._set)
        self.tap.pressed.connect(self._tapped)
        self._show()

    @property
    def measuring(self) -> bool:
        """Whether clicks are played and taps taken."""
        return bool(self._clicks)

    @Slot()
    def leave(self) -> None:
        """Stop clicking; what was set before stays."""
        if self.measuring:
            self._workspace.player.stop()
            self._end(self._before)

    @Slot()
    def _tapped(self) -> None:
        if not self.measuring:
            self._begin()
            return
        self._taps.append(self._workspace.player.now().elapsed)
        left = len(self._clicks) - len(self._taps)
        self.words.setText(_("Tap on each click you hear: {left} more.", left=left))
        if left <= 0:
            self._measure()

    def _begin(self) -> None:
        from rehearse.playback.segment import Clip, Segment

        track, player = self._workspace.track, self._workspace.player
        if track is None:
            self._workspace.errorRaised.emit(
                _("Open a routine first: its song's device is measured.")
            )
            return
        self._workspace.musicAsked.emit(self)
        lead = _BEFORE + _STEP * _CLICKS + _AFTER
        self._clicks = tuple(_BEFORE + _STEP * k - lead for k in range(_CLICKS))
        self._looking.start()
        self._before, player.latency, self._taps = player.latency, 0.0, []
        sound = click(track.sample_rate, strong=True)
        clips = tuple(Clip(at, sound, "click") for at in self._clicks)
        end = min(0.1, track.duration)
        player.play(Segment(_KEY, 0.0, end, lead=lead, clips=clips), repeat=False)
        self.tap.setText(_("Tap"))
        self.words.setText(_("Tap on each click you hear, as exactly as you can."))
        self.tap.setFocus(Qt.FocusReason.OtherFocusReason)

    @Slot()
    def _end_after_the_last(self) -> None:
        now = self._workspace.player.now()
        if now.key == _KEY and now.state != "lead":
            self._measure()

    def _measure(self) -> None:
        from rehearse.playback.calibrate import measure_delay

        self._workspace.player.stop()
        try:
            found = measure_delay(self._clicks, self._taps)
        except UserError as error:
            self._end(self._before)
            self.words.setText(error.sentence)
            return
        self._end(found.seconds)
        doubt = _(" That is wide: better tap again.") if found.doubtful else ""
        spread = _("your taps lay within {spread:.0f} ms", spread=found.spread * 1000)
        self.words.setText(
            _(
                "Set to {seconds:.0f} ms; {spread}.{doubt}",
                seconds=found.seconds * 1000,
                spread=spread,
                doubt=doubt,
            )
        )

    def _end(self, seconds: float) -> None:
        self._looking.stop()
        self._clicks = ()
        self.tap.setText(_("Find it by tapping"))
        self._store(seconds)
        self._show()

    @Slot(int)
    def _set(self, milliseconds: int) -> None:
        self._store(milliseconds / 1000)

    def _store(self, seconds: float) -> None:
        try:
            self._workspace.player.latency = seconds
        except UserError as error:
            self._workspace.errorRaised.emit(error.sentence)

    def _show(self) -> None:
        with QSignalBlocker(self.delay):
            self.delay.setValue(round(self._workspace.player.latency * 1000))
