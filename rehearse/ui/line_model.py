"""A list of lines as Qt wants it, whose choice stays while only what is said of them changes."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any

from PySide6.QtCore import QAbstractListModel, QModelIndex, QPersistentModelIndex

#: An index as Qt hands it to models and delegates.
Index = QModelIndex | QPersistentModelIndex


class LineModel(QAbstractListModel):
    """One row a line.

    Args:
        name: what makes a line the same one as before.
    """

    def __init__(self, name: Callable[[Any], Hashable]) -> None:
        super().__init__()
        self.lines: tuple[Any, ...] = ()
        self._name = name

    def put(self, lines: tuple[Any, ...]) -> None:
        """Show these lines; where they are the same ones the choice stays."""
        same = [*map(self._name, lines)] == [*map(self._name, self.lines)]
        if not same:
            self.beginResetModel()
        self.lines = lines
        if not same:
            self.endResetModel()
        elif lines:
            self.dataChanged.emit(self.index(0), self.index(len(lines) - 1))

    def rowCount(self, parent: Index | None = None) -> int:
        """One row a line."""
        return len(self.lines)
