"""Opening what was chosen or dropped (a folder, a zip, a song), and where file dialogs begin."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QStandardPaths

from rehearse.files.atomic import user_error_of
from rehearse.ui.workspace import Workspace
from rehearse.words import _

SONGS = _(
    "Songs (*.mp3 *.m4a *.aac *.mp4 *.m4b *.3gp *.amr *.wav *.flac *.ogg "
    "*.oga *.opus *.aiff *.aif *.aifc *.caf *.wma *.webm *.mka *.mkv "
    "*.mov);;All files (*)"
)


_Place = QStandardPaths.StandardLocation


def music_folder(last: str = "") -> str:
    """The folder of the song chosen last, else the user's music."""
    return last if last and Path(last).is_dir() else _there(_Place.MusicLocation)


def pictures_folder() -> str:
    """The user's pictures."""
    return _there(_Place.PicturesLocation)


def documents_folder() -> str:
    """The user's documents."""
    return _there(_Place.DocumentsLocation)


def downloads_folder() -> str:
    """Where what a coach sent usually lies."""
    return _there(_Place.DownloadLocation)


def _there(place: _Place) -> str:
    """The folder, or the home folder: a dialog takes one that is missing for a file's name."""
    folder = QStandardPaths.writableLocation(place)
    return folder if Path(folder).is_dir() else str(Path.home())


def is_routine(path: Path) -> bool:
    """Whether `path` is for `open_routine`; any other file may be a song."""
    return path.is_dir() or path.suffix.lower() in (".zip", ".yaml", ".sqlite")


def is_remarks(path: Path) -> bool:
    """Whether `path` is a file that the coach's page saved, by its name."""
    return path.suffix.lower() == ".json"


#: Endings of films that may be dropped on an open routine.
FILMS = (".mp4", ".mov", ".mkv", ".webm", ".m4v", ".3gp", ".avi")


def is_film(path: Path) -> bool:
    """Whether a dropped file is taken for a film by its name."""
    return path.suffix.lower() in FILMS


def open_routine(workspace: Workspace, path: Path) -> bool:
    """Open a folder, a file in one, or a zip; False (and one sentence) when it cannot be.

    A zip is unpacked in a worker, beside the other routines, and opened from there when that is
    done; nothing is written over.
    """
    if path.is_dir():
        return workspace.open(path)
    if path.suffix.lower() != ".zip":
        return workspace.open(path.parent)
    from rehearse.routine.zip_import import open_bundle

    place = place_of(workspace)
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        workspace.errorRaised.emit(user_error_of(error, place).sentence)
        return False
    workspace.run_job(_("Unpacking the routine"), open_bundle, path, place, done=workspace.open)
    return True


def place_of(workspace: Workspace) -> Path:
    """The folder that holds this athlete's routines on this machine."""
    from rehearse.routine.start import routines_folder

    return Path(workspace.settings.get("routines", "") or routines_folder())
