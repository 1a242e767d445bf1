"""The poses as rows of a table: every field can be written in the words of the file."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, Qt

from rehearse.files.fault import Fault
from rehearse.music.position import parse_length, parse_position
from rehearse.routine.model import Facing, Level
from rehearse.ui.desk import Desk
from rehearse.ui.figure.thumbs import Thumbs
from rehearse.ui.pages.routine.choreography import Choreography
from rehearse.ui.pages.routine.spans import Span, Spans

COLUMNS = ("Hit", "Pose", "Hold", "Transition", "Facing", "Level", "Spoken", "Note")
HIT, POSE, HOLD, TRANSITION, FACING, LEVEL, SPOKEN, NOTE = range(8)
#: Height of the figure beside a pose's name, in pixels.
PICTURE = 36

_Index = QModelIndex


class PoseRows(QAbstractTableModel):
    """One row a pose, in the order of the music."""

    def __init__(
        self, desk: Desk, choreography: Choreography, spans: Spans, thumbs: Thumbs
    ) -> None:
        super().__init__()
        self._desk, self._choreography = desk, choreography
        self._spans, self._thumbs = spans, thumbs
        self._rows: tuple[Span, ...] = ()
        self.marked: dict[str, str] = {}

    def refresh(self) -> None:
        """Take over the spans; rows that are still the same pose keep their place."""
        old, new = self._rows, self._spans.all
        if [s.placed.id for s in old] != [s.placed.id for s in new]:
            self.beginResetModel()
            self._rows = new
            self.endResetModel()
            return
        self._rows = new
        changed = [k for k, (a, b) in enumerate(zip(old, new, strict=True)) if a is not b]
        if changed:
            last = len(COLUMNS) - 1
            self.dataChanged.emit(self.index(changed[0], 0), self.index(changed[-1], last))

    def mark(self, marked: dict[str, str]) -> None:
        """Show which poses have findings."""
        if marked != self.marked:
            self.marked = marked
            self.headerDataChanged.emit(Qt.Orientation.Vertical, 0, len(self._rows) - 1)

    def id_at(self, row: int) -> str:
        """Id of the pose in a row; empty for none."""
        return self._rows[row].placed.id if 0 <= row < len(self._rows) else ""

    def row_of(self, pose_id: str) -> int:
        """Row of a pose; −1 for none."""
        return next((k for k, s in enumerate(self._rows) if s.placed.id == pose_id), -1)

    def rowCount(self, parent: _Index = _Index()) -> int:  # noqa: B008 - Qt's own signature
        """Poses."""
        return 0 if parent.isValid() else len(self._rows)

    def columnCount(self, parent: _Index = _Index()) -> int:  # noqa: B008 - Qt's own signature
        """Fields."""
        return 0 if parent.isValid() else len(COLUMNS)

    def flags(self, index: _Index) -> Qt.ItemFlag:
        """Every field can be written."""
        return super().flags(index) | Qt.ItemFlag.ItemIsEditable

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> Any:
        """Names of the fields; numbers of the poses, with a triangle where something is amiss."""
        if role != Qt.ItemDataRole.DisplayRole:
            return None
        if orientation is Qt.Orientation.Horizontal:
            return COLUMNS[section]
        sign = {"fault": " ▲", "warning": " △"}.get(self.marked.get(self.id_at(section), ""), "")
        return f"{section + 1}{sign}"

    def data(self, index: _Index, role: int = 0) -> Any:
        """Text, picture, and what a screen reader says."""
        span = self._rows[index.row()]
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return _text(span, index.column())
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{COLUMNS[index.column()]} {_text(span, index.column())}"
        if role == Qt.ItemDataRole.DecorationRole and index.column() == POSE:
            placed = span.placed
            return self._thumbs.icon(span.pose, PICTURE, facing=placed.facing, level=placed.level)
        return None

    def setData(self, index: _Index, value: Any, role: int = 0) -> bool:
        """Write a field; what cannot be read is said and changes nothing."""
        if role != Qt.ItemDataRole.EditRole or str(value) == self.data(index, role):
            return False
        span = self._rows[index.row()]
        try:
            field, new = _FIELDS[index.column()](self, str(value).strip(), span)
        except (Fault, ValueError) as error:
            sentence = error.sentence if isinstance(error, Fault) else f"{_capital(error)}."
            self._desk.faultRaised.emit(sentence)
            return False
        self._choreography.write(span.placed.id, **{field: new})
        return True

    def pose_name(self, text: str) -> str:
        """The pose meant by what was written: its name, a synonym, or the first it begins.

        Raises:
            Fault: nothing fits.
        """
        catalogue = self._desk.catalogue
        try:
            return catalogue.find(text).name
        except KeyError:
            found = catalogue.search(text) if text else ()
        if not found:
            raise Fault(f"there is no pose called {text}", do="press Return and look for it")
        return found[0].name


def _text(span: Span, column: int) -> str:
    placed = span.placed
    return (
        str(placed.hit),
        placed.pose,
        str(placed.hold),
        str(placed.transition),
        str(span.facing),
        str(span.level),
        placed.say or span.pose.say,
        placed.note,
    )[column]


def _option(text: str, options: type[Facing] | type[Level], own: Facing | Level) -> Any:
    """The option that begins with `text`, None for the pose's own."""
    found = [o for o in options if o.startswith(text.lower())] if text else [own]
    if not found:
        raise ValueError(f"{text!r} is none of {', '.join(options)}")
    return None if found[0] == own else found[0]


def _capital(error: ValueError) -> str:
    text = str(error)
    return text[:1].upper() + text[1:]


_Reader = Callable[[PoseRows, str, Span], tuple[str, Any]]
_FIELDS: dict[int, _Reader] = {
    HIT: lambda _, text, __: ("hit", parse_position(text)),
    POSE: lambda rows, text, _: ("pose", rows.pose_name(text)),
    HOLD: lambda _, text, __: ("hold", parse_length(text)),
    TRANSITION: lambda _, text, __: ("transition", parse_length(text)),
    FACING: lambda _, text, span: ("facing", _option(text, Facing, span.pose.facing)),
    LEVEL: lambda _, text, span: ("level", _option(text, Level, span.pose.level)),
    SPOKEN: lambda _, text, span: ("say", "" if text == span.pose.say else text),
    NOTE: lambda _, text, __: ("note", text),
}
