"""The checks of a routine folder as a report: a table to read, JSON for scripts."""

from __future__ import annotations

import json
import textwrap
from dataclasses import dataclass
from typing import Any

from rehearse.files.user_error import UserError
from rehearse.music.apart import load_mapped
from rehearse.routine.checks import Finding, Severity, check, load_thresholds
from rehearse.routine.folder import OpenedFolder
from rehearse.routine.poses import load_catalogue
from rehearse.routine.rules import RuleSet, load_rules
from rehearse.words import DECIMAL, _, ngettext, shown

_SIGNS = {Severity.FAULT: _("FAULT"), Severity.WARNING: _("warning"), Severity.HINT: _("hint")}
_WIDTH = 100


@dataclass(frozen=True)
class Report:
    """What the checks found in one routine.

    Args:
        title: of the routine. length: seconds on stage. poses: how many there are.
        rules: the set it was checked against.
        findings: faults first, then by place.
    """

    title: str
    length: float
    poses: int
    rules: RuleSet
    findings: tuple[Finding, ...]

    @property
    def has_fault(self) -> bool:
        """Whether anything is against the rules or cannot be done."""
        return any(f.severity is Severity.FAULT for f in self.findings)


def report(
    opened: OpenedFolder, rules: str | None = None, *, song: UserError | None = None
) -> Report:
    """Check an opened routine folder.

    Args:
        rules: key of a rule set to check against; None: the routine's own.
        song: what is wrong with its song (see `song_error`); None: nothing, or not looked at.

    Raises:
        UserError: no such rule set.
        UserErrors: an own rule set or own thresholds are damaged.
    """
    routine, beatmap = opened.routine, opened.beatmap
    chosen = load_rules(routine.rules if rules is None else rules, opened.folder)
    thresholds = load_thresholds(opened.folder)
    findings = check(routine, beatmap, load_catalogue(), chosen, thresholds)
    if song is not None:
        why = f"{song.where}: {song.what}" if song.where else song.what
        findings = (Finding("song", Severity.FAULT, why, song.do), *findings)
    length = routine.stage.length if routine.stage else beatmap.duration
    return Report(routine.title, length, len(routine.poses), chosen, findings)


def song_error(opened: OpenedFolder) -> UserError | None:
    """Why the song in the folder cannot be rehearsed to its beat map; None: it can.

    A song that is missing is none: the coach may have the folder without it.
    """
    song = opened.folder / opened.routine.track
    if not song.is_file():
        return None
    try:
        load_mapped(song, opened.beatmap)
    except UserError as error:
        return error
    return None


def as_table(report: Report) -> str:
    """The report as text: a head, one finding a paragraph, the rule set's origin."""
    rules = report.rules
    poses = ngettext("1 pose", "{number} poses", report.poses, number=report.poses)
    lines = [
        _(
            "{title}: {length:.1f} s, {poses}",
            title=report.title,
            length=report.length,
            poses=poses,
        ),
        _("Rules: {name}", name=shown(rules.name)),
        "",
    ]
    for finding in report.findings:
        head = f"{_SIGNS[finding.severity]:<8}{finding.place or '–':<9}"
        where = f"{shown(finding.pose)}: " if finding.pose else ""
        what = f"{where}{finding.why}"
        text = f"{what} – {finding.do}." if finding.do else f"{what}."
        indent = " " * len(head)
        lines += textwrap.wrap(head + text, _WIDTH, subsequent_indent=indent)
    if not report.findings and not report.poses:
        lines.append(_("Nothing to check yet: it has no pose."))
    elif not report.findings:
        lines.append(_("Nothing to say: no fault, no warning."))
    else:
        lines += ["", _sum(report)]
    told = [_("Remember: {text}.", text=shown(text)) for text in rules.remember]
    told += [_("Not confirmed: {text}.", text=shown(text)) for text in rules.unconfirmed]
    lines += ["", *(line for text in told for line in textwrap.wrap(text, _WIDTH))]
    lines += textwrap.wrap(
        _("Rule set: {origin}.", origin=rules.origin or shown(rules.name)), _WIDTH
    )
    lines.append(f"{shown(rules.note)[:1].upper()}{shown(rules.note)[1:]}.")
    return "\n".join(lines) + "\n"


def as_json(report: Report) -> str:
    """The report as JSON: `title`, `length_s`, `poses`, `rules`, `error`, `findings`."""
    rules = report.rules
    data: dict[str, Any] = {
        "title": report.title,
        "length_s": round(report.length, 3),
        "poses": report.poses,
        "rules": {
            "key": rules.key,
            "name": rules.name,
            "body": rules.body,
            "event": rules.event,
            "date": rules.date,
            "source": rules.source,
            "limit_s": rules.limit,
            "note": rules.note,
        },
        "fault": report.has_fault,
        "findings": [_finding(f) for f in report.findings],
    }
    return json.dumps(data, ensure_ascii=False, indent=2) + "\n"


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "kind": finding.kind,
        "severity": str(finding.severity),
        # Read by programs: with a point in every language.
        "place": finding.place.replace(DECIMAL, ".") or None,
        "time_s": round(finding.time, 3) if finding.time >= 0 else None,
        "pose": finding.pose or None,
        "id": finding.pose_id or None,
        "why": finding.why,
        "do": finding.do,
    }


def _sum(report: Report) -> str:
    faults, warnings, hints = (
        sum(f.severity is severity for f in report.findings)
        for severity in (Severity.FAULT, Severity.WARNING, Severity.HINT)
    )
    parts = (
        (faults, ngettext("{number} fault", "{number} faults", faults, number=faults)),
        (warnings, ngettext("{number} warning", "{number} warnings", warnings, number=warnings)),
        (hints, ngettext("{number} hint", "{number} hints", hints, number=hints)),
    )
    return ", ".join(words for number, words in parts if number) + "."
