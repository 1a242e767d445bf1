"""What is taken along: printed sheet, cue track, cue video, stage music, the zip for the coach."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any


def make_handout(
    folder: Path,
    kind: str,
    out: Path | str,
    options: Any = None,
    report: Callable[[float, str], None] | None = None,
) -> list[Path]:
    """Make one handout from a routine folder; also a job for a worker process.

    Args:
        folder: the routine's folder.
        kind: key of `options.KINDS`, but for the cue video, which needs a painter: see `make`.
        out: a folder, or the file to write.
        options: `HandoutOptions`, or parsed arguments with the same names.
        report: told how far it is (0..1 and words); may raise to stop.

    Returns:
        The files written.

    Raises:
        UserError: one sentence; nothing that was there before is lost.
    """
    from rehearse.handout.make import make

    return list(make(folder, kind, Path(out), options, report).paths)
