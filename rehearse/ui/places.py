"""Where a dialog that asks for a file begins to look."""

from __future__ import annotations

from PySide6.QtCore import QStandardPaths

_Place = QStandardPaths.StandardLocation


def music_folder() -> str:
    """The user's music."""
    return QStandardPaths.writableLocation(_Place.MusicLocation)


def pictures_folder() -> str:
    """The user's pictures."""
    return QStandardPaths.writableLocation(_Place.PicturesLocation)


def downloads_folder() -> str:
    """Where what a coach sent usually lies."""
    return QStandardPaths.writableLocation(_Place.DownloadLocation)
