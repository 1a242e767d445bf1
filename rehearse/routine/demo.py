"""The demo routine that comes with the program, copied to where it can be rehearsed and edited."""

from __future__ import annotations

import shutil
from pathlib import Path

from rehearse.files.atomic import appear, part_folder, user_error_of
from rehearse.files.locations import resource
from rehearse.routine.glance import glance
from rehearse.routine.start import free_name
from rehearse.routine.versions import ROUTINE

NAME = "Copper Lights"


def demo_source() -> Path:
    """Where the demo lies: inside an installed package, or beside it in a checkout.

    Raises:
        FileNotFoundError: the installation is incomplete.
    """
    try:
        return resource("demo")
    except FileNotFoundError:
        return resource("../demo/copper-lights")


def demo_folder(into: Path) -> Path:
    """The copy of the demo in `into`, made where there is none yet; it appears whole or not at all.

    Raises:
        UserError: it cannot be written there.
    """
    there = into / NAME
    if glance(there) is not None:
        return there
    try:
        into.mkdir(parents=True, exist_ok=True)
        scratch = part_folder(into, "demo")
        try:
            source = demo_source()
            for name in (ROUTINE, "beats.yaml", "track.ogg"):
                shutil.copyfile(source / name, scratch / name)
            scratch.chmod(0o755)
            folder = free_name(into, NAME)
            appear(scratch, folder)
            return folder
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
    except OSError as error:
        raise user_error_of(error, Path(error.filename or into)) from error
