"""What a routine's folder is for, read at a glance: title, show, division, date."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import yaml

from rehearse.files.door import read_inside
from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import MAX_BYTES
from rehearse.routine.versions import ROUTINE

#: Most letters of what is told of a folder.
_MOST = 200
#: A name at the left edge with its value on the same line: the heading of the file.
_LINE = re.compile(r"^(title|show|division|show_date):[ \t]+(\S.*)$", re.MULTILINE)


@dataclass(frozen=True)
class Glance:
    """The heading of a routine's file; the texts may be empty, and the date may be none."""

    folder: Path
    title: str
    show: str = ""
    division: str = ""
    show_date: str = ""


def glance(folder: Path) -> Glance | None:
    """The heading of the routine in `folder`, the rest unread; None where there is none."""
    try:
        text = read_inside(folder, ROUTINE, MAX_BYTES).decode("utf-8", "replace")
    except (OSError, UserError, ValueError):
        return None
    found: dict[str, str] = {}
    for name, value in _LINE.findall(text):
        found.setdefault(name, _plain(value))
    title = found.pop("title", "") or folder.name
    return Glance(folder, title, **found)


def _plain(value: str) -> str:
    try:
        read = yaml.safe_load(value)
    except (yaml.YAMLError, ValueError, RecursionError):
        return ""
    if read is None or isinstance(read, dict | list):
        return ""
    return " ".join(str(read).split())[:_MOST]
