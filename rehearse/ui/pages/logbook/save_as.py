"""Saving the logbook for elsewhere: every pass as a table, the page as a picture."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtWidgets import QWidget

from rehearse.files.atomic import save_atomic
from rehearse.files.user_error import UserError
from rehearse.practice.export import calls_to_csv, to_csv
from rehearse.practice.logbook import Logbook
from rehearse.ui import file_dialog
from rehearse.ui.workspace import Workspace
from rehearse.words import _


def save_table(workspace: Workspace, path: Path) -> None:
    """Write every pass, dry runs marked, as CSV; what keeps it from being written is told."""
    assert workspace.logbook is not None
    workspace.logbook.ask(lambda book: _write_table(book, path), lambda _done: None)


def save_calls(workspace: Workspace, path: Path) -> None:
    """Write every call of the comparison rounds, dry runs marked, as CSV."""
    assert workspace.logbook is not None

    def write(book: Logbook) -> None:
        save_atomic(path, calls_to_csv(book.rounds()).encode("utf-8", "replace"))

    workspace.logbook.ask(write, lambda _done: None)


def _write_table(book: Logbook, path: Path) -> None:
    save_atomic(path, to_csv(book.history(taken=False)).encode("utf-8", "replace"))


def ask_and_save(
    parent: QWidget, workspace: Workspace, name: str, kind: str, write: Callable[[Path], None]
) -> None:
    """Ask for a place, proposing `name` beside the routine's folder, and write there."""
    start = str((workspace.folder or Path()).parent / name)
    chosen = file_dialog.save_file(parent, _("Save the logbook"), start, kind)
    if not chosen:
        return
    path = Path(chosen)
    try:
        write(path if path.suffix else path.with_suffix(Path(name).suffix))
    except UserError as error:
        workspace.errorRaised.emit(error.sentence)
