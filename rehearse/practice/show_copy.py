"""A routine used for another show: a copy of its folder that keeps poses, music and history.

The copy is a routine of its own, with its own name for the logbook, so that what is practised from
now on stays apart; all that was practised before is in both.
"""

from __future__ import annotations

import shutil
import sqlite3
import stat
from contextlib import closing
from dataclasses import replace
from pathlib import Path

from rehearse.files.atomic import appear, part_folder, sweep, user_error_of
from rehearse.files.user_error import UserError
from rehearse.practice.database import open_for_reading
from rehearse.practice.logbook import FILE_NAME
from rehearse.routine.folder import open_folder, save_changes
from rehearse.routine.model import Routine, new_id
from rehearse.routine.start import free_name
from rehearse.words import _
from rehearse.work.progress import Report


def copy_for_show(
    folder: Path, heading: Routine, into: Path, report: Report = lambda fraction, text: None
) -> Path:
    """Copy the routine in `folder` for the show of `heading`; returns the new folder.

    It is named after title and show, and appears whole or not at all; `folder` stays as it is.

    Args:
        heading: title, show, division, date and rules are taken from it, nothing else.
        into: where the new folder is put; made when missing.
        report: told how far it is; may raise to stop, then nothing is left behind.

    Raises:
        UserError: the routine cannot be opened, or the copy cannot be written.
    """
    routine = open_folder(folder).routine
    try:
        into.mkdir(parents=True, exist_ok=True)
        sweep(into)
        scratch = part_folder(into, "copying")
        try:
            _copy_files(folder, scratch, report)
            _copy_log(folder / FILE_NAME, scratch / FILE_NAME)
            _write_heading(scratch, routine, heading)
            scratch.chmod(0o755)
            target = free_name(into, " – ".join(filter(None, (heading.title, heading.show))))
            appear(scratch, target)
            return target
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
    except OSError as error:
        raise user_error_of(error, Path(error.filename or into)) from error


def _copy_files(folder: Path, scratch: Path, report: Report) -> None:
    """Every ordinary file, but the logbook, what is hidden, and whatever a link leads to."""
    files = [path for path in sorted(folder.rglob("*")) if _is_copied(folder, path)]
    for number, path in enumerate(files):
        report(0.95 * number / len(files), path.name)
        target = scratch / path.relative_to(folder)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, target, follow_symlinks=False)


def _is_copied(folder: Path, path: Path) -> bool:
    parts = path.relative_to(folder).parts
    if any(part.startswith(".") for part in parts) or parts[0].startswith(FILE_NAME):
        return False
    if any(parent.is_symlink() for parent in path.parents if parent.is_relative_to(folder)):
        return False
    return stat.S_ISREG(path.lstat().st_mode)


def _copy_log(source: Path, target: Path) -> None:
    """The whole logbook, even while passes are written to it; none where there is none."""
    if not source.exists():
        return
    try:
        with closing(open_for_reading(source)) as old, closing(sqlite3.connect(target)) as new:
            old.backup(new)
            new.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.Error as error:
        do = _("open the routine to mend it, then try again")
        raise UserError(_("the logbook cannot be read"), where=source.name, do=do) from error


def _write_heading(scratch: Path, routine: Routine, heading: Routine) -> None:
    made = replace(
        routine,
        title=heading.title,
        show=heading.show,
        division=heading.division,
        show_date=heading.show_date,
        rules=heading.rules,
        id=new_id() + new_id(),
    )
    save_changes(scratch, made, open_folder(scratch).beatmap, map_too=False)
    open_folder(scratch)
