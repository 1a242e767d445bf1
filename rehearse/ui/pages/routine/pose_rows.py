"""The poses as rows of a table: every field can be written in the words of the file."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QSize, Qt, Signal, Slot
from PySide6.QtGui import QPixmap

from rehearse.files.user_error import UserError
from rehearse.music.position import (
    Count,
    Length,
    Position,
    Seconds,
    parse_length,
    parse_position,
)
from rehearse.routine.accent_pins import is_pinned
from rehearse.routine.model import Facing, Level, Move
from rehearse.routine.moves import written
from rehearse.routine.moving import Timed
from rehearse.routine.timed_pose import TimedPose
from rehearse.ui import theme
from rehearse.ui.figure.move_thumbs import MoveThumbs
from rehearse.ui.figure.pose_thumbs import Thumbs
from rehearse.ui.pages.routine.choreography import Choreography
from rehearse.ui.pages.routine.pose_timings import PoseTimings
from rehearse.ui.widgets import Index
from rehearse.ui.workspace import Workspace
from rehearse.words import _, place_text, read_number, shown

COLUMNS = (
    *(
        _("Hit"),
        _("Pose"),
        _("Hold"),
        _("Transition"),
        _("Moves"),
        _("Facing"),
        _("Level"),
        _("Spoken"),
        _("Note"),
    ),
)
HIT, POSE, HOLD, TRANSITION, MOVES, FACING, LEVEL, SPOKEN, NOTE = range(9)
#: Height of the figure beside a pose's name, in pixels.
PICTURE = 24

_NUMBER = re.compile(r"\d+(?:\.\d+)?")
# As plain numbers: a table asks a thousand times for each picture of it.
_DISPLAY, _EDIT, _SPOKEN_ALOUD = (
    int(role)
    for role in (
        Qt.ItemDataRole.DisplayRole,
        Qt.ItemDataRole.EditRole,
        Qt.ItemDataRole.AccessibleTextRole,
    )
)
_ROLES = (_DISPLAY, _EDIT, _SPOKEN_ALOUD)
_FLAGS = Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsEditable


@dataclass(frozen=True)
class WayOff:
    """What is done after the last hold: a row of its own below the poses.

    Args:
        exit: as written. moves: as they lie in the music. start: where the first one begins.
    """

    exit: tuple[Move, ...]
    moves: tuple[Timed, ...]
    start: str


class PoseRows(QAbstractTableModel):
    """One row a pose, in the order of the music, and one for the way off where there is one.

    Signals:
        refreshed: the rows stand for the routine as it is now.
    """

    refreshed = Signal()

    def __init__(
        self, workspace: Workspace, choreography: Choreography, timings: PoseTimings, thumbs: Thumbs
    ) -> None:
        super().__init__()
        self._workspace, self._choreography = workspace, choreography
        self._timings, self._thumbs = timings, thumbs
        self._moves = MoveThumbs(self)
        self._moves.painted.connect(self._moves_painted)
        self._painted_moves = 0
        self._rows: tuple[TimedPose | WayOff, ...] = ()
        #: The fields of each row as they are written, by the row; asked for at every painting.
        self._written: dict[int, tuple[str, ...]] = {}
        self.marked: dict[str, str] = {}
        self._remarked: frozenset[str] = frozenset()

    def refresh(self) -> None:
        """Take over the spans; rows before and after what changed are left alone."""
        old = self._rows
        new: tuple[TimedPose | WayOff, ...] = (*self._timings.all, *self._way_off())
        first = 0
        while first < min(len(old), len(new)) and old[first] is new[first]:
            first += 1
        tail = 0
        while tail < min(len(old), len(new)) - first and old[-1 - tail] is new[-1 - tail]:
            tail += 1
        kept = {id(row) for row in new} & {id(row) for row in old}
        self._written = {row: self._written[row] for row in kept & self._written.keys()}
        many = len(new) - len(old)
        if many > 0:
            self.beginInsertRows(QModelIndex(), first, first + many - 1)
            self._rows = new
            self.endInsertRows()
        elif many < 0:
            self.beginRemoveRows(QModelIndex(), first, first - many - 1)
            self._rows = new
            self.endRemoveRows()
        self._rows = new
        first, last = first + max(0, many), len(new) - tail - 1
        if first <= last:
            self.dataChanged.emit(self.index(first, 0), self.index(last, len(COLUMNS) - 1))
        self.refreshed.emit()

    def _way_off(self) -> tuple[WayOff, ...]:
        routine, beatmap, timed = (
            self._workspace.routine,
            self._workspace.beatmap,
            self._timings.way_off,
        )
        if routine is None or beatmap is None or not timed:
            return ()
        start = beatmap.position_at(timed[0].start)
        words = (
            place_text(start) if isinstance(start, Count) else _("{value:.2f} s", value=start.value)
        )
        new, old = WayOff(routine.exit, timed, words), self._rows[-1:]
        return old if old == (new,) else (new,)

    def is_way_off(self, row: int) -> bool:
        """Whether a row is the way off."""
        return 0 <= row < len(self._rows) and isinstance(self._rows[row], WayOff)

    def mark(self, marked: dict[str, str]) -> None:
        """Show which poses have findings."""
        if marked != self.marked:
            self.marked = marked
            self.headerDataChanged.emit(Qt.Orientation.Vertical, 0, len(self._rows) - 1)

    def mark_remarks(self, remarked: frozenset[str]) -> None:
        """Show which poses and moves, by id, have a remark that nothing became of yet."""
        self._remarked = remarked
        last = self.rowCount() - 1
        if last >= 0:
            self.dataChanged.emit(self.index(0, POSE), self.index(last, POSE))

    def remarked(self, row: int) -> bool:
        """Whether the pose in a row, or a move before it, has an open remark."""
        span = self._rows[row]
        moves = span.exit if isinstance(span, WayOff) else span.placed.moves
        return self.id_at(row) in self._remarked or any(m.id in self._remarked for m in moves)

    def id_at(self, row: int) -> str:
        """Id of the pose in a row; empty for none."""
        timed_pose = self._rows[row] if 0 <= row < len(self._rows) else None
        return timed_pose.placed.id if isinstance(timed_pose, TimedPose) else ""

    def row_of(self, pose_id: str) -> int:
        """Row of a pose; −1 for none."""
        timed_pose = enumerate(self._rows)
        return next(
            (k for k, s in timed_pose if isinstance(s, TimedPose) and s.placed.id == pose_id), -1
        )

    def row_of_move(self, move_id: str) -> int:
        """Row of a move of the way off; −1 for any other."""
        off = self._rows[-1] if self._rows else None
        known = isinstance(off, WayOff) and any(move.id == move_id for move in off.exit)
        return len(self._rows) - 1 if known else -1

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own signature
        """Poses."""
        return 0 if parent.isValid() else len(self._rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own signature
        """Fields."""
        return 0 if parent.isValid() else len(COLUMNS)

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Every field can be written, of the way off its moves."""
        fixed = self.is_way_off(index.row()) and index.column() != MOVES
        return _FLAGS & ~Qt.ItemFlag.ItemIsEditable if fixed else _FLAGS

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> Any:
        """Names of the fields; numbers of the poses, with a triangle where something is amiss."""
        if role != _DISPLAY:
            return None
        if orientation is Qt.Orientation.Horizontal:
            return COLUMNS[section]
        if self.is_way_off(section):
            return ""
        sign = {"fault": " ▲", "warning": " △"}.get(self.marked.get(self.id_at(section), ""), "")
        return f"{section + 1}{sign}"

    def data(self, index: Index, role: int = 0) -> Any:
        """Text, and what a screen reader says."""
        if role not in _ROLES:
            return None
        text = self.text(index.row(), index.column())
        if role == _SPOKEN_ALOUD:
            more = _(", pinned") if index.column() == HIT and self.pinned(index.row()) else ""
            if index.column() == POSE and self.remarked(index.row()):
                more = _(", open remark")
            return f"{COLUMNS[index.column()]} {text}{more}"
        return text

    def text(self, row: int, column: int) -> str:
        """A field as it is written, whole."""
        span = self._rows[row]
        if id(span) not in self._written:
            self._written[id(span)] = tuple(_text(span, k) for k in range(len(COLUMNS)))
        return self._written[id(span)][column]

    def short(self, row: int, column: int) -> str:
        """A field as it is shown: seconds with two digits say enough."""
        timed_pose = self._rows[row]
        hit = timed_pose.placed.hit if isinstance(timed_pose, TimedPose) else None
        if column == HIT and isinstance(hit, Seconds):
            return _("{value:.2f} s", value=hit.value)
        return self.text(row, column)

    def looks(self, row: int, ratio: float) -> tuple[object, ...]:
        """All that a row shows but its hit: equal where it looks the same."""
        self.text(row, NOTE)
        routine, written = self._workspace.routine, self._written[id(self._rows[row])]
        return (
            *written[POSE:],
            self.picture(row, ratio).cacheKey(),
            self.remarked(row),
            self._painted_moves,
            routine.own_moves if routine is not None else (),
            self._thumbs.folder,
        )

    def pinned(self, row: int) -> bool:
        """Whether the pose in a row keeps its place."""
        beatmap, timed_pose = self._workspace.beatmap, self._rows[row]
        if beatmap is None or not isinstance(timed_pose, TimedPose):
            return False
        return is_pinned(timed_pose.placed, beatmap)

    def picture(self, row: int, ratio: float) -> QPixmap:
        """The figure of a row; the way off has none."""
        span = self._rows[row]
        if isinstance(span, WayOff):
            return QPixmap()
        placed = span.placed
        return self._thumbs.picture(
            span.pose, theme.px(PICTURE), facing=placed.facing, level=placed.level, ratio=ratio
        )

    def move_pictures(self, row: int, ratio: float) -> list[QPixmap]:
        """Pictures of the moves of a row, those that are painted."""
        size = QSize(theme.px(PICTURE - 4), theme.px(PICTURE - 4))
        catalogue, folder, pictures = self._timings.known_moves, self._thumbs.folder, []
        for timed in self._rows[row].moves:
            move = timed.move
            with contextlib.suppress(KeyError):  # the checks name it
                kind = catalogue.find(move.move)
                pictures.append(
                    self._moves.picture(
                        kind, move.side, move.direction, size, ratio=ratio, folder=folder
                    )
                )
        return [picture for picture in pictures if picture is not None]

    @Slot()
    def _moves_painted(self) -> None:
        self._painted_moves += 1
        last = self.rowCount() - 1
        if last >= 0:
            self.dataChanged.emit(self.index(0, MOVES), self.index(last, MOVES))

    def setData(self, index: Index, value: Any, role: int = 0) -> bool:
        """Write a field; what cannot be read is said and changes nothing."""
        if role != _EDIT or str(value) == self.data(index, role):
            return False
        span = self._rows[index.row()]
        if index.column() == MOVES:
            return self._write_moves(self.id_at(index.row()), str(value))
        if isinstance(span, WayOff):
            return False
        try:
            field, new = _FIELDS[index.column()](self, str(value).strip(), span)
        except (UserError, ValueError) as error:
            sentence = error.sentence if isinstance(error, UserError) else f"{_capital(error)}."
            self._workspace.notice.say(sentence)
            return False
        self._choreography.write(span.placed.id, **{field: new})
        return True

    def _write_moves(self, bed: str, text: str) -> bool:
        try:
            wanted = self._choreography.known_moves.read(text)
        except ValueError as error:
            self._workspace.notice.say(f"{_capital(error)}.")
            return False
        self._choreography.write_moves(bed, wanted)
        return True

    def pose_name(self, text: str) -> str:
        """The pose meant by what was written: its name, a synonym, or the first it begins.

        Raises:
            UserError: nothing fits.
        """
        catalogue = self._workspace.catalogue
        try:
            return catalogue.find(text).name
        except KeyError:
            found = catalogue.search(text) if text else ()
        if not found:
            raise UserError(
                _("there is no pose called {text}", text=text), do=_("press Enter and look for it")
            )
        return found[0].name


