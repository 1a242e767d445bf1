"""Where things lie that belong to no routine: the packaged resources, this machine's state."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent.parent


def resource(name: str) -> Path:
    """Path of a packaged resource such as `poses.yaml` or `rules/open.yaml`.

    Raises:
        FileNotFoundError: the installation is incomplete (a packaging bug, not the user's).
    """
    for root in (_PACKAGE / "resources", _PACKAGE.parent / "resources"):
        path = root / name
        if path.exists():
            return path
    raise FileNotFoundError(f"resource {name!r} is not part of this installation")


def state_folder() -> Path:
    """The user's state folder of this program; it need not exist yet."""
    from platformdirs import user_state_path

    return Path(user_state_path("rehearse", appauthor=False))
