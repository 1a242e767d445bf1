"""The choices of each kind of handout, one small form each; all tell when something changes."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any, TypeVar, cast

from PySide6.QtCore import Signal, SignalInstance
from PySide6.QtWidgets import (
    QAbstractSpinBox,
    QCheckBox,
    QComboBox,
    QDoubleSpinBox,
    QFormLayout,
    QHBoxLayout,
    QLineEdit,
    QSpinBox,
    QWidget,
)

from rehearse.cueing.cue_options import CUEINGS, SAID, VolumeStep
from rehearse.cueing.voice import VOICES, VoiceSetting, default_voice
from rehearse.handout.formats import FORMATS
from rehearse.handout.naming import PATTERN, PATTERNS, in_words
from rehearse.handout.sheet import STYLES
from rehearse.routine.rounds import KINDS, Kind
from rehearse.ui import theme
from rehearse.ui.pages.rehearse.practice_forms import load_wish
from rehearse.ui.workspace import Workspace
from rehearse.words import LANGUAGE, SOURCE, _, low, section_text, shown

_PAPERS = {"a4": "A4", "letter": _("Letter")}
_SOUNDS = {key: key for key in FORMATS}
_SCREENS = {"landscape": _("across: television, tablet"), "upright": _("upright: phone")}
#: No section can be called so; a number after it is a pose's, for the way into it.
_EVERY = "\n"
#: Goes before the kind of a comparison round.
_ROUND = "\r"
_COUNTED: dict[str, str] = {
    "eights": _("as the counts stand in the eight"),
    "in": _("5, 6, 7, 8 before each hit"),
}
LOUDNESS_OF = {"names": _("names"), "counts": _("counts"), "clicks": _("clicks")}
_STEPS = {"1": _("one pass"), "3": _("3 passes"), "5": _("5 passes"), "8": _("8 passes")}


_Field = TypeVar("_Field", bound=QWidget)


class Form(QWidget):
    """Labelled fields under each other.

    Signals:
        changed: a field has another value.
    """

    changed = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self.workspace = workspace
        self._fields: dict[str, QWidget] = {}
        self._rows = QFormLayout(self)
        self._rows.setContentsMargins(0, 0, 0, 0)
        self._rows.setHorizontalSpacing(2 * theme.STEP)
        self._rows.setVerticalSpacing(theme.STEP)
        self._rows.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)

    def options(self) -> dict[str, Any]:
        """The choices by the names of `HandoutOptions`."""
        raise NotImplementedError

    def choices(self) -> dict[str, Any]:
        """What is chosen, by the words of the fields, to be offered again the next time."""
        found: dict[str, Any] = {}
        for words, field in self._fields.items():
            if isinstance(field, QComboBox):
                found[words] = field.currentData()
            elif isinstance(field, QCheckBox):
                found[words] = field.isChecked()
            elif isinstance(field, QSpinBox | QDoubleSpinBox):
                found[words] = field.value()
        return found

    def restore(self, choices: dict[str, Any]) -> None:
        """Choose the same again, as far as it is still offered."""
        for words, field in self._fields.items():
            chosen = choices.get(words)
            if isinstance(field, QComboBox) and (place := field.findData(chosen)) >= 0:
                field.setCurrentIndex(place)
            elif isinstance(field, QCheckBox) and isinstance(chosen, bool):
                field.setChecked(chosen)
            elif isinstance(field, QSpinBox) and isinstance(chosen, int | float):
                field.setValue(int(chosen))
            elif isinstance(field, QDoubleSpinBox) and isinstance(chosen, int | float):
                field.setValue(float(chosen))

    def add(self, words: str, field: _Field, signal: SignalInstance) -> _Field:
        """Put a field under the others; `words` name it on screen and to a reader."""
        field.setAccessibleName(words.replace("&", ""))
        self._fields[words.replace("&", "")] = field
        if isinstance(field, QAbstractSpinBox):  # its style leaves no room before the number
            field.lineEdit().setTextMargins(theme.STEP, 0, 0, 0)
        self._rows.addRow(words, field)
        signal.connect(self.changed)
        return field

    def pick(self, words: str, choices: dict[str, str], first: str = "") -> QComboBox:
        """A field with one of some choices; its data is the key."""
        box = QComboBox()
        for key, label in choices.items():
            box.addItem(label, key)
        box.setCurrentIndex(max(0, box.findData(first)))
        box.view().setAccessibleName(words.replace("&", ""))
        return self.add(words, box, box.currentIndexChanged)

    def check(self, words: str, on: bool = False) -> QCheckBox:
        """A field that is on or off."""
        box = QCheckBox(words)
        box.setChecked(on)
        box.setAccessibleName(words.replace("&", ""))
        self._fields[words.replace("&", "")] = box
        self._rows.addRow("", box)
        box.toggled.connect(self.changed)
        return box

    def line(self, words: str, text: str = "", notice: str = "") -> QLineEdit:
        """A field to write in."""
        field = QLineEdit(text, placeholderText=notice, maxLength=80)
        return self.add(words, field, field.textChanged)


class SheetForm(Form):
    """The printed sheet."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self.style_ = self.pick(_("S&tyle"), STYLES)
        self.paper = self.pick(
            _("&Paper"), _PAPERS, str(workspace.settings.get("handout_paper", "a4"))
        )
        self.file = self.pick(_("&File"), {"pdf": "PDF", "png": _("pictures (PNG)")})

    def options(self) -> dict[str, Any]:
        """Style, paper and file."""
        self.workspace.settings.put("handout_paper", self.paper.currentData())
        return {
            "style": self.style_.currentData(),
            "paper": self.paper.currentData(),
            "format": self.file.currentData(),
        }


