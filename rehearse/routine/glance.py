"""What a routine's folder is for, read at a glance: title, show, division, date, first pose."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import yaml

from rehearse.files.door import read_inside
from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import MAX_BYTES
from rehearse.routine.model import DRESSES, FIGURES, SKINS
from rehearse.routine.versions import ROUTINE

#: Most letters of what is told of a folder.
_MOST = 200
#: A name at the left edge with its value on the same line: the heading of the file.
_LINE = re.compile(
    r"^(title|show|division|show_date|figure|dress|skin):[ \t]+(\S.*)$", re.MULTILINE
)
#: The name of the first pose, and an own pose with its photo.
_POSE = re.compile(r"^poses:[ \t]*\n(?:[ -] .*\n)*?[ -] pose:[ \t]+(\S.*)$", re.MULTILINE)
_OWN = re.compile(
    r"^- name:[ \t]+(\S.*)\n(?:  (?!picture:).*\n)*  picture:[ \t]+(\S.*)$", re.MULTILINE
)


@dataclass(frozen=True)
class Glance:
    """The heading of a routine's file; the texts may be empty, and the date may be none.

    Args:
        figure, dress, skin: who shows it; empty where the file does not say, or says nothing known.
        pose: the name of the first pose. photo: its own photo, a path inside the folder.
    """

    folder: Path
    title: str
    show: str = ""
    division: str = ""
    show_date: str = ""
    figure: str = ""
    dress: str = ""
    skin: str = ""
    pose: str = ""
    photo: str = ""


#: What may stand there of those that are one of a few.
_FEW = {"figure": FIGURES, "dress": DRESSES, "skin": SKINS}


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
    for name, known in _FEW.items():
        if found.get(name, "") not in known:
            found.pop(name, None)
    first = _POSE.search(text)
    pose = _plain(first[1]) if first else ""
    photos = {_plain(name): _plain(picture) for name, picture in _OWN.findall(text)}
    return Glance(folder, title, pose=pose, photo=photos.get(pose, "") if pose else "", **found)


def _plain(value: str) -> str:
    try:
        read = yaml.safe_load(value)
    except (yaml.YAMLError, ValueError, RecursionError):
        return ""
    if read is None or isinstance(read, dict | list):
        return ""
    return " ".join(str(read).split())[:_MOST]
