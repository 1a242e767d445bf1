"""The last choices of each kind of handout, kept on this machine."""

from __future__ import annotations

import json
from typing import Any

from rehearse.ui.desk import Desk


def last_choices(desk: Desk, kind: str) -> dict[str, Any]:
    """What was chosen the last time; empty where nothing was, or it cannot be read."""
    try:
        found = json.loads(desk.settings.get(f"handout_choices_{kind}", "") or "{}")
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def keep_choices(desk: Desk, kind: str, choices: dict[str, Any]) -> None:
    """Keep what is chosen now."""
    words = json.dumps(choices)
    if words != desk.settings.get(f"handout_choices_{kind}", ""):
        desk.settings.put(f"handout_choices_{kind}", words)
