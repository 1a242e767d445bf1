"""What can be rehearsed, with how often and how lately it was: the model of the page's list.

The standings are read on the logbook's own thread.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from rehearse.practice.drill import moves_scope
from rehearse.practice.scope import Scope, section_scope, spots_of, transition_scope, whole_scope
from rehearse.practice.summary import Standing, Summary, summarise
from rehearse.routine.rounds import KINDS
from rehearse.ui.empty import NO_POSE, missing
from rehearse.ui.workspace import Workspace
from rehearse.words import _, ngettext

if TYPE_CHECKING:
    from rehearse.practice.logbook import Logbook

Called = dict[str, tuple[int, datetime]]
Found = tuple[Summary | None, dict[str, int], Called]

_CALLED = "SELECT kind, count(*), max(started) FROM rounds WHERE NOT dry_run GROUP BY kind"


class StandingsReader(QObject):
    """The standings of the open routine as they were at the last answer.

    Attributes:
        summary: None until the first answer. drilled: complete drills of each section today, by id.
        called: how often each kind of round was called, and when last.

    Signals:
        changed: the logbook has answered.
    """

    changed = Signal()

    def __init__(self, workspace: Workspace, parent: QObject) -> None:
        super().__init__(parent)
        self._workspace = workspace
        self._number = 0
        self.summary: Summary | None = None
        self.drilled: dict[str, int] = {}
        self.called: Called = {}
        workspace.leaving.connect(self.forget)

    @Slot()
    def refresh(self) -> None:
        """Ask the logbook; only the newest question is answered."""
        workspace = self._workspace
        routine, beatmap, keeper = workspace.routine, workspace.beatmap, workspace.logbook
        self._number += 1
        if routine is None or keeper is None:
            return
        number, today = self._number, datetime.now().astimezone().date()

        def read(book: Logbook) -> Found | None:
            if number != self._number:
                return None
            called = {
                str(kind): (int(count), datetime.fromtimestamp(last).astimezone())
                for kind, count, last in book.db.execute(_CALLED)
            }
            if beatmap is None or not beatmap.duration:
                return None, {}, called
            summary = summarise(book, routine, spots_of(routine, beatmap), today)
            rows = book.db.execute(
                "SELECT item, sum(passes) FROM tally WHERE kind = 'section' AND day = ?"
                " GROUP BY item",
                (today.isoformat(),),
            )
            return summary, {str(item): int(passes) for item, passes in rows}, called

        keeper.ask(read, lambda found: self._take(number, found))

    def _take(self, number: int, found: Found | None) -> None:
        if found is not None and number == self._number:
            self.summary, self.drilled, self.called = found
            self.changed.emit()

    @Slot()
    def forget(self) -> None:
        """Nothing is known any more, and no answer under way is taken."""
        self._number += 1
        self.summary, self.drilled, self.called = None, {}, {}


@dataclass(frozen=True)
class DrillRow:
    """One line of the list: what is drilled and what the logbook says of it."""

    scope: Scope
    standing: Standing

    @property
    def words(self) -> str:
        """How often and when last, in words."""
        if self.scope.kind == "moves":
            return _("its transitions in turn, moves said")
        standing, now = self.standing, datetime.now().astimezone()
        return drilled_words(standing.passes, standing.last, now, run=self.scope.kind == "whole")


@dataclass(frozen=True)
class RoundRow(DrillRow):
    """One kind of comparison round; `standing` counts how often it was called."""

    @property
    def words(self) -> str:
        """How often and when last, in words."""
        standing = self.standing
        if standing.last is None:
            return _("not called yet")
        number = standing.passes
        many = ngettext("{number} round", "{number} rounds", number, number=number)
        return _("{many}, last {when}", many=many, when=_when(standing.last))


def round_lines(called: dict[str, tuple[int, datetime]]) -> tuple[DrillRow, ...]:
    """The kinds of round; `called` says how often each was, and when last."""
    lines = []
    for kind, name in KINDS.items():
        passes, last = called.get(kind, (0, None))
        standing = Standing("round", kind, name, passes=passes, last=last)
        lines.append(RoundRow(Scope("round", kind, name, 0.0, 1.0), standing))
    return tuple(lines)


def drilled_words(passes: int, last: datetime | None, now: datetime, *, run: bool = False) -> str:
    """ "12 passes, last today 18:04": how often and when last; of the whole its runs count."""
    if last is None or passes == 0:
        return _("no run yet") if run else _("not drilled yet")
    if run:
        many = ngettext("{number} run", "{number} runs", passes, number=passes)
    else:
        many = ngettext("{number} pass", "{number} passes", passes, number=passes)
    return _("{many}, last {when}", many=many, when=_when(last, now))


def _when(last: datetime, now: datetime | None = None) -> str:
    """How long ago: "today 18:04", "3 days ago"."""
    now = now or datetime.now().astimezone()
    days = max(0, (now.date() - last.date()).days)  # a clock may have been set back
    clock = f"{last:%H:%M}"
    if days > 1:
        return _("{days} days ago", days=days)
    return _("yesterday {clock}", clock=clock) if days else _("today {clock}", clock=clock)


def lines_of(
    workspace: Workspace, summary: Summary | None, *, transitions: bool
) -> tuple[DrillRow, ...]:
    """The whole routine, then its sections or its transitions; empty where it lacks its music.

    Args:
        summary: what the logbook says of them, as far as it has answered.
    """
    routine, beatmap = workspace.routine, workspace.beatmap
    if routine is None or beatmap is None or missing(workspace) not in ("", NO_POSE):
        return ()
    spots = spots_of(routine, beatmap)
    whole = whole_scope(routine, beatmap)
    lines = [DrillRow(whole, summary.whole if summary else Standing("run", "", whole.name))]
    if transitions:
        scopes = [transition_scope(routine, beatmap, spot.pose) for spot in spots]
        known = _known(summary.transitions if summary else ())
    else:
        scopes = []
        for section in routine.sections:
            scopes.append(section_scope(routine, beatmap, section.id))
            if moves := moves_scope(routine, beatmap, section.id):
                scopes.append(moves)
        known = _known(summary.sections if summary else ())
    for scope in scopes:
        mine = known.get(scope.item) if scope.kind != "moves" else None
        standing = mine or Standing(scope.kind, scope.item, scope.name)
        lines.append(DrillRow(scope, standing))
    return tuple(lines)


def _known(standings: tuple[Standing, ...]) -> dict[str, Standing]:
    return {standing.item: standing for standing in standings if not standing.gone}
