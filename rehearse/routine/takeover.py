"""Two copies edited apart, brought together pose by pose.

Where both folders keep a common earlier save, each difference is known to be mine, theirs or
both's; only what they changed is offered as their wish.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from rehearse.files.atomic import fault_of, save_atomic
from rehearse.files.fault import Fault
from rehearse.files.yamlfile import parse_yaml
from rehearse.music.beatmap import BeatMap
from rehearse.routine.folder import Opened, read_save
from rehearse.routine.model import Placed, Routine
from rehearse.routine.pairing import pair
from rehearse.routine.rebase import rebase
from rehearse.routine.versions import ROUTINE, list_versions
from rehearse.routine.wording import changes

By = Literal["theirs", "mine", "both", "unknown"]


@dataclass(frozen=True)
class Offer:
    """One pose in which the copies differ.

    Args:
        mine, theirs: the pose in each copy, None where it lacks it; `theirs` already lies on my
            beat map.
        by: who changed it since the common save; "unknown" when there is none.
        text: what taking it over does, in words.
    """

    mine: Placed | None
    theirs: Placed | None
    by: By
    text: str

    @property
    def wanted(self) -> bool:
        """Whether it is theirs to propose: they changed it and I did not."""
        return self.by in ("theirs", "unknown")


def offers(
    mine: Routine, beatmap: BeatMap, theirs: Opened, common: Routine | None = None
) -> tuple[Offer, ...]:
    """Every pose in which their copy differs from mine, in the order of the music.

    Args:
        mine, beatmap: my routine and its map.
        theirs: the other copy; on a corrected map of the same song its poses keep their places.
        common: the last save both descend from (`common_save`), or None.
    """
    other = on_my_map(theirs, beatmap)
    found = []
    for ours, yours in pair(mine, other, beatmap):
        if ours is None or yours is None or _differ(ours, yours):
            by = _by(common, ours, yours)
            found.append(Offer(ours, yours, by, _text(ours, yours)))
    return tuple(found)


def take(routine: Routine, beatmap: BeatMap, chosen: Sequence[Offer], theirs: Opened) -> Routine:
    """`routine` with the chosen poses as they are in the other copy.

    A pose keeps my id, so that its history stays; own poses that come along are added.
    """
    poses = {p.id: p for p in routine.poses}
    for offer in chosen:
        if offer.theirs is None:
            if offer.mine is not None:
                poses.pop(offer.mine.id, None)
            continue
        name = offer.mine.id if offer.mine else offer.theirs.id
        poses[name] = replace(offer.theirs, id=name)
    known = {own.name for own in routine.own_poses}
    used = {placed.pose for placed in poses.values()}
    own = [o for o in theirs.routine.own_poses if o.name not in known and o.name in used]
    return replace(
        routine,
        poses=tuple(sorted(poses.values(), key=lambda p: beatmap.time_of(p.hit))),
        own_poses=tuple(sorted([*routine.own_poses, *own], key=lambda o: o.name)),
    )


def bring_pictures(routine: Routine, folder: Path, theirs: Opened) -> None:
    """Copy the pictures of own poses that came along; a picture of mine is never written over.

    Raises:
        Fault: the folder cannot be written.
    """
    for own in routine.own_poses:
        source, target = theirs.folder / own.picture, folder / own.picture
        if not own.picture or target.exists() or not source.is_file():
            continue
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            save_atomic(target, source.read_bytes())
        except OSError as error:
            raise fault_of(error, target) from error


def on_my_map(theirs: Opened, beatmap: BeatMap) -> Routine:
    """Their routine with its counts written for my map of the song.

    Raises:
        Fault: theirs is made to another song.
    """
    if theirs.beatmap.track_hash != beatmap.track_hash:
        raise Fault(
            "this copy is made to another song", where=theirs.folder, do="choose a copy of yours"
        )
    return rebase(theirs.routine, theirs.beatmap, beatmap)


def common_save(mine: Path, theirs: Path, beatmap: BeatMap) -> Routine | None:
    """The newest save that both folders hold, read against `beatmap`; None when there is none."""
    saves = set(_saves(theirs))
    for data in _saves(mine):
        if data in saves:
            try:
                return read_save(parse_yaml(data, mine / ROUTINE), mine, beatmap)
            except Fault:
                continue
    return None


def _saves(folder: Path) -> list[bytes]:
    """The present routine and its earlier saves, newest first."""
    paths = [folder / ROUTINE, *(v.path for v in list_versions(folder))]
    return [path.read_bytes() for path in paths if path.is_file()]


def _by(common: Routine | None, mine: Placed | None, theirs: Placed | None) -> By:
    if common is None:
        return "unknown"
    name = (mine or theirs).id  # type: ignore[union-attr]
    base = next((p for p in common.poses if p.id == name), None)
    if theirs is not None and base is not None:
        theirs = replace(theirs, id=base.id)
    if mine == base:
        return "theirs"
    return "mine" if theirs == base else "both"


def _differ(mine: Placed, theirs: Placed) -> bool:
    return replace(theirs, id=mine.id) != mine


def _text(mine: Placed | None, theirs: Placed | None) -> str:
    if mine is None or theirs is None:
        return _one_sided(mine, theirs)
    words = list(changes(mine, theirs))
    if mine.hit != theirs.hit:
        words.insert(0, f"moved from {mine.hit} to {theirs.hit}")
    return (
        f"{mine.pose} {', '.join(words)}" if len(words) == 1 else f"{mine.pose}: {', '.join(words)}"
    )


def _one_sided(mine: Placed | None, theirs: Placed | None) -> str:
    if theirs is not None:
        return f"{theirs.pose} added at {theirs.hit}"
    return f"{mine.pose} taken out at {mine.hit}" if mine is not None else ""