def _text(span: TimedPose | WayOff, column: int) -> str:
    if isinstance(span, WayOff):
        return {HIT: span.start, POSE: _("way off"), MOVES: written(span.exit)}.get(column, "")
    placed = span.placed
    return (
        place_text(placed.hit),
        shown(placed.pose),
        place_text(placed.hold),
        place_text(placed.transition),
        written(placed.moves),
        shown(span.facing),
        shown(span.level),
        placed.say or shown(span.pose.say),
        placed.note,
    )[column]


def _option(text: str, options: type[Facing] | type[Level], own: Facing | Level) -> Any:
    """The option that begins with `text`, None for the pose's own."""
    begun = text.casefold()
    found = [o for o in options if shown(o).casefold().startswith(begun)] if text else [own]
    found = found or [o for o in options if o.startswith(begun)]
    if not found:
        raise ValueError(
            _("{text!r} is none of {options}", text=text, options=", ".join(map(shown, options)))
        )
    return None if found[0] == own else found[0]


def _length(text: str, was: Length) -> Length:
    """A length as it was written; a bare number keeps the unit there was."""
    number = _bare(text)
    return parse_length(text) if number is None else Length(number, was.in_counts)


def _position(text: str, was: Position) -> Position:
    """A position as it was written; a bare number is seconds only where seconds stood."""
    if _bare(text) is not None and isinstance(was, Count):
        raise ValueError(
            _("{text} may be a count or seconds; write {text}:1 or {text} s", text=text)
        )
    return parse_position(text)


def _bare(text: str) -> float | None:
    return read_number(text) if _NUMBER.fullmatch(text) else None


def _capital(error: ValueError) -> str:
    text = str(error)
    return text[:1].upper() + text[1:]


_Reader = Callable[[PoseRows, str, TimedPose], tuple[str, Any]]
_FIELDS: dict[int, _Reader] = {
    HIT: lambda _unused, text, span: ("hit", _position(text, span.placed.hit)),
    POSE: lambda rows, text, _unused: ("pose", rows.pose_name(text)),
    HOLD: lambda _unused, text, span: ("hold", _length(text, span.placed.hold)),
    TRANSITION: lambda _unused, text, span: ("transition", _length(text, span.placed.transition)),
    FACING: lambda _unused, text, span: ("facing", _option(text, Facing, span.pose.facing)),
    LEVEL: lambda _unused, text, span: ("level", _option(text, Level, span.pose.level)),
    SPOKEN: lambda _unused, text, span: ("say", "" if text == shown(span.pose.say) else text),
    NOTE: lambda _unused, text, __: ("note", text),
}
