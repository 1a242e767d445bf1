"""Making the stage version of parts of the song: versions within the limit, or parts by hand.

The song is listened to in a worker; versions appear in the list, the chosen one on the wave. What
is changed by hand is a draft with steps of its own: the routine changes when the cut is used, in
one step.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

from PySide6.QtCore import QEvent, QSignalBlocker, Slot
from PySide6.QtGui import QKeyEvent, QKeySequence

from rehearse.files.user_error import UserError
from rehearse.music.beatmap import Stretch
from rehearse.music.cut import Cut
from rehearse.music.cutedit import part_at
from rehearse.music.joins import Joiner
from rehearse.music.track import Track
from rehearse.routine.cutting import (
    CutResult,
    Listened,
    Source,
    listen_to,
    load_source,
    make_cut,
    source_of,
    versions_again,
    with_cut,
    with_whole_song,
)
from rehearse.routine.follow import told_aside
from rehearse.routine.model import Routine
from rehearse.routine.rules import load_rules
from rehearse.ui import actions
from rehearse.ui.bindings import Bindings, Slots
from rehearse.ui.flows.cut_draft import Draft, Drafts
from rehearse.ui.flows.cut_form import CutForm
from rehearse.ui.flows.cut_layer import CutLayer
from rehearse.ui.flows.cut_playback import CutPlayback
from rehearse.ui.flows.song_adder import ADDING, SongAdder
from rehearse.ui.jobs import RunningJob
from rehearse.ui.pages.music.controls import Controls
from rehearse.ui.status import FLOW
from rehearse.ui.wish import READING
from rehearse.ui.workspace import Workspace
from rehearse.words import _

#: The limit where the rules have none, seconds.
LIMIT = 60
#: Counts heard on either side of a join.
COUNTS = 2
LISTENING, MAKING = _("Finding versions of the song"), _("Making the cut")
_BY_HAND = _("by hand")


class CutSong(CutForm):
    """Versions above, the song's wave with the parts of the chosen one below."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        assert workspace.routine is not None
        self._routine: Routine = workspace.routine
        self._source: Source | None = None
        self._listened: Listened | None = None
        self._drafts: Drafts | None = None
        self._running: RunningJob | None = None
        self._rows: list[Draft | None] = []
        self._kept: Draft | None = None
        self._heard_join = 0
        self.playback = CutPlayback(workspace)
        self.playback.changed.connect(self._tell)
        self.playback.moved.connect(self._show_place)
        self.layer = CutLayer(self._dragged, self.view.refresh)
        self.view.add_layer(self.layer)
        self.adder = SongAdder(
            workspace, self, self._ready_source, self._goes, self._added, self._failed
        )
        self.bindings = Bindings(self, actions.ON_CUT, self._slots())
        self.controls = Controls(self.bindings)
        self.show_controls(self.controls)
        self.bindings.allow("whole_song", self._routine.cut is not None)
        self.limit.setValue(self._limit_of_rules())
        self.limit.valueChanged.connect(self._limit_changed)
        self.versions.currentRowChanged.connect(self._chosen)
        self.view.cursorMoved.connect(self._mark_part)
        self._begin()

    def _slots(self) -> Slots:
        return {
            "play_cut": self.play,
            "next_join": self.play_join,
            "add_part": self._add,
            "delete_part": self._delete,
            "part_start": partial(self._edge, "start"),
            "part_end": partial(self._edge, "end"),
            "join_earlier": partial(self._shift, -1),
            "join_later": partial(self._shift, 1),
            "whole_song": self.use_whole_song,
            "add_song": self.adder.choose,
        }

    def _limit_of_rules(self) -> int:
        try:
            limit = load_rules(self._routine.rules, self.workspace.folder).limit
        except UserError:
            limit = None
        return round(limit or LIMIT)

    # -- listening --------------------------------------------------------------------------
    def _begin(self) -> None:
        folder, beatmap = self.workspace.folder, self.workspace.beatmap
        assert folder is not None
        assert beatmap is not None
        try:
            self._source = source_of(folder, self._routine, beatmap)
        except UserError as error:
            self.workspace.standing.stand(FLOW, error.sentence)
            self.say(_("The song cannot be cut now."))
            return
        self._listen()

    def _listen(self) -> None:
        """Listen to all of the song, which may be several."""
        assert self._source is not None
        one = self._routine.cut is None and not self._source.songs
        track = self.workspace.track if one else None
        limit = float(self.limit.value())
        self._run(listen_to, self.workspace.folder, self._source, track, limit)
        self._tell()

    def _run(self, function: Callable[..., Listened], *args: object) -> None:
        if self._running is not None:
            self.workspace.stop_job(self._running)
        self._running = self.workspace.run_job(
            LISTENING, function, *args, done=self._listening_done, failed=self._failed
        )

    @Slot()
    def _limit_changed(self) -> None:
        if self._listened is not None and self._source is not None:
            limit = float(self.limit.value())
            self._run(versions_again, self._listened, self._source, limit)
            self._tell()
        elif self._source is not None:
            self._listen()

    def _ready_source(self) -> Source | None:
        """The song that is cut, while it is only listened to; that begins anew with both."""
        listening = self._running is None or self._running.words == LISTENING
        return self._source if listening else None

    def _goes(self, job: RunningJob) -> None:
        if self._running is not None:
            self.workspace.stop_job(self._running)
        self._running = job
        self.playback.stop()
        self.workspace.standing.mend(FLOW)
        self._tell()

    def _added(self, source: Source) -> None:
        """Go on with both songs; what was changed by hand meant the first alone, and stays."""
        now = self._drafts.now if self._drafts else None
        self._kept = now if now and now.row == len(self._rows) - 1 else None
        self._source, self._listened = source, None
        self._listen()

    def _failed(self, error: UserError) -> None:
        self._running = None
        self.workspace.standing.stand(FLOW, error.sentence)
        self._tell()

    def _listening_done(self, listened: Listened) -> None:
        self._running = None
        first, self._listened = self._listened is None, listened
        assert self._source is not None
        song = self._source.beatmap
        if first:
            like = Cut(self._source.song, song.track_hash, "", ())
            self._drafts = Drafts(Joiner(listened.track, song, listened.heard), like)
            if self._kept is not None:
                row = len(listened.proposals) + (self._routine.cut is not None)
                self._drafts.put(replace(self._kept, row=row))
            self.layer.songs = self._source.songs
            self.view.set_track(listened.track)
            self.view.set_map(song)
        self._fill()

    def _fill(self) -> None:
        """List the present cut and the versions; the present one, or the first, is chosen."""
        assert self._listened is not None
        assert self._drafts is not None
        now = self._drafts.now
        rows: list[tuple[str, Draft | None]] = []
        cut, stage = self._routine.cut, self._routine.stage
        if cut is not None:
            joins = self._drafts.judged(cut.parts)
            draft = Draft(cut.parts, joins, stage.fade_out if stage else 0.0)
            rows.append(
                (
                    _(
                        "as it is now   {length:.1f} s   {number} parts",
                        length=cut.length,
                        number=len(cut.parts),
                    ),
                    draft,
                )
            )
        for number, proposal in enumerate(self._listened.proposals, 1):
            told = "; ".join(dict.fromkeys(proposal.told))
            text = _(
                "{number}   {length:.1f} s   {reason}   –   join {told}",
                number=number,
                length=proposal.length,
                reason=proposal.reason,
                told=told,
            )
            rows.append((text, Draft(proposal.cut.parts, proposal.joins, proposal.fade_out)))
        rows.append((_BY_HAND, None))
        with QSignalBlocker(self.versions):
            self.versions.clear()
            self.versions.addItems([text for text, _unused in rows])
        self._rows = [draft for _unused, draft in rows]
        if now is None or now.row < len(rows) - 1:
            self.versions.setCurrentRow(0)
            self._chosen(0)
        else:
            self._show()

    @Slot(int)
    def _chosen(self, row: int) -> None:
        """A version is looked at."""
        if self._drafts is None or not 0 <= row < len(self._rows):
            return
        draft = self._rows[row]
        if draft is not None:
            self._drafts.put(Draft(draft.parts, draft.joins, draft.fade_out, row))
            self._heard_join = 0
        self.playback.stop()
        self._show()

    # -- what is shown ----------------------------------------------------------------------
    @Slot()
    def _show(self) -> None:
        now = self._drafts.now if self._drafts else None
        self.layer.parts = now.parts if now else ()
        self._mark_part()
        self._tell()

    @Slot()
    def _mark_part(self) -> None:
        self.layer.chosen = self._part if self.layer.parts else -1
        self.view.refresh()

    @property
    def _part(self) -> int:
        return part_at(self.layer.parts, self.view.cursor_time)

    @Slot()
    def _tell(self) -> None:
        words = _("Stop") if self.playback.on else _("Play the cut")
        self.bindings.dress(self.controls.buttons["play_cut"], "play_cut", words)
        drafts = self._drafts
        ready = drafts is not None and drafts.now is not None
        self.offer(_("Use this cut"), ready=ready)
        self.length.setText(drafts.words(self.limit.value()) if drafts else "")
        if self._running is not None:
            adding = self._running.words == ADDING
            listening = _("The song is being listened to …")
            self.say(_("The song is being added …") if adding else listening)
        elif self._listened is not None and self._listened.why:
            self.say(self._listened.why)
        elif drafts is not None:
            heard = actions.key("next_join")
            self.say(
                _("↑ ↓ chooses a version, {heard} plays its joins, Enter uses it.", heard=heard)
            )

    @Slot(float)
    def _show_place(self, heard: float) -> None:
        cut = self._drafts.cut if self._drafts else None
        if cut is not None:
            _unused, time = cut.song_time(heard)
            self.view.set_playhead(time)
            self.view.show_time(time)

    # -- playback ----------------------------------------------------------------------------
    def play(self) -> None:
        """Play the cut, or stop."""
        if self.playback.on:
            self.playback.stop()
            self.view.set_playhead(None)
        elif self._cut is not None:
            self.playback.play(self._song, self._cut)

    def play_join(self) -> None:
        """Play the next join, two counts before it and two after."""
        cut = self._cut
        if cut is None:
            return
        if not cut.joins:
            self.workspace.notice.say(_("This cut is one part of the song: it has no join."))
            return
        self._heard_join = self._heard_join % len(cut.joins) + 1
        assert self._drafts is not None
        part, join = cut.parts[self._heard_join], cut.joins[self._heard_join - 1]
        beatmap = self._drafts.beatmap
        index = beatmap.nearest(part.start)
        step = beatmap.intervals[index] if index >= 0 else 0.5
        self.view.set_cursor(part.start)
        self._mark_part()
        self.playback.play(self._song, cut, join - COUNTS * step, join + COUNTS * step)

    @property
    def _cut(self) -> Cut | None:
        return self._drafts.cut if self._drafts and self._listened else None

    @property
    def _song(self) -> Track:
        assert self._listened is not None
        return self._listened.track

    # -- by hand ----------------------------------------------------------------------------
    def _by_hand(self, change: Callable[[Drafts, int], object]) -> None:
        """Change the draft; what cannot be done is said."""
        if self._drafts is None:
            return
        try:
            change(self._drafts, len(self._rows) - 1)
        except UserError as error:
            self.workspace.notice.say(error.sentence)
            return
        self.workspace.notice.drop()
        self.playback.stop()
        with QSignalBlocker(self.versions):
            self.versions.setCurrentRow(len(self._rows) - 1)
        self._show()

    def _add(self) -> None:
        selected, cursor = self.view.selection, self.view.cursor_time
        if selected is None and self._drafts is not None:
            parts = self._drafts.beatmap.parts
            here = (Stretch(p.start, p.end) for p in parts if p.start <= cursor < p.end)
            selected = next(here, None)
        if selected is None:
            self.workspace.notice.say(
                _("Choose a stretch of the song first – drag, or Shift and arrows.")
            )
            return
        start, end = selected.start, selected.end
        self.view.select(None)
        self._by_hand(lambda drafts, row: drafts.add(start, end, row))

    def _delete(self) -> None:
        if self.layer.parts:
            self._by_hand(lambda drafts, row: drafts.delete(self._part, row))

    def _edge(self, end: str) -> None:
        if self.layer.parts:
            time, index = self.view.cursor_time, self._part
            self._by_hand(lambda drafts, row: drafts.move(index, end, time, row, eights=False))

    def _dragged(self, index: int, end: str, time: float) -> None:
        self._by_hand(lambda drafts, row: drafts.move(index, end, time, row))
        self._show()  # where it could not be moved the bar goes back

    def _shift(self, counts: int) -> None:
        if len(self.layer.parts) < 2:
            self.workspace.notice.say(_("This cut is one part of the song: it has no join."))
            return
        index = self._heard_join or 1
        self._by_hand(lambda drafts, row: drafts.shift(index, counts, row))

    def _undo(self) -> None:
        if self._drafts is not None and self._drafts.back() and self._drafts.now is not None:
            with QSignalBlocker(self.versions):
                self.versions.setCurrentRow(self._drafts.now.row)
            self._show()

    # -- used -------------------------------------------------------------------------------
    def do_main(self) -> None:
        """Make the cut and use it."""
        cut = self._cut
        if cut is None or self._running is not None or self._source is None:
            return
        self.playback.stop()
        self.main.setEnabled(False)
        self._running = self.workspace.run_job(
            MAKING,
            make_cut,
            self.workspace.folder,
            self._source,
            cut,
            done=self._use,
            failed=self._failed,
        )

    def _use(self, made: CutResult) -> None:
        self._running = None
        workspace = self.workspace
        if workspace.routine is None or workspace.beatmap is None or self._source is None:
            return
        assert self._drafts is not None
        assert self._drafts.now is not None
        fade = self._drafts.now.fade_out
        routine = with_cut(workspace.routine, workspace.beatmap, self._source, made, fade)
        self._leave_player()
        workspace.use_song(routine, made.track, beatmap=made.beatmap, words=_("cut the song"))
        self._told_and_closed(routine, made.lowered)

    def use_whole_song(self) -> None:
        """Go back to the whole song."""
        workspace, listened = self.workspace, self._listened
        if self._routine.cut is None or listened is None or self._source is None:
            workspace.notice.say(_("The song is being read – wait a moment and press again."))
            return
        if not self._source.songs:
            self._whole(listened.track)
        elif self._running is None:
            args = (workspace.folder, self._source.first)
            self._running = workspace.run_job(
                READING, load_source, *args, done=self._whole, failed=self._failed
            )

    def _whole(self, track: Track) -> None:
        self._running = None
        workspace = self.workspace
        assert self._source is not None
        assert workspace.routine is not None
        assert workspace.beatmap is not None
        routine = with_whole_song(workspace.routine, workspace.beatmap, self._source)
        beatmap = self._source.first.beatmap
        self._leave_player()
        workspace.use_song(routine, track, beatmap=beatmap, words=_("use the whole song"))
        self._told_and_closed(routine, 0.0)

    def _told_and_closed(self, routine: Routine, lowered: float) -> None:
        said = [told_aside(routine.aside)]
        if lowered:
            said.append(
                _(
                    "The song is mastered beyond full scale: the cut is {lowered:.1f} dB softer.",
                    lowered=lowered,
                )
            )
        self.closed.emit()
        if sentence := " ".join(filter(None, said)):
            self.workspace.notice.say(sentence)

    # -- leaving ----------------------------------------------------------------------------
    def main_action(self) -> None:
        """Space plays, as it does on the Music page; the cut is used with Enter."""
        self.play()

    def leave(self) -> None:
        """Go back; the routine is as it was."""
        if self._running is not None:
            self.workspace.stop_job(self._running)
            self._running = None
        self._leave_player()
        super().leave()

    def _leave_player(self) -> None:
        self.view.set_playhead(None)
        self.playback.give_back()

    def take_path(self, path: Path) -> None:
        """A dropped song is added."""
        self.adder.add(path)

    def event(self, event: QEvent) -> bool:
        """Ctrl+Z takes a step of the draft back, not one of the routine behind it."""
        if event.type() == QEvent.Type.ShortcutOverride and _is_undo(event):
            event.accept()
            return True
        return bool(super().event(event))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Ctrl+Z, and what every flow has."""
        if _is_undo(event):
            self._undo()
        else:
            super().keyPressEvent(event)


def _is_undo(event: QEvent) -> bool:
    return isinstance(event, QKeyEvent) and event.matches(QKeySequence.StandardKey.Undo)