class CueForm(Form):
    """The cue track: what, how often, how fast, what is said and by whom."""

    _has_rounds = True

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        names = (
            [section.name for section in workspace.routine.sections] if workspace.routine else []
        )
        what = {"": _("whole routine")} | {name: section_text(name) for name in names}
        if len(names) > 1:
            what[_EVERY] = _("every section, one after another")
        poses = workspace.routine.poses if workspace.routine else ()
        for number, placed in enumerate(poses, 1):
            what[f"{_EVERY}{number}"] = _(
                "the way into {number}, {pose}", number=number, pose=shown(placed.pose)
            )
        if self._has_rounds:
            what |= {
                f"{_ROUND}{kind}": _("round: {words}", words=low(words))
                for kind, words in KINDS.items()
            }
        self.what = self.pick(_("&What"), what)
        self.passes = self.pick(_("P&asses"), _STEPS)
        self.tempo = QSpinBox(minimum=40, maximum=105, value=100, singleStep=5, suffix=" %")
        self.add(_("First &tempo"), self.tempo, self.tempo.valueChanged)
        self.cueing = self.pick(_("&Cues"), {str(k): v for k, v in CUEINGS.items()})
        self.said = self.pick(
            _("&Names of"),
            {str(k): v for k, v in SAID.items()},
            str(workspace.settings.get("say_moves")),
        )
        self.counting = self.pick(_("Co&unted"), _COUNTED)
        self.loud = {what: self._loudness(what) for what in ("names", "counts", "clicks")}
        self._beside(_("Loudness"), self.loud.values())
        self.turns = self.check(
            _("Say &facing and level"), bool(workspace.settings.get("say_turns"))
        )
        self.voice = self.pick(
            _("&Voice"),
            {v.key: shown(v.key) for v in VOICES},
            self._set("voice") or default_voice().key,
        )
        speed = VoiceSetting().name_speed
        self.speed = QSpinBox(
            minimum=110, maximum=320, value=speed, singleStep=10, suffix=_(" words a minute")
        )
        self.add(_("Sp&eed"), self.speed, self.speed.valueChanged)
        self.file = self._pick_file()

    def _pick_file(self) -> QComboBox:
        return self.pick(_("F&ile"), _SOUNDS)

    def _loudness(self, what: str) -> QComboBox:
        box = QComboBox()
        for step in VolumeStep:
            box.addItem(f"{LOUDNESS_OF[what]} {shown(step.value)}", step.value)
        box.setCurrentIndex(max(0, box.findData(self._set(f"say_{what}"))))
        box.setAccessibleName(_("Loudness of {what}", what=LOUDNESS_OF[what]))
        self._fields[f"Loudness of {what}"] = box
        box.view().setAccessibleName(_("Loudness of {what}", what=LOUDNESS_OF[what]))
        box.currentIndexChanged.connect(self.changed)
        return box

    def _beside(self, words: str, fields: Iterable[QWidget]) -> None:
        row = QHBoxLayout()
        row.setSpacing(theme.STEP)
        for field in fields:
            row.addWidget(field, 1)
        self._rows.addRow(words, row)

    def _set(self, name: str) -> str:
        return str(self.workspace.settings.get(name))

    def tempos(self) -> tuple[float, ...]:
        """A tempo for each pass, from the first up to 100 % in even steps."""
        passes, first = int(self.passes.currentData()), self.tempo.value()
        if passes == 1:
            return (first / 100,)
        last = max(100, first)
        return tuple(round(first + (last - first) * k / (passes - 1)) / 100 for k in range(passes))

    def options(self) -> dict[str, Any]:
        """All of it."""
        what = self.what.currentData()
        round_, what = (what[1:], "") if what.startswith(_ROUND) else ("", what)
        names = (
            tuple(section.name for section in self.workspace.routine.sections)
            if self.workspace.routine
            else ()
        )
        chosen = names if what == _EVERY else (what,) if what else ()
        number = what.removeprefix(_EVERY) if what.startswith(_EVERY) else ""
        speed = self.speed.value()
        return {
            "section": () if number else chosen,
            "transition": (int(number),) if number else (),
            "tempos": self.tempos(),
            "cueing": self.cueing.currentData(),
            "said": self.said.currentData(),
            "counting": self.counting.currentData(),
            **{what: box.currentData() for what, box in self.loud.items()},
            "turns": self.turns.isChecked(),
            "voice": self.voice.currentData(),
            "name_speed": speed,
            "count_speed": min(320, speed + 40),
            "format": self.file.currentData(),
            **self._called(round_),
        }

    def _called(self, kind: str) -> dict[str, Any]:
        """A comparison round as it is set on the Rehearse page; nothing where none is chosen."""
        if not kind or self.workspace.routine is None:
            return {}
        name = f"round/{self.workspace.routine.id}"
        wish, background = load_wish(str(self.workspace.settings.get(name, "{}")))
        there = background and bool(self.workspace.routine.track)
        return {"called": replace(wish, kind=cast("Kind", kind)), "background": there}


