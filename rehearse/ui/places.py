"""Where a dialog that asks for a file begins to look."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QStandardPaths

_Place = QStandardPaths.StandardLocation


def music_folder(last: str = "") -> str:
    """The folder of the song chosen last, else the user's music."""
    return last if last and Path(last).is_dir() else _there(_Place.MusicLocation)


def pictures_folder() -> str:
    """The user's pictures."""
    return _there(_Place.PicturesLocation)


def downloads_folder() -> str:
    """Where what a coach sent usually lies."""
    return _there(_Place.DownloadLocation)


def _there(place: _Place) -> str:
    """The folder, or the home folder: a dialog takes one that is missing for a file's name."""
    folder = QStandardPaths.writableLocation(place)
    return folder if Path(folder).is_dir() else str(Path.home())
