"""What the athlete set once for this machine: it never travels with a routine folder."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from PySide6.QtCore import QByteArray, QObject, QSettings, QStandardPaths, Signal

#: Every setting with its type and first value.
FIRST: dict[str, Any] = {
    "folder": "",
    "geometry": b"",
    "screen_mm": 0.0,
    "distance_m": 4.0,
    "reduced_motion": False,
    "reduced_flash": False,
    "volume_music": 1.0,
    "volume_click": 1.0,
    "volume_speech": 1.0,
    "voice": "",
    "say_names": "loud",
    "say_counts": "loud",
    "say_clicks": "soft",
    "say_turns": False,
    "say_moves": "both",
    "silent": False,
    "mirrored": False,
    "accents_shown": 1,
    "text_size": 1.0,
    "language": "",
    "camera": False,
    "camera_name": "",
    "camera_sound": False,
    "camera_days": 14,
    "mirror_late": "8 counts",
    "mirror_flipped": True,
}


#: Folders opened last that are remembered at most.
MOST_RECENT = 8


class Settings(QObject):
    """Typed access to one settings file; views subscribe to `changed`.

    Args:
        path: the file; None takes the user's own configuration folder. A file that is damaged or
            cannot be written costs the settings, never the rehearsal.
    """

    changed = Signal(str)

    def __init__(self, path: Path | None = None) -> None:
        super().__init__()
        if path is None:
            place = QStandardPaths.StandardLocation.GenericConfigLocation
            path = Path(QStandardPaths.writableLocation(place)) / "rehearse" / "settings.ini"
        self._store = QSettings(str(path), QSettings.Format.IniFormat)

    def get(self, name: str, first: Any = None) -> Any:
        """The value of `name`, or its first value; `first` serves names made at run time."""
        default = FIRST.get(name, first)
        raw = self._store.value(name, default)
        if isinstance(default, bool):
            return str(raw).lower() == "true"
        if isinstance(default, bytes):
            # A damaged file may hold a text here, or a number that would become as many zeros.
            if isinstance(raw, QByteArray):
                return raw.data()
            return bytes(raw) if isinstance(raw, bytes | bytearray) else default
        try:
            value = raw if default is None else type(default)(raw)
        except (TypeError, ValueError, OverflowError):
            return default
        return default if isinstance(value, float) and not math.isfinite(value) else value

    def put(self, name: str, value: Any) -> None:
        """Store and tell whoever listens."""
        self._store.setValue(name, value)
        self.changed.emit(name)

    @property
    def recent_folders(self) -> list[Path]:
        """The routines' folders opened last, the newest first, whether they are there or not."""
        lines = str(self.get("recent", "")).split("\n")
        return [Path(line) for line in lines if line.strip()][:MOST_RECENT]

    def remember_folder(self, folder: Path) -> None:
        """Put a folder at the head of those opened last; it is the one opened at the next start."""
        others = [path for path in self.recent_folders if path != folder]
        self.put("recent", "\n".join(map(str, [folder, *others][:MOST_RECENT])))
        self.put("folder", str(folder))

    def sync(self) -> None:
        """Write to disk now."""
        self._store.sync()
