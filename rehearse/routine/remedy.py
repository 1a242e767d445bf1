"""Does what a finding asks for, where that is one clear edit."""

from __future__ import annotations

import math
from collections.abc import Callable

from rehearse.music.position import Length
from rehearse.routine import edits
from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity
from rehearse.routine.checks.transitions import change_between
from rehearse.routine.model import Routine, StagePart
from rehearse.routine.shown import Shown
from rehearse.routine.snapping import Snap, snap

#: What taking a finding of a kind does, in words.
ACTS = {
    "length": "end it in time",
    "hold": "hold it longer",
    "transition": "begin earlier",
    "overlap": "shorten the hold",
    "accent": "onto the accent",
    "off the beat": "onto the beat",
    "outside": "shorten the hold",
}


def act_of(finding: Finding) -> str:
    """What `remedy` does to a finding, in words; empty where there is no single way."""
    outside = finding.kind == "outside" and finding.severity is Severity.FAULT
    return "" if outside else ACTS.get(finding.kind, "")


def remedy(case: Case, finding: Finding) -> Routine | None:
    """The routine with the finding put right; None when there is no single way to do it.

    Args:
        case: the routine laid out as for the checks. finding: one of its findings.
    """
    if finding.kind == "length":
        return _in_time(case)
    known = [k for k, shown in enumerate(case.shown) if shown.placed.id == finding.pose_id]
    act = _ACTS.get(finding.kind)
    return act(case, known[0]) if known and act else None


def _in_time(case: Case) -> Routine | None:
    limit, stage = case.rules.limit, case.stage
    if limit is None or stage.length <= limit:
        return None
    shorter = StagePart(stage.start, stage.start + limit, stage.fade_in, stage.fade_out)
    return edits.set_stage(case.routine, case.beatmap, shorter)


def _hold_longer(case: Case, index: int) -> Routine:
    shown = case.shown[index]
    missing = case.thresholds.shortest_hold - (shown.end - shown.hit)
    hold = _longer(case, shown.placed.hold, shown.end, missing)
    return edits.change(case.routine, case.beatmap, shown.placed.id, hold=hold)


def _begin_earlier(case: Case, index: int) -> Routine | None:
    if index == 0:
        return None
    shown = case.shown[index]
    _, needed = change_between(case.shown[index - 1], shown, case.thresholds)
    missing = needed - (shown.hit - shown.start)
    way = _longer(case, shown.placed.transition, shown.start, missing)
    return edits.change(case.routine, case.beatmap, shown.placed.id, transition=way)


def _shorten_before(case: Case, index: int) -> Routine | None:
    if index == 0:
        return None
    before, shown = case.shown[index - 1], case.shown[index]
    end = shown.start if shown.start > before.hit else shown.hit
    return _end_at(case, before, end) if end > before.hit else None


def _shorten(case: Case, index: int) -> Routine | None:
    shown = case.shown[index]
    end = min(case.stage.end, case.beatmap.duration)
    return _end_at(case, shown, end) if shown.hit < end else None


def _onto_accent(case: Case, index: int) -> Routine:
    shown = case.shown[index]
    hit = snap(case.beatmap, shown.hit, Snap.ACCENTS)
    return edits.move_to(case.routine, case.beatmap, shown.placed.id, hit)


def _onto_beat(case: Case, index: int) -> Routine:
    shown = case.shown[index]
    hit = snap(case.beatmap, shown.hit, Snap.HALVES)
    return edits.move_to(case.routine, case.beatmap, shown.placed.id, hit)


_ACTS: dict[str, Callable[[Case, int], Routine | None]] = {
    "hold": _hold_longer,
    "transition": _begin_earlier,
    "overlap": _shorten_before,
    "outside": _shorten,
    "accent": _onto_accent,
    "off the beat": _onto_beat,
}


def _longer(case: Case, length: Length, time: float, seconds: float) -> Length:
    """`length` at least `seconds` longer: by half counts, or by tenths of a second."""
    index = case.beatmap.beat_at(time)
    if not length.in_counts or index is None:
        return Length(length.value + math.ceil(seconds * 10 - 1e-6) / 10, length.in_counts)
    halves = math.ceil(seconds / case.beatmap.interval(index) * 2 - 1e-6)
    return Length(length.value + halves / 2)


def _end_at(case: Case, shown: Shown, end: float) -> Routine:
    counts = case.beatmap.counts_between(shown.hit, end)
    if shown.placed.hold.in_counts and counts is not None:
        hold = Length(math.floor(counts * 4 + 1e-6) / 4)
    else:
        hold = Length(math.floor((end - shown.hit) * 1000) / 1000, in_counts=False)
    return edits.change(case.routine, case.beatmap, shown.placed.id, hold=hold)
