"""Where this machine keeps what belongs to no routine: the log, what is open, what is not saved."""

from __future__ import annotations

from pathlib import Path


def state_folder() -> Path:
    """The user's state folder of this program; it need not exist yet."""
    from platformdirs import user_state_path

    return Path(user_state_path("rehearse", appauthor=False))
