"""The last choices of each kind of handout, kept on this machine."""

from __future__ import annotations

import json
from typing import Any

from rehearse.ui.workspace import Workspace


def last_choices(workspace: Workspace, kind: str) -> dict[str, Any]:
    """What was chosen the last time; empty where nothing was, or it cannot be read."""
    try:
        found = json.loads(workspace.settings.get(f"handout_choices_{kind}", "") or "{}")
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def keep_choices(workspace: Workspace, kind: str, choices: dict[str, Any]) -> None:
    """Keep what is chosen now."""
    words = json.dumps(choices)
    if words != workspace.settings.get(f"handout_choices_{kind}", ""):
        workspace.settings.put(f"handout_choices_{kind}", words)
