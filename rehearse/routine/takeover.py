"""Two copies edited apart, brought together pose by pose and piece by piece.

Where both folders keep a common earlier save, each difference is known to be mine, theirs or
both's; only what they changed is offered as their wish.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from rehearse.files.door import read_file
from rehearse.files.fault import Fault
from rehearse.files.yamlfile import MAX_BYTES, parse_yaml
from rehearse.music.beatmap import BeatMap
from rehearse.routine.folder import Opened, read_save
from rehearse.routine.model import Placed, Routine
from rehearse.routine.pairing import pair
from rehearse.routine.pictures import bring_pictures
from rehearse.routine.pieces import Piece, piece_in, pieces, put_piece
from rehearse.routine.rebase import rebase
from rehearse.routine.rules import bring_rules
from rehearse.routine.versions import ROUTINE, list_versions
from rehearse.routine.wording import changes

By = Literal["theirs", "mine", "both", "unknown"]


@dataclass(frozen=True)
class Offer:
    """One pose, or one other piece, in which the copies differ.

    Args:
        mine, theirs: the pose in each copy, None where it lacks it; `theirs` already lies on my
            beat map. Both None: it is no pose.
        by: who changed it since the common save; "unknown" when there is none.
        text: what taking it over does, in words.
        piece: the heading, section or own pose it is; None: a pose.
    """

    mine: Placed | None
    theirs: Placed | None
    by: By
    text: str
    piece: Piece | None = None

    @property
    def wanted(self) -> bool:
        """Whether it is theirs to propose: they changed it and I did not."""
        return self.by in ("theirs", "unknown")

    @property
    def label(self) -> str:
        """What it is about, in a few words."""
        if self.piece is not None:
            return self.piece.label
        placed = self.theirs or self.mine
        return f"{placed.hit} {placed.pose}" if placed else ""


def offers(
    mine: Routine, beatmap: BeatMap, theirs: Opened, common: Routine | None = None
) -> tuple[Offer, ...]:
    """Everything in which their copy differs from mine: poses in the order of the music, then
    headings, sections and own poses.

    Args:
        mine, beatmap: my routine and its map.
        theirs: the other copy; on a corrected map of the same song its poses keep their places.
        common: the last save both descend from (`common_save`), or None.
    """
    other = on_my_map(theirs, beatmap)
    found = []
    for ours, yours in pair(mine, other, beatmap):
        if ours is None or yours is None or _differ(ours, yours):
            by = _by_pose(common, ours, yours)
            found.append(Offer(ours, yours, by, _text(ours, yours)))
    for piece in pieces(mine, other):
        if piece.name != "track":  # the same song may be called otherwise there
            found.append(Offer(None, None, _by_piece(common, piece), piece.text, piece))
    return tuple(found)


def take(routine: Routine, beatmap: BeatMap, chosen: Sequence[Offer], theirs: Opened) -> Routine:
    """`routine` with the chosen poses and pieces as they are in the other copy.

    A pose keeps my id, so that its history stays; own poses that come along are added. An own
    pose that the routine still shows is not taken out.
    """
    poses = {p.id: p for p in routine.poses}
    for offer in chosen:
        if offer.theirs is not None:
            name = offer.mine.id if offer.mine else offer.theirs.id
            poses[name] = replace(offer.theirs, id=name)
        elif offer.mine is not None:
            poses.pop(offer.mine.id, None)
    known = {own.name for own in routine.own_poses}
    used = {placed.pose for placed in poses.values()}
    own = [o for o in theirs.routine.own_poses if o.name not in known and o.name in used]
    taken = replace(
        routine,
        poses=tuple(sorted(poses.values(), key=lambda p: beatmap.time_of(p.hit))),
        own_poses=tuple(sorted([*routine.own_poses, *own], key=lambda o: o.name)),
    )
    for offer in chosen:
        if offer.piece is not None:
            taken = put_piece(taken, beatmap, offer.piece)
    return taken


def bring_files(routine: Routine, folder: Path, theirs: Opened) -> None:
    """Copy from the other folder what `routine` now needs of it: pictures and its rule set.

    Raises:
        Fault: the folder cannot be written.
    """
    bring_pictures(routine.own_poses, theirs.folder, folder)
    bring_rules(routine.rules, theirs.folder, folder)


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
    return [read_file(path, MAX_BYTES) for path in paths if path.is_file()]


def _by_pose(common: Routine | None, mine: Placed | None, theirs: Placed | None) -> By:
    if common is None:
        return "unknown"
    name = (mine or theirs).id  # type: ignore[union-attr]
    base = next((p for p in common.poses if p.id == name), None)
    return _by(base, mine, theirs)


def _by_piece(common: Routine | None, piece: Piece) -> By:
    if common is None:
        return "unknown"
    return _by(piece_in(common, piece), piece.old, piece.new)


def _by(base: Any, mine: Any, theirs: Any) -> By:
    if mine == base:
        return "theirs"
    if theirs is not None and base is not None and hasattr(theirs, "id"):
        theirs = replace(theirs, id=base.id)
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
