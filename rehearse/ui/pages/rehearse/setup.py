"""What is set once: the screen and the distance to it, the sound, the keys."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDoubleSpinBox,
    QFormLayout,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QSlider,
    QVBoxLayout,
    QWidget,
)

from rehearse.cueing.cue_options import SAID, VolumeStep
from rehearse.ui import theme
from rehearse.ui.actions import ASSIGNABLE, REHEARSE, printed
from rehearse.ui.bindings import Bindings, key_of, meaning_elsewhere
from rehearse.ui.pages.rehearse.camera_setup import CameraPart
from rehearse.ui.pages.rehearse.speaker_delay import DelayPanel
from rehearse.ui.settings import Settings
from rehearse.ui.workspace import Workspace
from rehearse.words import _, languages, shown

#: Most pixels of a column: further apart, words and what they name are no longer read as one.
_COLUMN = 80 * theme.STEP


class Setup(QScrollArea):
    """Screen and sound to the left, keys to the right; everything is stored as it is changed.

    Signals:
        closed: back to the stage.
    """

    closed = Signal()

    def __init__(self, workspace: Workspace, keys: Bindings) -> None:
        super().__init__(widgetResizable=True)
        self.setProperty("form", True)
        self.setProperty("role", "reader")  # the focus shows
        self.setAccessibleName(_("Screen, sound and keys"))
        self.setFrameShape(QScrollArea.Shape.NoFrame)
        inside = QWidget()
        row = QHBoxLayout(inside)
        row.setContentsMargins(2 * theme.STEP, 0, 2 * theme.STEP, 0)
        row.setSpacing(5 * theme.STEP)
        self.delay = DelayPanel(workspace)
        left = QVBoxLayout()
        left.setSpacing(theme.STEP)
        for title, part in (
            (_("Screen"), ScreenPart(workspace.settings)),
            (_("Sound"), SoundPart(workspace.settings)),
            (_("Delay of the speakers"), self.delay),
            (_("Camera"), CameraPart(workspace.settings)),
        ):
            left.addWidget(_title(title))
            left.addWidget(part)
            left.addSpacing(2 * theme.STEP)
        left.addStretch(1)
        right = QVBoxLayout()
        right.setSpacing(theme.STEP)
        right.addWidget(_title(_("Keys")))
        right.addWidget(KeysPart(keys))
        done = QPushButton(_("Back to the stage   Esc"))
        done.clicked.connect(self.closed)
        right.addSpacing(2 * theme.STEP)
        right.addWidget(done)
        right.addStretch(1)
        for column in (left, right):
            side = QWidget()
            side.setMaximumWidth(_COLUMN)
            side.setLayout(column)
            column.setContentsMargins(0, 0, 0, 0)
            row.addWidget(side, 1)
        row.addStretch(0)
        self.setWidget(inside)


class ScreenPart(QWidget):
    """How far away the athlete stands, how wide the screen is, how much may move."""

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        self._settings = settings
        form = _form(self)
        self.distance = QDoubleSpinBox(minimum=1.0, maximum=8.0, singleStep=0.5, suffix=" m")
        self.distance.setDecimals(1)
        self.distance.setValue(settings.get("distance_m"))
        self.distance.valueChanged.connect(lambda v: settings.put("distance_m", v))
        self.screen_width = QDoubleSpinBox(
            minimum=0.0, maximum=300.0, singleStep=0.5, suffix=_(" cm")
        )
        self.screen_width.setDecimals(1)
        self.screen_width.setSpecialValueText(_("automatic"))
        self.screen_width.setValue(settings.get("screen_mm") / 10)
        self.screen_width.valueChanged.connect(lambda v: settings.put("screen_mm", v * 10))
        for spin in (self.distance, self.screen_width):
            spin.lineEdit().setTextMargins(6, 0, 0, 0)
        _add(form, _("Distance to screen"), self.distance)
        _add(form, _("Width of the screen"), self.screen_width)
        for name, words in (
            ("reduced_flash", _("Steady border")),
            ("reduced_motion", _("No animation")),
            ("mirrored", _("Mirror view")),
        ):
            form.addRow(_check(settings, name, words))
        offered = [("", _("as the system")), *languages().items()]
        _add(form, _("Language"), _choice(settings, "language", offered))
        self.told = QLabel(_("The language changes at the next start."), wordWrap=True)
        self.told.setProperty("role", "dim")
        self.told.hide()
        form.addRow(self.told)
        settings.changed.connect(self._language_changed)

    @Slot(str)
    def _language_changed(self, name: str) -> None:
        if name == "language":
            self._settings.sync()  # the next start may come before the window is closed
            self.told.show()


class SoundPart(QWidget):
    """Volumes, what is said, and by which voice."""

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        form = _form(self)
        for kind, words in (("music", _("Music")), ("click", _("Clicks")), ("speech", _("Speech"))):
            slider = QSlider(Qt.Orientation.Horizontal)
            slider.setRange(0, 100)
            slider.setSingleStep(5)
            slider.setValue(round(settings.get(f"volume_{kind}") * 100))
            slider.valueChanged.connect(_storing(settings, f"volume_{kind}", 100))
            _add(form, words, slider)
        for name, words in (
            ("names", _("Say names")),
            ("counts", _("Say counts")),
            ("clicks", _("Click")),
        ):
            steps = [(str(step), shown(step)) for step in VolumeStep]
            _add(form, words, _choice(settings, f"say_{name}", steps))
        _add(form, _("Names of"), _choice(settings, "say_moves", list(SAID.items())))
        from rehearse.cueing.voice import VOICES, default_voice

        first = default_voice()
        others = [(voice.key, shown(voice.key)) for voice in VOICES if voice is not first]
        voices = [("", shown(first.key)), *others]
        _add(form, _("Voice"), _choice(settings, "voice", voices))
        form.addRow(_check(settings, "say_turns", _("Also say facing and level")))
        form.addRow(_check(settings, "silent", _("Silent mode")))
        caution = QLabel(
            _("Loud music for hours hurts hearing: keep it as low as you can drill to.")
        )
        caution.setWordWrap(True)
        caution.setProperty("role", "dim")
        form.addRow(caution)


#: What the sign of the stage display and of the sheet says.
SIGN = _(
    "The sign beside a name is the athlete from above: the wedge is where "
    "the face looks, judges below. The column is as high as the body: "
    "standing, lunge, kneeling."
)


class KeysPart(QWidget):
    """Each action with its key; click, then press the new one."""

    def __init__(self, keys: Bindings) -> None:
        super().__init__()
        self._keys = keys
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setVerticalSpacing(theme.STEP // 2)
        self.catchers: dict[str, KeyCatcher] = {}
        for row, action in enumerate(ASSIGNABLE):
            catcher = KeyCatcher(action.words)
            catcher.caught.connect(self._caught)
            catcher.setProperty("action", action.name)
            self.catchers[action.name] = catcher
            label = QLabel(action.words)
            label.setWordWrap(True)
            grid.addWidget(label, row, 0)
            grid.addWidget(catcher, row, 1)
        self._words = QLabel(_("Choose a key, then press the new one: keyboard, clicker or pedal."))
        self._words.setWordWrap(True)
        self._words.setProperty("role", "dim")
        first = QPushButton(_("Reset keys"))
        first.clicked.connect(keys.reset)
        grid.addWidget(self._words, len(ASSIGNABLE), 0)
        grid.addWidget(first, len(ASSIGNABLE), 1)
        sign = QLabel(SIGN)
        sign.setWordWrap(True)
        grid.addWidget(sign, len(ASSIGNABLE) + 1, 0, 1, 2)
        grid.setColumnStretch(0, 1)
        keys.changed.connect(self._label)
        self._label()

    @Slot(str)
    def _caught(self, key: str) -> None:
        why = self._keys.assign(self.sender().property("action"), key)
        told = _(
            "Set to {key}. {meaning_elsewhere}",
            key=printed(key),
            meaning_elsewhere=meaning_elsewhere(key, REHEARSE),
        )
        self._words.setText(why or told.rstrip())
        self._label()

    @Slot()
    def _label(self) -> None:
        for name, catcher in self.catchers.items():
            catcher.set_key(self._keys.label(name))


class KeyCatcher(QPushButton):
    """A button that takes the next key pressed instead of obeying it.

    Signals:
        caught: the key as text.
    """

    caught = Signal(str)

    def __init__(self, words: str) -> None:
        super().__init__()
        self.setCheckable(True)
        self._words, self._key = words, ""
        self.toggled.connect(self._label)

    def set_key(self, key: str) -> None:
        """Show the key that is set."""
        self._key = key
        self.setAccessibleName(_("Key for {words}: {key}", words=self._words, key=key))
        self._label()

    @Slot()
    def _label(self) -> None:
        self.setText(_("press a key …") if self.isChecked() else self._key)

    def event(self, event: QEvent) -> bool:
        """While it waits, shortcuts must not take the key away."""
        if isinstance(event, QKeyEvent) and self.isChecked():
            if event.type() == QKeyEvent.Type.ShortcutOverride:
                event.accept()
                return True
            if event.type() == QKeyEvent.Type.KeyPress:
                self._take(event)
                return True
        return super().event(event)

    def _take(self, event: QKeyEvent) -> None:
        key = key_of(event)
        if not key:
            return
        self.setChecked(False)
        if event.key() != Qt.Key.Key_Escape:
            self.caught.emit(key)


def _title(words: str) -> QLabel:
    label = QLabel(words)
    label.setProperty("role", "body")
    return label


def _form(widget: QWidget) -> QFormLayout:
    form = QFormLayout(widget)
    form.setContentsMargins(0, 0, 0, 0)
    form.setHorizontalSpacing(2 * theme.STEP)
    form.setVerticalSpacing(theme.STEP // 2)
    return form


def _add(form: QFormLayout, words: str, field: QWidget) -> None:
    field.setAccessibleName(words)
    form.addRow(words, field)


def _check(settings: Settings, name: str, words: str) -> QCheckBox:
    box = QCheckBox(words)
    box.setChecked(settings.get(name))
    box.toggled.connect(lambda on: settings.put(name, on))
    return box


def _choice(settings: Settings, name: str, entries: list[tuple[str, str]]) -> QComboBox:
    box = QComboBox()
    for key, words in entries:
        box.addItem(words, key)
    box.setCurrentIndex(max(0, box.findData(settings.get(name))))
    box.currentIndexChanged.connect(lambda _unused: settings.put(name, box.currentData()))
    return box


def _storing(settings: Settings, name: str, parts: int) -> Callable[[int], None]:
    return lambda value: settings.put(name, value / parts)
