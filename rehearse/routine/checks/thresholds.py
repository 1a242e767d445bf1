"""The numbers behind the checks, as data: packaged, the athlete's own, the routine's own."""

from __future__ import annotations

import os
from dataclasses import dataclass, fields
from pathlib import Path

import platformdirs

from rehearse.files.door import path_inside
from rehearse.files.reading import Reading
from rehearse.files.resources import resource
from rehearse.files.yamlfile import load_yaml
from rehearse.music.position import parse_length

FORMAT = 1
_NAME = "checks.yaml"
_LONGEST = 36_000.0
_NUMBERS = {"balance_from": (0.0, 1000.0), "one_facing": (0.0, 1.0)}


@dataclass(frozen=True)
class Thresholds:
    """From when on a check speaks up; times in seconds. `resources/checks.yaml` explains each."""

    shortest_hold: float
    arms_only: float
    quarter_turn: float
    half_turn: float
    full_turn: float
    to_lunge: float
    to_kneeling: float
    step: float
    longest_way: float
    off_beat: float
    beside_accent: float
    near_accent: float
    longest_gap: float
    balance_from: float
    one_facing: float


def load_thresholds(folder: Path | None = None) -> Thresholds:
    """The packaged thresholds, over them the athlete's own, over these the routine folder's.

    Raises:
        Faults: an own file is damaged; all its faults.
    """
    paths = [resource(_NAME), own_thresholds_file()]
    if folder is not None:
        paths.append(path_inside(folder, _NAME))
    values: dict[str, float] = {}
    for path in paths:
        if os.path.lexists(path):  # a link to nothing is told, not passed over
            values |= _read(path)
    return Thresholds(**values)


def own_thresholds_file() -> Path:
    """Where the athlete's own thresholds lie on this machine."""
    return Path(platformdirs.user_config_path("rehearse", appauthor=False)) / _NAME


def _read(path: Path) -> dict[str, float]:
    names = [field.name for field in fields(Thresholds)]
    top = Reading(load_yaml(path), ("format", *names))
    top.check_format(FORMAT)
    values = {}
    for name in names:
        if not top.has(name):
            continue
        if name in _NUMBERS:
            values[name] = top.number(name, 0.0, *_NUMBERS[name])
        else:
            values[name] = top.value(name, _seconds, 0.0)
    top.finish()
    return values


def _seconds(text: str) -> float:
    length = parse_length(text)
    if length.in_counts:
        raise ValueError(f"{text!r} depends on the tempo; write seconds such as 2 s")
    if length.value > _LONGEST:
        raise ValueError(f"{text!r} is longer than any routine; write seconds such as 2 s")
    return length.value
