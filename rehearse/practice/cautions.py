"""The usual cautions where they belong: said once a day, never in the way of the music."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from rehearse.files.locations import resource
from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import load_yaml
from rehearse.music.beatmap import BeatMap
from rehearse.routine.model import Level, Routine
from rehearse.routine.poses import Catalogue
from rehearse.words import _

#: Seconds of hold from which the breath is worth a word; minutes that are a long session; days
#: before a show that count as its last week (all three common practice, no source).
LONG_HOLD, LONG_SESSION, LAST_WEEK = 5.0, 60.0, 7


@dataclass(frozen=True)
class Caution:
    """One caution: where it belongs (`when`), what it says, what it rests on."""

    key: str
    when: str
    text: str
    source: str


@lru_cache(maxsize=1)
def load_cautions() -> tuple[Caution, ...]:
    """The packaged cautions in their order.

    Raises:
        UserError: the file is damaged.
    """
    document = load_yaml(resource("cautions.yaml"))
    try:
        return tuple(Caution(**entry) for entry in document.data["cautions"])
    except (KeyError, TypeError) as error:
        raise UserError(_("is damaged"), where=document.path.name, do=_("install again")) from error


def stopped() -> Caution:
    """What is shown, and not said, after a stop for dizziness, cramp or pain."""
    return next(c for c in load_cautions() if c.when == "stopped")


def due(
    routine: Routine,
    beatmap: BeatMap,
    catalogue: Catalogue,
    *,
    minutes: float,
    today: date,
    seen: Collection[str] = (),
) -> tuple[Caution, ...]:
    """The cautions that belong before this session, without those seen.

    Args:
        minutes: how long the session is to be.
        seen: keys shown already: today, or for the first start ever.
    """
    places = {"first start"}
    if _longest_hold(routine, beatmap) >= LONG_HOLD:
        places.add("long hold")
    # The vacuum is done with the breath out: "keep breathing" would contradict it.
    if any(p.pose.startswith("vacuum") for p in routine.poses):
        places.add("vacuum")
    if any(_level(p.pose, p.level, catalogue) is not Level.STANDING for p in routine.poses):
        places.add("low pose")
    if minutes > LONG_SESSION:
        places |= {"long session", "loud"}
    if routine.show_date:
        days = (date.fromisoformat(routine.show_date) - today).days
        if 0 <= days <= LAST_WEEK:
            places.add("last week")
    return tuple(c for c in load_cautions() if c.when in places and c.key not in seen)


def due_for_round(longest: float, seen: Collection[str] = ()) -> tuple[Caution, ...]:
    """The cautions that belong before a comparison round, without those seen.

    Args:
        longest: seconds of its longest hold. seen: as for `due`.
    """
    places = {"first start", "round"}
    if longest >= LONG_HOLD:
        places.add("long hold")
    return tuple(c for c in load_cautions() if c.when in places and c.key not in seen)


def _longest_hold(routine: Routine, beatmap: BeatMap) -> float:
    breathed = (p for p in routine.poses if not p.pose.startswith("vacuum"))
    holds = (end - hit for _unused, hit, end in (p.times(beatmap) for p in breathed))
    return max(holds, default=0.0)


def _level(pose: str, own: Level | None, catalogue: Catalogue) -> Level:
    if own is not None:
        return own
    try:
        return catalogue.find(pose).level
    except KeyError:
        return Level.STANDING
