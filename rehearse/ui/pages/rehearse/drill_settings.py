"""What is to be done with the chosen stretch: loop it, raise its tempo, or run it through."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from rehearse.music.position import Length
from rehearse.practice.drill import FASTEST, SLOWEST, Drill, TempoSteps, fixed
from rehearse.practice.passes import Cueing, Effort
from rehearse.practice.runthrough import RunThrough
from rehearse.practice.scope import Scope
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.practice.passplan import Work

#: The ways to rehearse, in the order offered, with their words.
WAYS = {"loop": _("Loop"), "steps": _("Tempo steps"), "run": _("Run-through")}


@dataclass(frozen=True)
class DrillSettings:
    """All that can be set; each way uses its own part.

    Args:
        way: "loop", "steps" or "run".
        percent: tempo of a loop or a run, in steps of 5 from 40 to 100 (105).
        first, top, up, after, down: the tempo steps, as in `TempoSteps`.
        passes: complete passes after which it ends; 0: until it is stopped.
        clean: clean passes in a row at the top tempo after which the steps end; 0: never.
        count_in: counts. rest: seconds.
        cueing: how much is shown and said. effort: of a run. alternate: cued and uncued in turn.
        runs: how many.
    """

    way: str = "loop"
    percent: int = 100
    first: int = 60
    top: int = 100
    up: int = 5
    after: int = 2
    down: int = 5
    passes: int = 0
    clean: int = 2
    count_in: int = 4
    rest: int = 0
    cueing: Cueing = "all"
    effort: Effort = "full out"
    alternate: bool = False
    runs: int = 1

    def work(self, scope: Scope) -> Work:
        """The work this makes of `scope`."""
        rest = Length(float(self.rest), in_counts=False)
        if self.way == "run":
            return RunThrough(
                scope,
                self.effort,
                self.cueing,
                self.alternate,
                self.runs,
                self.percent,
                self.count_in,
                rest,
            )
        steps = fixed(self.percent)
        if self.way == "steps":
            top = max(self.first, self.top)
            steps = TempoSteps(self.first, self.up, self.after, self.down, top)
        return Drill(
            scope,
            steps,
            self.count_in,
            rest,
            self.passes or None,
            (self.clean or None) if self.way == "steps" else None,
            self.cueing,
        )

    def stepped(self, by: int) -> DrillSettings:
        """The same at another tempo, in percent, kept within 40–105."""
        if self.way == "steps":
            return replace(self, first=_within(self.first + by))
        return replace(self, percent=_within(self.percent + by))


@dataclass(frozen=True)
class WaySettings:
    """What is set for each way by itself: the tempo of a loop is no tempo for a run.

    Args:
        way: the one chosen.
    """

    way: str = "loop"
    loop: DrillSettings = DrillSettings(way="loop")
    steps: DrillSettings = DrillSettings(way="steps")
    run: DrillSettings = DrillSettings(way="run")

    @property
    def now(self) -> DrillSettings:
        """That of the way chosen."""
        return self.of(self.way)

    def of(self, way: str) -> DrillSettings:
        """That of one way."""
        drill_settings: DrillSettings = getattr(self, way)
        return drill_settings

    def changed(self, drill_settings: DrillSettings) -> WaySettings:
        """With another choice, its way chosen."""
        changes: dict[str, Any] = {"way": drill_settings.way, drill_settings.way: drill_settings}
        return replace(self, **changes)


def dump_settings(way_settings: WaySettings) -> str:
    """As text for the settings."""
    return json.dumps(asdict(way_settings))


def load_settings(text: str) -> WaySettings:
    """From the settings; what cannot be read there is as at first."""
    try:
        stored = json.loads(text)
        made = {way: _drill_settings(way, stored.get(way)) for way in WAYS}
        way = stored.get("way")
    except (ValueError, TypeError, AttributeError, RecursionError):
        return WaySettings()
    return WaySettings(way if way in WAYS else "loop", **made)


def _drill_settings(way: str, stored: Any) -> DrillSettings:
    first = DrillSettings(way=way)
    try:
        known = {k: v for k, v in stored.items() if k in asdict(first)}
        drill_settings = DrillSettings(**{**known, "way": way})
        if any(type(v) is not type(getattr(first, k)) for k, v in known.items()):
            return first
        drill_settings.work(
            Scope("whole", "", "", 0.0, 1.0)
        )  # refuses numbers that it cannot work with
    except (ValueError, TypeError, AttributeError):
        return first
    return drill_settings


def _within(percent: int) -> int:
    return min(FASTEST, max(SLOWEST, percent))
