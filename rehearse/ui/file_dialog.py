"""Asking for a file or a folder: the system's own dialog, or Qt's in the look of the window.

Where the desktop brings a dialog of its own that is used. Where it does not, Qt's is given what it
lacks: a size that shows whole names, columns as wide as what is in them, the places at its side
where songs and what a coach sent usually lie, and hidden files left out.
"""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QDir, QStandardPaths, Qt, QUrl
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import (
    QDialogButtonBox,
    QFileDialog,
    QHeaderView,
    QSplitter,
    QToolButton,
    QTreeView,
    QWidget,
)

from rehearse.ui import theme

_Place = QStandardPaths.StandardLocation
#: Size of Qt's dialog in pixels of a small window, and its least distance from the window's edge.
_SIZE, _EDGE = (1160, 640), 24
#: Width of the column of places.
_PLACES = 184
#: What stands on Qt's small buttons, whose pictures are too dark here; nothing: not shown.
_SIGNS = {"backButton": "←", "forwardButton": "→", "toParentButton": "↑"}
_SIGNS |= {"newFolderButton": "+", "listModeButton": "", "detailModeButton": ""}
#: Widths of size and date, in pixels of a small window; the name has the rest. Its kind is told by
#: the name's ending.
_COLUMNS, _KIND = {1: 112, 3: 184}, 2


def open_file(parent: QWidget, title: str, start: str = "", kinds: str = "") -> str:
    """The file chosen; empty when none was.

    Args:
        start: the folder it begins in, or a file. kinds: filters as Qt writes them.
    """
    return _ask(_dialog(parent, title, start, kinds))


def open_files(parent: QWidget, title: str, start: str = "", kinds: str = "") -> list[str]:
    """The files chosen, in the order of the list."""
    dialog = _dialog(parent, title, start, kinds)
    dialog.setFileMode(QFileDialog.FileMode.ExistingFiles)
    return dialog.selectedFiles() if _ask(dialog) else []


def open_folder(parent: QWidget, title: str, start: str = "") -> str:
    """The folder chosen; empty when none was."""
    dialog = _dialog(parent, title, start, "")
    dialog.setFileMode(QFileDialog.FileMode.Directory)
    dialog.setOption(QFileDialog.Option.ShowDirsOnly)
    return _ask(dialog)


def save_file(parent: QWidget, title: str, start: str = "", kinds: str = "") -> str:
    """The file to be written; the dialog asks before one that is there; empty for none."""
    dialog = _dialog(parent, title, start, kinds)
    dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
    dialog.setFileMode(QFileDialog.FileMode.AnyFile)
    return _ask(dialog)


def _dialog(parent: QWidget, title: str, start: str, kinds: str) -> QFileDialog:
    where = Path(start) if start else Path()
    folder = where if not start or where.is_dir() else where.parent
    dialog = QFileDialog(parent, title, str(folder) if start else "", kinds)
    dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
    if start and not where.is_dir():
        dialog.selectFile(where.name)
    return dialog


def _ask(dialog: QFileDialog) -> str:
    """Show it until it is answered; the first file or folder chosen."""
    dress(dialog)
    try:
        chosen = dialog.selectedFiles() if dialog.exec() else []
    finally:
        dialog.deleteLater()
    return chosen[0] if chosen else ""


def dress(dialog: QFileDialog) -> None:
    """Give Qt's own dialog room, whole names and places; does nothing to a dialog of the system."""
    tree = dialog.findChild(QTreeView)
    if tree is None:
        return
    parent = dialog.parentWidget()
    around = parent.window() if parent is not None else None
    width, height = (theme.px(side) for side in _SIZE)
    if around is not None:
        edge = 2 * theme.px(_EDGE)
        width, height = min(width, around.width() - edge), min(height, around.height() - edge)
    dialog.resize(width, height)
    if around is not None:
        middle = around.mapToGlobal(around.rect().center())
        dialog.move(middle.x() - width // 2, middle.y() - height // 2)
    dialog.setOption(QFileDialog.Option.HideNameFilterDetails)
    dialog.setStyleSheet(f"QFileDialog {{ border: 2px solid {theme.LINE}; }}")
    for name, sign in _SIGNS.items():
        if (button := dialog.findChild(QToolButton, name)) is not None:
            button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextOnly)
            button.setText(sign)
            button.setVisible(bool(sign))
    if (answers := dialog.findChild(QDialogButtonBox)) is not None:
        for answer in answers.buttons():
            answer.setIcon(QIcon())
    dialog.setFilter(dialog.filter() & ~QDir.Filter.Hidden)
    dialog.setViewMode(QFileDialog.ViewMode.Detail)
    dialog.setSidebarUrls(_places())
    for splitter in dialog.findChildren(QSplitter):
        places = theme.px(_PLACES)
        splitter.setSizes([places, max(places, width - places)])
        splitter.setHandleWidth(theme.STEP)
    head = tree.header()
    head.setStretchLastSection(False)
    head.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
    head.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
    head.hideSection(_KIND)
    for column, pixels in _COLUMNS.items():
        head.setSectionResizeMode(column, QHeaderView.ResizeMode.Interactive)
        head.resizeSection(column, theme.px(pixels))


def _places() -> list[QUrl]:
    """Where an athlete's files usually lie, as far as those folders are there."""
    found = [Path.home()]
    for place in (
        _Place.MusicLocation,
        _Place.DownloadLocation,
        _Place.DocumentsLocation,
        _Place.PicturesLocation,
        _Place.MoviesLocation,
    ):
        folder = Path(QStandardPaths.writableLocation(place))
        if folder.is_dir() and folder not in found:
            found.append(folder)
    return [QUrl.fromLocalFile(str(folder)) for folder in found]
