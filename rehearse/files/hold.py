"""Which window writes into a folder: one at a time, and it gives way when it is asked.

The one that writes holds a lock on a file in the user's state folder, named after the folder's
own number on its drive: renaming the folder does not part them, nothing is left in the folder,
and the system lets go of the lock of a process that was killed. Another window asks by a second
file; the first saves and lets go. Windows of another machine, or of a system without such locks,
are not seen here: their writing is noticed by `mark.Mark` before anything is saved over it.
"""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from rehearse.files.locations import state_folder

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]


class Hold:
    """The right to write into one folder.

    Args:
        folder: an existing folder. place: where the locks lie; None: the user's state folder.
    """

    def __init__(self, folder: Path, place: Path | None = None) -> None:
        there = os.stat(folder)
        self._place = place or state_folder() / "open"
        self._lock = self._place / f"{there.st_dev:x}-{there.st_ino:x}"
        self._asked = self._lock.with_name(f"{self._lock.name}.asked")
        self._handle = -1
        self._blind = fcntl is None

    @property
    def held(self) -> bool:
        """Whether it is still this window's; another may have taken it by force."""
        if self._blind:
            return True
        if self._handle < 0:
            return False
        try:
            return os.path.samestat(os.stat(self._lock), os.fstat(self._handle))
        except OSError:
            return False

    @property
    def asked(self) -> bool:
        """Whether another window asks for it."""
        return self._asked.exists()

    def take(self, *, by_force: bool = False) -> bool:
        """Take the right if nobody has it; whether it is this window's now.

        Args:
            by_force: take it from a window that does not answer.
        """
        if self.held:
            return True
        try:
            self._place.mkdir(parents=True, exist_ok=True)
            if by_force:
                self._lock.unlink(missing_ok=True)
            self._close()
            self._handle = os.open(self._lock, os.O_RDWR | os.O_CREAT, 0o600)
        except OSError:  # no state can be kept on this machine
            self._blind = True
            return True
        try:
            fcntl.flock(self._handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            self._close()
            return False
        except OSError:  # a home on a drive without locks
            self._blind = True
        if not self.held:  # another window let go, and removed the file, in this very moment
            self._close()
            return self.take(by_force=by_force)
        with contextlib.suppress(OSError):
            self._asked.unlink(missing_ok=True)
        return True

    def ask(self) -> None:
        """Ask the window that has it to let go."""
        with contextlib.suppress(OSError):
            self._asked.touch()

    def release(self) -> None:
        """Let go; nothing is left."""
        if self._handle >= 0 and self.held:
            with contextlib.suppress(OSError):
                self._lock.unlink(missing_ok=True)
        self._close()

    def _close(self) -> None:
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1
