"""What each key of the Routine page does, and the questions some of them ask."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, Slot

from rehearse.files.user_error import UserError
from rehearse.routine import edits
from rehearse.routine.moves import MoveRequest
from rehearse.routine.snapping import Snap, snap
from rehearse.ui.actions import key
from rehearse.ui.pages.routine import panel_stack
from rehearse.ui.pages.routine.between import Spot
from rehearse.ui.pages.routine.page_layout import RoutineLayout
from rehearse.words import _, place_text, proposed_section, section_text, shown

#: The tempo changes by this part of the music's own.
TEMPO = 0.05


class RoutineController(QObject):
    """Joins the page's actions to the choreography."""

    def __init__(self, page: RoutineLayout) -> None:
        super().__init__(page)
        self._page = page
        self._pick: Callable[[str], None] = page.choreography.put
        self._spot: Spot = (None, None, 0.0)
        self._take_move: Callable[[MoveRequest], None] = self._put_wanted
        moves = self._move_actions()
        for name, spec in self._controller().items():
            other = moves.get(name)
            page.bindings.connect_slots({name: self._either(other, spec) if other else spec})
        page.move_picker.taken.connect(self._move_taken)
        page.move_picker.left.connect(page.show_overview)
        page.move_picker.ownWanted.connect(self._own_move)
        page.move_picker.ownAsked.connect(self._ask_own_move)
        page.move_picker.ownChanged.connect(self._change_own_move)
        page.move_picker.ownUnwanted.connect(self._remove_own_move)
        page.own_move.added.connect(self._own_move_added)
        page.own_move.changed.connect(self._own_move_changed)
        page.own_move.left.connect(page.show_overview)
        page.lane.moveWanted.connect(self._exchange_move)
        page.table.moveWanted.connect(self._exchange_move)
        page.picker.taken.connect(self._taken)
        page.picker.left.connect(page.show_overview)
        page.picker.ownWanted.connect(self._ask_own)
        page.picker.ownChanged.connect(self._change_own)
        page.picker.ownUnwanted.connect(self._remove_own)
        page.own.added.connect(self._taken)
        page.own.changed.connect(self._own_changed)
        page.own.left.connect(page.show_overview)
        page.lane.placeWanted.connect(self._put_at)
        page.lane.exchangeWanted.connect(self._exchange)
        page.table.exchangeWanted.connect(self._exchange)
        page.strip.renameWanted.connect(self._rename)

    def _controller(self) -> dict[str, Callable[[], None]]:
        page, do, editor = self._page, self._page.choreography, self._page.editor
        playing = page.playing
        return {
            "play": playing.toggle,
            "put": self._put,
            "beat": self._on_beat,
            "accent": do.put_on_accent,
            "insert": lambda: self._ask(_("Insert, what follows moves on"), do.insert),
            "exchange": self._exchange_selected,
            "hand": lambda: self._ask(
                _(
                    "Current pose for {key_beat} and {key_accent}",
                    key_beat=key("beat"),
                    key_accent=key("accent"),
                ),
                editor.take_in_hand,
            ),
            "put_move": self._put_move,
            "begin_move": self._begin_move,
            "again": lambda: do.hit_again(playing.now()),
            "move_before": lambda: self._step_move(-1),
            "move_after": lambda: self._step_move(1),
            "turn_way": do.turn_way,
            "place": do.change_place,
            "earlier": lambda: self._move(-1),
            "later": lambda: self._move(1),
            "home": lambda: playing.go(playing.bounds()[0]),
            "end": lambda: playing.go(playing.bounds()[1]),
            "previous": lambda: self._step(-1),
            "next_pose": lambda: self._step(1),
            "more_previous": lambda: self._step(-1, extend=True),
            "more_next": lambda: self._step(1, extend=True),
            "hold_longer": lambda: do.lengthen(1),
            "hold_shorter": lambda: do.lengthen(-1),
            "way_longer": lambda: do.widen(1),
            "way_shorter": lambda: do.widen(-1),
            "swap": do.swap_with_next,
            "duplicate": do.duplicate,
            "copy_up": self._copy,
            "paste": do.paste,
            "paste_mirrored": lambda: do.paste(mirror=True),
            "other_way": do.other_way,
            "pin": do.pin,
            "accents": do.all_on_accents,
            "eight_earlier": lambda: do.move_eight(-1),
            "eight_later": lambda: do.move_eight(1),
            "all": editor.choose_all,
            "stretch": self._stretch,
            "take_out": do.take_out,
            "close_up": lambda: do.take_out(close_up=True),
            "facing": do.turn,
            "level": do.change_level,
            "note": self._note,
            "section": self._section,
            "grid": self._grid,
            "slower": lambda: self._tempo(-TEMPO),
            "faster": lambda: self._tempo(TEMPO),
            "closer": lambda: page.wave.zoom(1.5, editor.cursor),
            "wider": lambda: page.wave.zoom(1 / 1.5, editor.cursor),
            "mirror": self._mirror,
            "checks": lambda: self._panel(panel_stack.CHECKS),
            "suggestions": lambda: self._panel(panel_stack.SUGGESTIONS),
            "take_all": page.findings.take_all,
            "versions": lambda: self._panel(panel_stack.VERSIONS),
            "keep": page.panels.versions.ask_name,
            "copy": lambda: self._panel(panel_stack.COPY),
            "remarks": lambda: self._panel(panel_stack.REMARKS),
            "keys": lambda: self._panel(panel_stack.KEYS),
            "leave": self._leave,
        }

    def _move_actions(self) -> dict[str, Callable[[], None]]:
        """What keys do to a chosen move instead of a pose: each letter still means one thing."""
        do = self._page.choreography
        return {
            "exchange": self._exchange_move,
            "earlier": lambda: do.shift_move(-1),
            "later": lambda: do.shift_move(1),
            "hold_longer": lambda: do.resize_move(1),
            "hold_shorter": lambda: do.resize_move(-1),
            "swap": do.swap_move,
            "take_out": do.take_out_move,
            "close_up": do.take_out_move,
            "facing": do.change_side,
            "note": self._note_move,
        }

    def _either(self, move: Callable[[], None], pose: Callable[[], None]) -> Callable[[], None]:
        return lambda: move() if self._page.editor.move else pose()

    def _put_move(self) -> None:
        page = self._page
        if page.choreography.say_if_missing():
            return
        time, selected = page.playing.now(), page.editor.selected
        self._spot = (None, None, time) if page.playing.on else page.choreography.spot(time)
        where = _("before {pose}", pose=shown(selected.pose)) if selected else _("on the way off")
        where = where if self._spot[0] is not None else ""
        self._ask_move(
            _("Move {where}", where=where or _("at {place}", place=self._words(time))),
            self._put_wanted,
        )

    def _ask_move(self, title: str, take: Callable[[MoveRequest], None], name: str = "") -> None:
        page = self._page
        self._take_move = take
        page.below.setCurrentWidget(page.move_picker)
        page.move_picker.ask(title, page.choreography.known_moves, name)

    def _put_wanted(self, wanted: MoveRequest) -> None:
        self._spot = self._page.choreography.put_move(wanted, self._spot)

    @Slot(MoveRequest, bool)
    def _move_taken(self, wanted: MoveRequest, more: bool) -> None:
        if not more:
            self._page.show_overview()
        self._take_move(wanted)

    @Slot(str)
    def _own_move(self, name: str) -> None:
        self._page.show_overview()
        wanted = self._page.choreography.add_own_move(name)
        if wanted is not None:
            self._take_move(wanted)

    @Slot(str)
    def _ask_own_move(self, name: str) -> None:
        self._page.below.setCurrentWidget(self._page.own_move)
        self._page.own_move.ask(name)

    @Slot(str)
    def _change_own_move(self, name: str) -> None:
        self._page.below.setCurrentWidget(self._page.own_move)
        self._page.own_move.change(name)

    @Slot(str)
    def _own_move_added(self, name: str) -> None:
        self._page.show_overview()
        self._take_move(self._page.choreography.own_move(name))

    @Slot(str)
    def _own_move_changed(self, name: str) -> None:
        page = self._page
        page.below.setCurrentWidget(page.move_picker)
        page.move_picker.show_again(page.choreography.known_moves, name)

    @Slot(str)
    def _remove_own_move(self, name: str) -> None:
        do = self._page.choreography
        do.edit(
            _("delete own move {name}", name=name), lambda: edits.remove_own_move(do.routine, name)
        )
        self._page.move_picker.show_again(do.known_moves)

    @Slot()
    def _exchange_move(self) -> None:
        do = self._page.choreography
        if do.chosen_move is not None:
            self._ask_move(
                _("Instead of {move}", move=shown(do.chosen_move.move)),
                do.exchange_move,
                do.chosen_move.move,
            )

    def _begin_move(self) -> None:
        page = self._page
        if page.workspace.track is None:
            page.workspace.wish.ask(
                _(
                    "It plays, and {key_begin_move} starts a move on the beat",
                    key_begin_move=key("begin_move"),
                ),
                page.playing.begin,
            )
        else:
            page.choreography.begin_on_beat(page.playing.now())

    def _step_move(self, by: int) -> None:
        page = self._page
        if not page.choreography.say_if_missing():
            page.choreography.step_move(by, page.timings.moves())

    def _note_move(self) -> None:
        page, move = self._page, self._page.choreography.chosen_move
        if move is not None:
            page.ask.ask(
                _("Note on {move}", move=shown(move.move)), move.note, page.choreography.note_move
            )

    def _put(self) -> None:
        page, time = self._page, self._page.playing.now()
        self._ask(
            _("Add at {words}", words=self._words(time)),
            lambda name: page.choreography.put(name, time),
        )

    def _on_beat(self) -> None:
        page = self._page
        if page.workspace.track is None:
            # Nobody hears a beat yet: five taps would be five poses on one place.
            page.workspace.wish.ask(
                _("It plays, and {key_beat} adds a pose on each beat", key_beat=key("beat")),
                page.playing.begin,
            )
        else:
            page.choreography.put_on_beat(page.playing.now())

    @Slot(float)
    def _put_at(self, time: float) -> None:
        if not self._page.choreography.say_if_missing():
            self._page.editor.cursor = time
            self._put()

    def _words(self, time: float) -> str:
        if not self._page.editor.ready:
            return ""
        return place_text(snap(self._page.editor.beatmap, time, self._page.editor.grid))

    @Slot(str)
    def _exchange(self, pose_id: str) -> None:
        self._page.editor.select(pose_id)
        self._exchange_selected()

    def _exchange_selected(self) -> None:
        selected = self._page.editor.selected
        if selected is None:
            self._put()
        else:
            do = self._page.choreography
            many = len(self._page.editor.chosen)
            what = selected.pose if many < 2 else _("{many} poses", many=many)
            self._ask(_("Instead of {what}", what=what), do.exchange, selected.pose)

    def _ask(self, title: str, pick: Callable[[str], None], name: str = "") -> None:
        page = self._page
        if page.choreography.say_if_missing():
            return
        self._pick = pick
        page.below.setCurrentWidget(page.picker)
        page.picker.ask(title, name)

    @Slot(str)
    def _taken(self, name: str) -> None:
        self._page.show_overview()
        self._pick(name)

    @Slot(str)
    def _ask_own(self, name: str) -> None:
        self._page.below.setCurrentWidget(self._page.own)
        self._page.own.ask(name)

    @Slot(str)
    def _change_own(self, name: str) -> None:
        self._page.below.setCurrentWidget(self._page.own)
        self._page.own.change(name)

    @Slot(str)
    def _own_changed(self, name: str) -> None:
        self._page.below.setCurrentWidget(self._page.picker)
        self._page.picker.show_again(name)

    @Slot(str)
    def _remove_own(self, name: str) -> None:
        do = self._page.choreography
        do.edit(_("delete own pose {name}", name=name), lambda: edits.remove_own(do.routine, name))

    def _move(self, steps: int) -> None:
        page = self._page
        if page.editor.selected is not None:
            page.choreography.move(steps)
        elif page.editor.ready:
            there = page.choreography.next_place(page.editor.cursor, steps)
            if there != page.editor.cursor:
                page.playing.go(there)

    def _step(self, by: int, *, extend: bool = False) -> None:
        page = self._page
        page.editor.step(by, extend=extend)
        span = (
            page.timings.find(page.editor.chosen[-1 if by > 0 else 0])
            if page.editor.chosen
            else None
        )
        if span is not None and not page.playing.on and page.wave.duration:
            page.wave.show_time(span.hit)

    def _copy(self) -> None:
        """What is chosen, as a section when it was chosen by one; else what a stretch holds."""
        page = self._page
        if not page.editor.ready:
            page.choreography.say_if_missing()
            return
        stretch = page.wave.selection
        if stretch is not None and not page.editor.chosen:
            page.editor.choose(s.placed.id for s in page.timings.all if s.hit in stretch)
        section = next(
            (s for s in page.editor.routine.sections if s.id == page.strip.selected), None
        )
        if section is not None and page.strip.poses_in(section) != page.editor.chosen:
            section = None
        page.choreography.copy(section)

    def _stretch(self) -> None:
        """Ask in how many counts the chosen poses are to be danced."""
        page, chosen = self._page, self._page.editor.chosen
        if not chosen:
            page.workspace.notice.say(
                _(
                    "Nothing is chosen – choose poses with Shift and the arrow keys, then "
                    "press {key_stretch}.",
                    key_stretch=key("stretch"),
                )
            )
            return
        try:
            now = edits.counts_of(page.editor.routine, page.editor.beatmap, chosen)
        except UserError as error:
            page.workspace.notice.say(error.sentence)
            return
        page.ask.ask(
            _("Counts from the first hit to the last one's end"), f"{now:g}", self._stretch_to
        )

    def _stretch_to(self, text: str) -> None:
        try:
            counts = float(text.lower().removesuffix("counts").removesuffix("count"))
        except ValueError:
            self._page.workspace.notice.say(
                _("{text} is no number of counts – write 8, 12.5 …", text=text)
            )
            return
        self._page.choreography.stretch(counts)

    def _leave(self) -> None:
        page = self._page
        page.trial.end()
        page.editor.select("")
        page.editor.say("")
        page.wave.select(None)
        page.strip.choose("")
        page.workspace.errorRaised.emit("")

    def _note(self) -> None:
        if self._page.editor.selected is not None:
            self._page.card.write_note()

    def _section(self) -> None:
        page = self._page
        stretch = page.wave.selection
        if stretch is None and not page.editor.chosen:
            page.workspace.notice.say(
                _(
                    "Nothing is chosen – choose poses with Shift and the arrow keys, then "
                    "press {key_section}.",
                    key_section=key("section"),
                )
            )
            return
        first = proposed_section(len(page.editor.routine.sections) + 1)
        if page.editor.chosen:
            self._ask_section(first, page.choreography.make_section)
        elif stretch is not None:
            self._ask_section(
                first,
                lambda name: page.choreography.section_between(name, stretch.start, stretch.end),
            )

    def _ask_section(self, first: str, named: Callable[[str], object]) -> None:
        """Ask for a section's name; what is left as it is read is left as it is stored."""
        read = section_text(first)
        self._page.ask.ask(
            _("Name of the section"), read, lambda name: named(first if name == read else name)
        )

    @Slot(str)
    def _rename(self, section_id: str) -> None:
        page = self._page
        section = page.editor.routine.section(section_id)
        self._ask_section(
            section.name,
            lambda name: page.choreography.edit(
                _("section {name}", name=section_text(name)),
                lambda: edits.rename_section(page.editor.routine, section_id, name),
            ),
        )

    def _grid(self) -> None:
        grids, editor = list(Snap), self._page.editor
        editor.grid = grids[(grids.index(editor.grid) + 1) % len(grids)]

    def _tempo(self, by: float) -> None:
        self._page.playing.tempo += by

    def _mirror(self) -> None:
        page = self._page
        page.lane.scene.mirrored = page.card.figure.mirrored = not page.lane.scene.mirrored
        page.lane.update()
        page.card.figure.update()
        page.bar.mirror.setVisible(page.lane.scene.mirrored)

    def _panel(self, index: int) -> None:
        self._page.panels.show_panel(index)
        self._page.show_offers()
