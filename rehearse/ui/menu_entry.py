"""The program in the desktop's menu: entry, icons, file types and description, by open standards.

Desktop Entry, Icon Theme, Shared MIME-info and AppStream (freedesktop.org) say where each file
goes under the user's data folder; the files themselves lie in `resources/desktop/`. The icon is
drawn from its SVG in every usual size, without a screen. Other systems have no such folder.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QBuffer, QIODevice, Qt
from PySide6.QtGui import QIcon, QImage, QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer

from rehearse.files.atomic import save_atomic, user_error_of
from rehearse.files.locations import resource
from rehearse.files.user_error import UserError
from rehearse.words import _

#: A reversed domain is asked for; `example.org` is kept free for such uses (RFC 2606), so that
#: the name is nobody's.
ID = "org.example.rehearse"
#: The sizes of the icon theme that menus, panels, lists and switchers take, in pixels.
SIZES = (16, 22, 24, 32, 48, 64, 96, 128, 256, 512)
#: Up to this size the drawing for small sizes is taken.
_SMALL = 24
#: Types of files that others open by double click as well: they keep them.
_SHARED = ("application/zip", "inode/directory")
#: What tells desktops at once; without them they notice at the next login.
_PATIENCE = 20


def install(command: Sequence[str] | None = None) -> tuple[Path, ...]:
    """Put the program into the menu of this user; the files written.

    Args:
        command: how it is started; None: as this process was.

    Raises:
        UserError: not on Linux, or the data folder cannot be written.
    """
    place = _data_folder()
    before = {kind: _default(kind) for kind in _SHARED}
    written = []
    for path, content in menu_files(place, command or started_as()):
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise user_error_of(error, path.parent) from error
        save_atomic(path, content)
        written.append(path)
    _tell(place)
    for kind, program in before.items():
        if program and _default(kind) != program:
            _run("xdg-mime", "default", program, kind)
    return tuple(written)


def remove() -> tuple[Path, ...]:
    """Take the program out of the menu again; the files deleted.

    Raises:
        UserError: not on Linux, or a file cannot be deleted.
    """
    place, gone = _data_folder(), []
    for path, _unused in menu_files(place, ("rehearse",)):
        if path.is_file():
            try:
                path.unlink()
            except OSError as error:
                raise user_error_of(error, path) from error
            gone.append(path)
    _tell(place)
    return tuple(gone)


def started_as() -> tuple[str, ...]:
    """The command that starts this program again, from whatever folder."""
    if getattr(sys, "frozen", False):
        return (sys.executable,)
    script = Path(sys.executable).with_name("rehearse")
    if script.is_file() and os.access(script, os.X_OK):
        return (str(script),)
    return (sys.executable, "-m", "rehearse")


def picture(size: int) -> QImage:
    """The program's icon, `size` pixels square; needs no application."""
    name = "rehearse-small" if size <= _SMALL else "rehearse"
    drawn = QImage(size, size, QImage.Format.Format_ARGB32_Premultiplied)
    drawn.fill(Qt.GlobalColor.transparent)
    with QPainter(drawn) as painter:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        QSvgRenderer(str(resource(f"desktop/{name}.svg"))).render(painter)
    return drawn


def window_icon() -> QIcon:
    """The icon for windows, in the sizes that panels and switchers show."""
    icon = QIcon()
    for size in SIZES[:-2]:
        icon.addPixmap(QPixmap.fromImage(picture(size)))
    return icon


def _data_folder() -> Path:
    if not sys.platform.startswith("linux"):
        raise UserError(
            _("there is no menu of this kind on this system"),
            do=_("make a shortcut to the program instead"),
        )
    given = os.environ.get("XDG_DATA_HOME", "")
    # A relative path there is to be ignored (XDG Base Directory Specification).
    return Path(given) if os.path.isabs(given) else Path.home() / ".local" / "share"


def menu_files(place: Path, command: Sequence[str]) -> list[tuple[Path, bytes]]:
    """Every file with its content."""
    theme = place / "icons" / "hicolor"
    entry = resource(f"desktop/{ID}.desktop").read_text(encoding="utf-8")
    started = " ".join(_quoted(part) for part in command)
    entry = entry.replace("Exec=rehearse ", f"Exec={started} ")
    made = [
        (place / "applications" / f"{ID}.desktop", entry.encode()),
        (place / "metainfo" / f"{ID}.metainfo.xml", _read(f"{ID}.metainfo.xml")),
        (place / "mime" / "packages" / f"{ID}.xml", _read(f"{ID}.xml")),
        (theme / "scalable" / "apps" / f"{ID}.svg", _read("rehearse.svg")),
    ]
    for size in SIZES:
        made.append((theme / f"{size}x{size}" / "apps" / f"{ID}.png", _png(size)))
    return made


def _read(name: str) -> bytes:
    return resource(f"desktop/{name}").read_bytes()


def _png(size: int) -> bytes:
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    # The stubs want bytes here, which the call itself refuses.
    picture(size).save(buffer, "PNG")  # type: ignore[call-overload]
    return bytes(buffer.data().data())


def _quoted(part: str) -> str:
    """One argument of an Exec line (Desktop Entry Specification, "The Exec key").

    A percent sign is doubled; what a shell could read is quoted, and the string rules of the file
    double each backslash once more.
    """
    part = part.replace("%", "%%")
    if not set(part) & set(" \t\n\"'\\><~|&;$*?#()`"):
        return part
    for sign in '\\"`$':
        part = part.replace(sign, f"\\{sign}")
    return '"' + part.replace("\\", "\\\\") + '"'


def _tell(place: Path) -> None:
    """Let the desktop read its lists anew, where the tools for it are installed."""
    _run("update-desktop-database", "-q", str(place / "applications"))
    _run("update-mime-database", str(place / "mime"))
    theme = place / "icons" / "hicolor"
    if (theme / "icon-theme.cache").exists():
        _run("gtk-update-icon-cache", "-q", "-t", "-f", str(theme))
    elif theme.is_dir():
        os.utime(theme)  # a theme counts as changed when its folder does


def _default(kind: str) -> str:
    """The desktop entry that opens files of a type; empty where none or unknown."""
    return _run("xdg-mime", "query", "default", kind).strip()


def _run(tool: str, *arguments: str) -> str:
    """What a tool prints; nothing where it is missing, fails or hangs."""
    if shutil.which(tool) is None:
        return ""
    try:
        done = subprocess.run(
            [tool, *arguments], capture_output=True, text=True, timeout=_PATIENCE, check=False
        )
    except (OSError, subprocess.SubprocessError):
        return ""
    return done.stdout
