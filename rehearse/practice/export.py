"""The logbook as a table: for the terminal, as CSV for anything else."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from rehearse.practice.passes import Pass
from rehearse.practice.roundlog import CallDone, RoundDone
from rehearse.words import shown

HEADINGS = (
    "date", "time", "what", "from", "to", "tempo", "cues", "effort", "seconds", "complete",
    "verdict", "broke at", "dry run",
)  # fmt: skip
CUE_WORDS = {
    "all": "all cues",
    "names": "names on the hit",
    "counts": "counts only",
    "memory": "from memory",
}


_KIND_WORDS = {
    "turns": "quarter turns",
    "mandatories": "mandatory poses",
    "both": "turns, then poses",
    "random": "random calls",
}
ROUND_HEADINGS = (
    "date", "time", "round", "call-out", "called", "pose", "hold", "planned", "verdict",
    "lost at", "dry run",
)  # fmt: skip


def call_rows(rounds: Iterable[RoundDone]) -> list[tuple[str, ...]]:
    """One row of words a call of the comparison rounds, under `ROUND_HEADINGS`; in seconds."""
    return [_call_row(done, call) for done in rounds for call in done.calls]


def calls_to_csv(rounds: Iterable[RoundDone]) -> str:
    """The same as CSV (RFC 4180) with a heading line, ISO 8601 instants, and each round's id."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow((*ROUND_HEADINGS, "called at", "round id", "seed"))
    for done in rounds:
        for call in done.calls:
            more = (call.called.isoformat(), done.id, str(done.seed))
            writer.writerow((*_call_row(done, call), *more))
    return out.getvalue()


def table_rows(passes: Iterable[Pass]) -> list[tuple[str, ...]]:
    """One row of words a pass, under `HEADINGS`; positions and lengths in seconds."""
    return [_row(done) for done in passes]


def to_csv(passes: Iterable[Pass]) -> str:
    """The table as CSV (RFC 4180) with a heading line and ISO 8601 instants."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow((*HEADINGS, "started", "ended", "id", "section id", "transition id"))
    for done in passes:
        times = (done.started.isoformat(), done.ended.isoformat())
        writer.writerow((*_row(done), *times, done.id, done.section or "", done.transition or ""))
    return out.getvalue()


def format_table(rows: Iterable[tuple[str, ...]], headings: tuple[str, ...] = HEADINGS) -> str:
    """Columns set flush left under their headings, two spaces apart; ends with a newline.

    Tables are read by people, in their language; what is comma-separated is English in all.
    """
    lines = [tuple(map(shown, line)) for line in (headings, *rows)]
    widths = [max(len(line[k]) for line in lines) for k in range(len(headings))]
    lines = [tuple(map(_printable, line)) for line in lines]
    texts = (
        "  ".join(cell.ljust(w) for cell, w in zip(line, widths, strict=True)) for line in lines
    )
    return "".join(f"{text.rstrip()}\n" for text in texts)


def _printable(cell: str) -> str:
    """A name may hold what a terminal obeys, or a line of its own."""
    return "".join(letter if letter.isprintable() else " " for letter in cell)


def _call_row(done: RoundDone, call: CallDone) -> tuple[str, ...]:
    return (
        call.called.strftime("%Y-%m-%d"),
        call.called.strftime("%H:%M:%S"),
        _KIND_WORDS[done.kind],
        str(call.callout),
        call.said,
        call.pose,
        f"{call.hold:.1f}",
        f"{call.planned:.1f}",
        call.verdict or "",
        "" if call.lost_at is None else f"{call.lost_at:.1f}",
        "dry run" if done.dry_run else "",
    )


def _row(done: Pass) -> tuple[str, ...]:
    return (
        done.started.strftime("%Y-%m-%d"),
        done.started.strftime("%H:%M:%S"),
        done.what,
        f"{done.start:.2f}",
        f"{done.end:.2f}",
        f"{round(done.tempo * 100)} %",
        CUE_WORDS.get(done.cueing, done.cueing),
        done.effort,
        f"{(done.ended - done.started).total_seconds():.1f}",
        "yes" if done.complete else "broken off",
        done.verdict or "",
        "" if done.broke_at is None else f"{done.broke_at:.2f}",
        "dry run" if done.dry_run else "",
    )
