"""The athlete's own photos of poses, kept in the routine's folder."""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from pathlib import Path

from rehearse.files.atomic import fault_of, save_atomic
from rehearse.routine.model import OwnPose

#: Folder of the photos in the routine's folder.
PICTURES = "pictures"
#: A file name has at most 255 bytes, a letter up to four.
_LONGEST = 40


def keep_picture(folder: Path, photo: Path, name: str) -> str:
    """Copy a photo of the pose `name` into the routine's folder; its path in there.

    A picture that is there already is never written over: earlier saves may show it.

    Raises:
        Fault: the photo cannot be read, or the folder cannot be written.
    """
    plain = "".join(c if c.isalnum() else "-" for c in name)[:_LONGEST]
    inside, suffix = folder / PICTURES, photo.suffix.lower()
    target, number = inside / f"{plain}{suffix}", 2
    try:
        inside.mkdir(exist_ok=True)
        while target.exists():
            target, number = inside / f"{plain}-{number}{suffix}", number + 1
        shutil.copyfile(photo, target)
    except OSError as error:
        raise fault_of(error, inside) from error
    return f"{PICTURES}/{target.name}"


def bring_pictures(own_poses: Iterable[OwnPose], source: Path, folder: Path) -> None:
    """Copy the pictures these poses have in another routine's folder into this one.

    A picture that is there already is never written over.

    Raises:
        Fault: the folder cannot be written.
    """
    for own in own_poses:
        there, here = source / own.picture, folder / own.picture
        if not own.picture or here.exists() or not there.is_file():
            continue
        try:
            here.parent.mkdir(parents=True, exist_ok=True)
            save_atomic(here, there.read_bytes())
        except OSError as error:
            raise fault_of(error, here) from error
