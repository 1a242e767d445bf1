"""Runs checks and suggestions a moment after each edit, and does what they ask for."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from rehearse.files.user_error import UserError
from rehearse.practice.cautions import Caution, due
from rehearse.practice.habits import needed_where_late
from rehearse.practice.takelog import USUAL, TakeDone
from rehearse.routine.checks import Case, Finding, Severity, check, load_thresholds, make_case
from rehearse.routine.checks.finding import Kind, Rest, grouped
from rehearse.routine.model import Routine, new_id
from rehearse.routine.poses import load_catalogue
from rehearse.routine.remedy import Remedy, remedy
from rehearse.routine.rules import RuleSet, load_rules
from rehearse.routine.suggest import Suggestion, accept, suggest
from rehearse.ui.pages.routine.choreography import Choreography
from rehearse.ui.pages.routine.notes import Note
from rehearse.ui.workspace import Workspace
from rehearse.words import _, ngettext, place_text, shown

#: Milliseconds of rest after an edit before the routine is looked at.
REST = 150
SIGNS = {Severity.FAULT: "▲", Severity.WARNING: "△", Severity.HINT: "·"}

#: Poses that are suggested at least, where the music has counts for them.
BEGINNING = 6


class Findings(QObject):
    """What is to be said about the routine now.

    Signals:
        changed: `findings` or `suggestions` are others.
    """

    changed = Signal()

    def __init__(self, workspace: Workspace, choreography: Choreography) -> None:
        super().__init__()
        self._workspace, self._choreography = workspace, choreography
        self.findings: tuple[Finding, ...] = ()
        self.suggestions: tuple[Suggestion, ...] = ()
        self._opened: set[Kind] = set()
        self._filmed: dict[str, float] = {}
        self._folder: Path | None = None  # whose films are known
        self._rest = QTimer(self, singleShot=True, interval=REST)
        self._rest.timeout.connect(self.look)
        workspace.documentChanged.connect(self._follow)

    @Slot()
    def _follow(self) -> None:
        if self._workspace.folder != self._folder:
            self.ask_films()
        self._rest.start()

    def ask_films(self) -> None:
        """Ask the logbook what films show; where that is new the routine is looked at."""
        self._folder, logbook = self._workspace.folder, self._workspace.logbook
        if logbook is not None:
            logbook.ask(lambda book: book.takes(limit=2 * USUAL), self._take_films)

    def _take_films(self, takes: tuple[TakeDone, ...]) -> None:
        filmed = needed_where_late(takes)
        if filmed != self._filmed:
            self._filmed = filmed
            self._rest.start()

    @Slot()
    def look(self) -> None:
        """Look at the routine now."""
        self._rest.stop()
        routine, beatmap = self._workspace.routine, self._workspace.beatmap
        if routine is None or beatmap is None:
            self.findings, self.suggestions = (), ()
        else:
            known = load_catalogue()
            try:
                limits = load_thresholds(self._workspace.folder)
                rules = self._rules()
                self.findings = check(routine, beatmap, known, rules, limits, self._filmed)
                self.suggestions = suggest(routine, beatmap, known, limits, rules, least=BEGINNING)
            except UserError as error:
                self._workspace.errorRaised.emit(error.sentence)
        self.changed.emit()

    @property
    def looked(self) -> bool:
        """Whether there is anything that could be checked."""
        routine = self._workspace.routine
        return self._workspace.beatmap is not None and routine is not None and bool(routine.poses)

    @property
    def limit(self) -> float | None:
        """Seconds of the track at which the rules' time is over, where music goes on past it."""
        routine, beatmap = self._workspace.routine, self._workspace.beatmap
        if routine is None or beatmap is None or not any(f.kind == "length" for f in self.findings):
            return None
        limit = self._rules().limit
        start = routine.stage.start if routine.stage else 0.0
        return None if limit is None else start + limit

    @property
    def marked(self) -> dict[str, str]:
        """The worst said of each pose: "fault" or "warning"."""
        worst: dict[str, str] = {}
        for finding in self.findings:
            if finding.pose_id and finding.severity is not Severity.HINT:
                worst.setdefault(finding.pose_id, str(finding.severity))
        return worst

    def check_notes(self) -> tuple[Note, ...]:
        """The findings as notes, and the usual cautions after them."""
        cautions = tuple(Note("·", _("Caution"), shown(c.text)) for c in self._cautions())
        return self._finding_notes() + cautions

    @property
    def serious(self) -> int:
        """How many faults and warnings there are."""
        return sum(f.severity is not Severity.HINT for f in self.findings)

    def _finding_notes(self) -> tuple[Note, ...]:
        told = grouped(self.findings, self._opened)
        return tuple(_rest_note(f) if isinstance(f, Rest) else _finding_note(f) for f in told)

    def act_of(self, finding: Finding) -> str:
        """What Return does to a finding, in words."""
        better = self._remedy(finding)
        return better.words if better else _("Go to") if finding.time >= 0 else ""

    def _remedy(self, finding: Finding) -> Remedy | None:
        if self._workspace.routine is None or self._workspace.beatmap is None:
            return None
        try:
            return remedy(self._case(), finding)
        except (UserError, KeyError):  # rules or thresholds are at fault, which `look` has said
            return None

    def suggestion_notes(self) -> tuple[Note, ...]:
        """The suggestions as notes."""
        return tuple(
            Note(
                "+",
                f"{place_text(s.hit)} {s.words}",
                _sentence(
                    s.reason,
                    _("transition {transition}, hold {hold}", transition=s.transition, hold=s.hold),
                ),
                s,
                _("Apply   →: Try it"),
            )
            for s in self.suggestions
        )

    def take(self, note: Note) -> None:
        """Do what a note asks for; where that takes a choice, only go there."""
        if isinstance(note.data, Suggestion):
            self._take_suggestion(note.data)
        elif isinstance(note.data, Finding):
            self._take_finding(note.data)
        elif isinstance(note.data, Rest):
            self._opened.add((note.data.severity, note.data.kind))
            self.changed.emit()

    def _take_finding(self, finding: Finding) -> None:
        if finding.time >= 0:
            self._choreography.editor.cursor = finding.time
        if finding.pose_id:
            self._choreography.editor.select(finding.pose_id)
        better = self._remedy(finding)
        if better is not None:
            words = f"{shown(finding.pose)}: {better.words}" if finding.pose else better.words
            self._choreography.edit(words, lambda: better.routine)
        self.look()

    def _take_suggestion(self, suggestion: Suggestion) -> None:
        choreography, pose_id = self._choreography, suggestion.pose_id or new_id()
        name = suggestion.words
        choreography.edit(
            _("take {name} at {hit}", name=name, hit=suggestion.hit),
            lambda: accept(choreography.routine, choreography.beatmap, suggestion, pose_id=pose_id),
            select=pose_id,
        )
        self.look()

    def take_all(self) -> None:
        """Do what all suggestions say, as one step."""
        choreography, offers = self._choreography, self.suggestions
        if choreography.say_if_missing():
            return
        if not offers:
            self._workspace.notice.say(_("No more suggestions."))
            return

        def taken() -> Routine:
            routine = choreography.routine
            for suggestion in offers:
                routine = accept(routine, choreography.beatmap, suggestion)
            return routine

        number = len(offers)
        choreography.edit(
            ngettext("apply a suggestion", "apply {number} suggestions", number, number=number),
            taken,
        )
        self.look()

    def _cautions(self) -> tuple[Caution, ...]:
        routine, beatmap = self._workspace.routine, self._workspace.beatmap
        if routine is None or beatmap is None:
            return ()
        due_now = due(routine, beatmap, self._workspace.catalogue, minutes=0.0, today=date.today())
        return tuple(c for c in due_now if c.when in ("long hold", "low pose"))

    def _case(self) -> Case:
        choreography, limits = self._choreography, load_thresholds(self._workspace.folder)
        return make_case(
            *(choreography.routine, choreography.beatmap, load_catalogue(), self._rules(), limits),
            filmed=self._filmed,
        )

    def _rules(self) -> RuleSet:
        key = self._workspace.routine.rules if self._workspace.routine else ""
        try:
            return load_rules(key, self._workspace.folder)
        except UserError as error:
            self._workspace.errorRaised.emit(error.sentence)
            return load_rules("")


def _finding_note(finding: Finding) -> Note:
    head = " ".join(part for part in (finding.place, shown(finding.pose)) if part)
    text = _sentence(finding.why, finding.do)
    sign = SIGNS[finding.severity]
    return Note(
        sign,
        head or f"{shown(finding.kind)[:1].upper()}{shown(finding.kind)[1:]}",
        text,
        finding,
        None,
    )


def _rest_note(rest: Rest) -> Note:
    head = _("{number} more of the same: {kind}", number=len(rest.findings), kind=rest.kind)
    return Note(
        SIGNS[rest.severity], head, _("At {places}.", places=rest.places), rest, _("show them")
    )


def _sentence(why: str, do: str) -> str:
    text = f"{why[:1].upper()}{why[1:]}"
    return f"{text} – {do}." if do else f"{text}."