class VideoForm(CueForm):
    """The cue video: as the cue track, for a screen that lies or stands."""

    _has_rounds = False

    def _pick_file(self) -> QComboBox:
        return self.pick(_("Sc&reen"), _SCREENS)

    def options(self) -> dict[str, Any]:
        """All of it; who has the rim's flashes reduced gets none in the video."""
        steady = bool(self.workspace.settings.get("reduced_flash"))
        screen = self.file.currentData()
        return super().options() | {"format": "mp4", "screen": screen, "steady": steady}


class StageForm(Form):
    """The stage music: who, and how the file is called."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        get: Callable[[str], str] = lambda name: str(workspace.settings.get(name, ""))  # noqa: E731
        division = workspace.routine.division if workspace.routine else ""
        self.number = self.line(_("N&umber"), notice=_("as the show gave it to you"))
        self.name = self.line(_("&Name"), get("handout_name"))
        self.division = self.line(_("Di&vision"), division)
        kept = get("handout_pattern") or PATTERN
        names = {pattern: _pattern_words(pattern) for pattern in PATTERNS}
        if in_words(kept) not in PATTERNS:  # one of the athlete's own, from an earlier version
            names[kept] = _pattern_words(kept)
        self.pattern = self.pick(_("File na&me"), names, kept if kept in names else in_words(kept))
        self.silence = QDoubleSpinBox(maximum=10, decimals=1, singleStep=0.5, suffix=" s")
        self.add(_("Silence b&efore"), self.silence, self.silence.valueChanged)
        self.file = self.pick(_("F&ile"), _SOUNDS)

    def options(self) -> dict[str, Any]:
        """All of it; name and pattern are kept for the next show."""
        self.workspace.settings.put("handout_name", self.name.text())
        self.workspace.settings.put("handout_pattern", self.pattern.currentData())
        return {
            "number": self.number.text(),
            "name": self.name.text(),
            "division": self.division.text(),
            "pattern": self.pattern.currentData(),
            "silence": self.silence.value(),
            "format": self.file.currentData(),
        }


def _pattern_words(pattern: str) -> str:
    """What a file's name is made of: "Number, name"."""
    words = ", ".join(map(shown, in_words(pattern).split(", ")))
    return words[:1].upper() + words[1:].lower() if LANGUAGE == SOURCE else words


class PageForm(Form):
    """The coach's page: nothing to choose."""

    def options(self) -> dict[str, Any]:
        """None."""
        return {}


class ZipForm(Form):
    """The zip for the coach."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self.music = self.check(_("With the &song"), on=True)
        self.log = self.check(_("With the &logbook"))

    def options(self) -> dict[str, Any]:
        """What goes in beside routine, beat map and pictures."""
        return {"music": self.music.isChecked(), "log": self.log.isChecked()}
