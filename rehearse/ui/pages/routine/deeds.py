"""What each key of the Routine page does, and the questions some of them ask."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, Slot

from rehearse.routine import edits
from rehearse.routine.snapping import Snap, snap
from rehearse.ui.pages.routine import side
from rehearse.ui.pages.routine.frame import Frame

#: The tempo changes by this part of the music's own.
TEMPO = 0.05


class Deeds(QObject):
    """Joins the page's actions to the choreography."""

    def __init__(self, page: Frame) -> None:
        super().__init__(page)
        self._page = page
        self._pick: Callable[[str], None] = page.choreography.put
        for name, deed in self._deeds().items():
            page.actions_by_name[name].triggered.connect(deed)
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

    def _deeds(self) -> dict[str, Callable[[], None]]:
        page, do, choice = self._page, self._page.choreography, self._page.choice
        playing = page.playing
        return {
            "play": playing.toggle,
            "put": self._put,
            "beat": self._on_beat,
            "accent": do.put_on_accent,
            "insert": lambda: self._ask("Insert, what follows moves on", do.insert),
            "exchange": self._exchange_selected,
            "hand": lambda: self._ask("Current pose for B and A", choice.take_in_hand),
            "earlier": lambda: self._move(-1),
            "later": lambda: self._move(1),
            "home": lambda: playing.go(playing.bounds()[0]),
            "end": lambda: playing.go(playing.bounds()[1]),
            "previous": lambda: self._step(-1),
            "next": lambda: self._step(1),
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
            "all": choice.choose_all,
            "take_out": do.take_out,
            "close_up": lambda: do.take_out(close_up=True),
            "facing": do.turn,
            "level": do.change_level,
            "note": self._note,
            "section": self._section,
            "grid": self._grid,
            "slower": lambda: self._tempo(-TEMPO),
            "faster": lambda: self._tempo(TEMPO),
            "closer": lambda: page.wave.zoom(1.5, choice.cursor),
            "wider": lambda: page.wave.zoom(1 / 1.5, choice.cursor),
            "mirror": self._mirror,
            "checks": lambda: self._panel(side.CHECKS),
            "suggestions": lambda: self._panel(side.SUGGESTIONS),
            "versions": lambda: self._panel(side.VERSIONS),
            "keep": page.side.versions.ask_name,
            "copy": lambda: self._panel(side.COPY),
            "keys": lambda: self._panel(side.KEYS),
            "leave": self._leave,
        }

    def _put(self) -> None:
        page, time = self._page, self._page.playing.now()
        self._ask(f"Put at {self._words(time)}", lambda name: page.choreography.put(name, time))

    def _on_beat(self) -> None:
        page = self._page
        if page.desk.track is None:
            # Nobody hears a beat yet: five taps would be five poses on one place.
            page.desk.wish.ask("It plays, and B puts a pose on each beat", page.playing.begin)
        else:
            page.choreography.put_on_beat(page.playing.now())

    @Slot(float)
    def _put_at(self, time: float) -> None:
        if not self._page.choreography.say_if_missing():
            self._page.choice.cursor = time
            self._put()

    def _words(self, time: float) -> str:
        if not self._page.choice.ready:
            return ""
        return str(snap(self._page.choice.beatmap, time, self._page.choice.grid))

    @Slot(str)
    def _exchange(self, pose_id: str) -> None:
        self._page.choice.select(pose_id)
        self._exchange_selected()

    def _exchange_selected(self) -> None:
        selected = self._page.choice.selected
        if selected is None:
            self._put()
        else:
            do = self._page.choreography
            many = len(self._page.choice.chosen)
            what = selected.pose if many < 2 else f"{many} poses"
            self._ask(f"Instead of {what}", do.exchange, selected.pose)

    def _ask(self, title: str, pick: Callable[[str], None], name: str = "") -> None:
        page = self._page
        if page.choreography.say_if_missing():
            return
        self._pick = pick
        page.lower.setCurrentWidget(page.picker)
        page.picker.ask(title, name)

    @Slot(str)
    def _taken(self, name: str) -> None:
        self._page.show_overview()
        self._pick(name)

    @Slot(str)
    def _ask_own(self, name: str) -> None:
        self._page.lower.setCurrentWidget(self._page.own)
        self._page.own.ask(name)

    @Slot(str)
    def _change_own(self, name: str) -> None:
        self._page.lower.setCurrentWidget(self._page.own)
        self._page.own.change(name)

    @Slot(str)
    def _own_changed(self, name: str) -> None:
        self._page.lower.setCurrentWidget(self._page.picker)
        self._page.picker.show_again(name)

    @Slot(str)
    def _remove_own(self, name: str) -> None:
        do = self._page.choreography
        do.edit(f"delete own pose {name}", lambda: edits.remove_own(do.routine, name))

    def _move(self, steps: int) -> None:
        page = self._page
        if page.choice.selected is not None:
            page.choreography.move(steps)
        elif page.choice.ready:
            there = page.choreography.next_place(page.choice.cursor, steps)
            if there != page.choice.cursor:
                page.playing.go(there)

    def _step(self, by: int, *, extend: bool = False) -> None:
        page = self._page
        page.choice.step(by, extend=extend)
        span = (
            page.spans.find(page.choice.chosen[-1 if by > 0 else 0]) if page.choice.chosen else None
        )
        if span is not None and not page.playing.on and page.wave.duration:
            page.wave.show_time(span.hit)

    def _copy(self) -> None:
        """What is chosen, as a section when it was chosen by one; else what a stretch holds."""
        page = self._page
        if not page.choice.ready:
            page.choreography.say_if_missing()
            return
        stretch = page.wave.selection
        if stretch is not None and not page.choice.chosen:
            page.choice.choose(s.placed.id for s in page.spans.all if s.hit in stretch)
        section = next(
            (s for s in page.choice.routine.sections if s.id == page.strip.selected), None
        )
        if section is not None and page.strip.poses_in(section) != page.choice.chosen:
            section = None
        page.choreography.copy(section)

    def _leave(self) -> None:
        page = self._page
        page.choice.select("")
        page.choice.say("")
        page.wave.select(None)
        page.strip.choose("")
        page.desk.faultRaised.emit("")

    def _note(self) -> None:
        if self._page.choice.selected is not None:
            self._page.card.write_note()

    def _section(self) -> None:
        page = self._page
        stretch = page.wave.selection
        if stretch is None and not page.choice.chosen:
            page.desk.hint.say(
                "Nothing is chosen – choose poses with Shift and the arrow keys, then press E."
            )
            return
        first = f"Part {len(page.choice.routine.sections) + 1}"
        if page.choice.chosen:
            page.ask.ask("Name of the section", first, page.choreography.make_section)
        elif stretch is not None:
            page.ask.ask(
                "Name of the section",
                first,
                lambda name: page.choreography.section_between(name, stretch.start, stretch.end),
            )

    @Slot(str)
    def _rename(self, section_id: str) -> None:
        page = self._page
        section = page.choice.routine.section(section_id)
        page.ask.ask(
            "Name of the section",
            section.name,
            lambda name: page.choreography.edit(
                f"section {name}",
                lambda: edits.rename_section(page.choice.routine, section_id, name),
            ),
        )

    def _grid(self) -> None:
        grids, choice = list(Snap), self._page.choice
        choice.grid = grids[(grids.index(choice.grid) + 1) % len(grids)]

    def _tempo(self, by: float) -> None:
        self._page.playing.tempo += by

    def _mirror(self) -> None:
        page = self._page
        page.lane.scene.mirrored = page.card.figure.mirrored = not page.lane.scene.mirrored
        page.lane.update()
        page.card.figure.update()
        page.bar.mirror.setVisible(page.lane.scene.mirrored)

    def _panel(self, index: int) -> None:
        self._page.side.show_panel(index)
        self._page.show_offers()
