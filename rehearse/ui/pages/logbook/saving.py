"""Saving the logbook for elsewhere: every pass as a table, the page as a picture."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QWidget

from rehearse.files.atomic import save_atomic
from rehearse.files.fault import Fault
from rehearse.practice.export import to_csv
from rehearse.ui.desk import Desk


def save_table(desk: Desk, path: Path) -> None:
    """Write every pass, dry runs marked, as CSV.

    Raises:
        Fault: it could not be written.
    """
    save_atomic(path, to_csv(desk.logbook.history(taken=False)).encode())


def ask_and_save(
    parent: QWidget, desk: Desk, name: str, kind: str, write: Callable[[Path], None]
) -> None:
    """Ask for a place, proposing `name` beside the routine's folder, and write there."""
    start = str((desk.folder or Path()).parent / name)
    chosen, _ = QFileDialog.getSaveFileName(parent, "Save the logbook", start, kind)
    if not chosen:
        return
    path = Path(chosen)
    try:
        write(path if path.suffix else path.with_suffix(Path(name).suffix))
    except Fault as fault:
        desk.faultRaised.emit(fault.sentence)
