"""What every check looks at: the routine laid out in seconds, its rules, and the thresholds.

Thresholds are data: packaged, the athlete's own, the routine's own.
"""

from __future__ import annotations

import math
import os
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path

import platformdirs

from rehearse.files.door import path_inside
from rehearse.files.locations import resource
from rehearse.files.mapping_reader import MappingReader
from rehearse.files.yamlfile import load_yaml
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Count, Length, parse_length
from rehearse.routine.model import Routine, StagePart
from rehearse.routine.poses import Catalogue
from rehearse.routine.rules import RuleSet
from rehearse.routine.timed_pose import TimedPose, lay_out
from rehearse.words import _, place_text

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
        UserErrors: an own file is damaged; all its faults.
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
    top = MappingReader(load_yaml(path), ("format", *names))
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
        raise ValueError(_("{text!r} depends on the tempo; write seconds such as 2 s", text=text))
    if length.value > _LONGEST:
        raise ValueError(
            _("{text!r} is longer than any routine; write seconds such as 2 s", text=text)
        )
    return length.value


@dataclass(frozen=True)
class Case:
    """A routine laid out for the checks.

    Args:
        catalogue: the poses without the routine's own ones.
        stage: its part on stage, the whole track where none is chosen.
        timed_poses: its poses by their hits.
        filmed: seconds that the way into a pose took on film, by the id of each pose that came
            late there again and again.
    """

    routine: Routine
    beatmap: BeatMap
    catalogue: Catalogue
    rules: RuleSet
    thresholds: Thresholds
    stage: StagePart
    timed_poses: tuple[TimedPose, ...]
    filmed: Mapping[str, float] = field(default_factory=dict)

    def counts_for(self, time: float, seconds: float) -> str:
        """At least `seconds` at `time` as a length to write: `2 counts`, or `0.8 s`."""
        index = self.beatmap.beat_at(time)
        if index is None:
            return _("{time:g} s", time=math.ceil(seconds * 10 - 1e-06) / 10)
        counts = math.ceil(seconds / self.beatmap.interval(index) * 2 - 1e-6) / 2
        return _("half a count") if counts == 0.5 else place_text(Length(counts))

    def place(self, time: float) -> str:
        """A time as the nearest half count, or seconds in free time."""
        index = self.beatmap.beat_at(time)
        if index is None:
            return _("{time:.2f} s", time=time)
        half = round((time - self.beatmap.beats[index]) / self.beatmap.interval(index) * 2)
        if half == 2 and index + 1 < len(self.beatmap.beats):
            index, half = index + 1, 0
        count = self.beatmap.counts[index]
        return str(Count(count.eight, count.count, min(half, 1) * 2))


def make_case(
    routine: Routine,
    beatmap: BeatMap,
    catalogue: Catalogue,
    rules: RuleSet,
    thresholds: Thresholds,
    filmed: Mapping[str, float] | None = None,
) -> Case:
    """Lay `routine` out; `filmed` as of `Case`.

    Raises:
        KeyError: a pose is in neither catalogue nor own poses, or a count not in the map.
    """
    known = catalogue.with_own(routine.own_poses) if routine.own_poses else catalogue
    timed_poses = lay_out(routine, beatmap, known)
    stage = routine.stage or StagePart(0.0, beatmap.duration)
    return Case(routine, beatmap, catalogue, rules, thresholds, stage, timed_poses, filmed or {})
