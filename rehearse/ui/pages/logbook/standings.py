"""The tables: how every section, transition and pose stands."""

from __future__ import annotations

from datetime import date

from PySide6.QtCore import QAbstractTableModel, Qt, Slot
from PySide6.QtGui import QColor, QResizeEvent
from PySide6.QtWidgets import QHeaderView, QTableView

from rehearse.practice.stamina import PoseStamina
from rehearse.practice.summary import Standing
from rehearse.ui import theme
from rehearse.ui.pages.logbook.logbook_data import ago_words, seconds_words
from rehearse.ui.widgets import Index
from rehearse.words import _, section_text, shown

ROUND_HEADINGS = ("", _("Tension"), _("Last"), _("Calls"), _("Lost at"), _("Longest clean"))
HEADINGS = ("", _("Passes"), _("Last"), _("Best clean"), _("Clean at 100 %"), _("Trend"))
_TREND = {
    "rising": _("↗ rising"),
    "falling": _("↘ falling"),
    "steady": _("→ steady"),
    "too few": "–",
}
#: Pixels a row is high: lower than elsewhere, so that a routine's sections show without scrolling.
_ROW = 28
#: Pixels between the longest name and its figures.
_APART = 24
#: Best tempo and trend are left out where the table is narrower than this.
_FIRST_TO_GO, _WIDE = (3, 5), 70 * theme.STEP
_RIGHT = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
_LEFT = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)


def cells(standing: Standing, today: date) -> tuple[str, ...]:
    """One row of words under `HEADINGS`."""
    days = None if standing.last is None else max(0, (today - standing.last.date()).days)
    share = standing.clean_share
    name = section_text(standing.name) if standing.kind == "section" else shown(standing.name)
    name = name[:1].upper() + name[1:]
    return (
        _("{name}  (taken out)", name=name) if standing.gone else name,
        str(standing.passes or "–"),
        ago_words(days),
        "–" if standing.best_clean is None else f"{round(standing.best_clean * 100)} %",
        "–" if share is None else f"{round(share * 100)} %",
        _TREND[standing.trend_word],
    )


def round_cells(pose: PoseStamina, today: date) -> tuple[str, ...]:
    """One row of words under `ROUND_HEADINGS`; the tension is that of its last day."""
    return (
        pose.name[:1].upper() + pose.name[1:],
        seconds_words(pose.on_last),
        ago_words(max(0, (today - pose.last).days)),
        str(pose.calls),
        "–" if pose.lost_at is None else f"{pose.lost_at:.0f} s",
        "–" if pose.longest_clean is None else f"{pose.longest_clean:.0f} s",
    )


class StandingModel(QAbstractTableModel):
    """Standings as Qt wants them, of the routine or of the poses in comparison rounds."""

    def __init__(self) -> None:
        super().__init__()
        self.headings = HEADINGS
        self._rows: tuple[Standing | PoseStamina, ...] = ()
        self._cells: list[tuple[str, ...]] = []

    def show(self, standings: tuple[Standing, ...], today: date) -> None:
        """Show other standings."""
        self.beginResetModel()
        self.headings = HEADINGS
        self._rows = standings
        self._cells = [cells(s, today) for s in standings]
        self.endResetModel()

    def show_rounds(self, poses: tuple[PoseStamina, ...], today: date) -> None:
        """Show the poses of comparison rounds."""
        self.beginResetModel()
        self.headings = ROUND_HEADINGS
        self._rows = poses
        self._cells = [round_cells(pose, today) for pose in poses]
        self.endResetModel()

    def rowCount(self, parent: Index | None = None) -> int:
        """One row a standing."""
        return len(self._cells)

    def columnCount(self, parent: Index | None = None) -> int:
        """One column a heading."""
        return len(HEADINGS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> object:
        """The headings."""
        if orientation != Qt.Orientation.Horizontal:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self.headings[section]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _RIGHT if section in (1, 3, 4) else _LEFT
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Words, and what a screen reader says of the whole row."""
        row = self._cells[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return row[index.column()]
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return ", ".join(f"{h} {c}".strip() for h, c in zip(self.headings, row, strict=True))
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _RIGHT if index.column() in (1, 3, 4) else _LEFT
        if role == Qt.ItemDataRole.ForegroundRole:
            faint = self._rows[index.row()].gone or row[index.column()] in ("–", "never")
            return QColor(theme.DIM if faint else theme.INK)
        return None


class StandingTable(QTableView):
    """The table itself."""

    def __init__(self) -> None:
        super().__init__()
        self.rows = StandingModel()
        self.setModel(self.rows)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setSelectionBehavior(QTableView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QTableView.SelectionMode.SingleSelection)
        self.setTabKeyNavigation(False)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(_ROW)
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Interactive)
        self.rows.modelReset.connect(self._fit)
        self.setAccessibleName(_("How sections, transitions and poses stand"))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """What matters least makes way for the names."""
        super().resizeEvent(event)
        for column in _FIRST_TO_GO:
            self.setColumnHidden(column, self.width() < theme.px(_WIDE))
        self._fit()

    @Slot()
    def _fit(self) -> None:
        """The names' column is as wide as they are, so that figures stand beside them."""
        header = self.horizontalHeader()
        shown = [k for k in range(1, header.count()) if not self.isColumnHidden(k)]
        others = sum(max(self.sizeHintForColumn(k), header.sectionSizeHint(k)) for k in shown)
        room = self.viewport().width() - others
        self.setColumnWidth(0, max(0, min(self.sizeHintForColumn(0) + theme.px(_APART), room)))
