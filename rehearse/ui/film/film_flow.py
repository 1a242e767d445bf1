"""A filmed run: drop a film, see it on the counts, early or late at each hit, its contact sheet."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QImage, QResizeEvent
from PySide6.QtWidgets import QPushButton, QStackedWidget

from rehearse.files.user_error import UserError
from rehearse.film.film_reading import MusicNotFound
from rehearse.film.keep import Kept, delete_kept, read_and_keep
from rehearse.film.take import take_of, wanted
from rehearse.film.words import head
from rehearse.practice.takelog import TakeDone
from rehearse.ui import file_dialog
from rehearse.ui.actions import ON_FILM, key
from rehearse.ui.bindings import Bindings, Slots
from rehearse.ui.film.feeder import Feeder
from rehearse.ui.film.film_data import beats_of, kept_film, opened, teachings, ways
from rehearse.ui.film.film_music import STEP, FilmMusic
from rehearse.ui.film.guide import Guide
from rehearse.ui.film.sheetview import SheetView
from rehearse.ui.film.view import FilmView
from rehearse.ui.flows.flow import Flow
from rehearse.ui.flows.opening import FILMS
from rehearse.ui.jobs import RunningJob
from rehearse.ui.questions import Answer, Question
from rehearse.ui.status import FLOW
from rehearse.ui.workspace import Workspace

READING = "Reading the film"
_SET_BY_HAND = (
    "The music is not heard in that film: look up in it when the first pose is hit, or drop "
    "another film."
)


class FilmFlow(Flow):
    """Guidance, then the reading, then the film and its contact sheet."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace, "Film of a run")
        self.take: TakeDone | None = None
        self._running: RunningJob | None = None
        self._feeder: Feeder | None = None
        self._music: FilmMusic | None = None
        self._film: Path | None = None
        self._meant: dict[str, tuple[float, float, float]] = {}  # where each pose was then
        self.view, self.sheet = FilmView(), SheetView(workspace)
        self.guide = Guide()
        self.front = QStackedWidget()
        for widget in (self.guide, self.view, self.sheet):
            self.front.addWidget(widget)
        self.body.addWidget(self.front, 1)
        self.choose = QPushButton()
        self.bindings = Bindings(self, ON_FILM, self._slots())
        self._buttons = {name: QPushButton() for name in ("film_play", "film_loop", "mirror")}
        for name, button in self._buttons.items():
            self.bindings.button(button, name)
            self.foot.insertWidget(self.foot.count() - 1, button)
        self.bindings.button(self.choose, "film_choose")
        self.foot.insertWidget(self.foot.count() - 1, self.choose)
        workspace.jobChanged.connect(self._watch)
        self._show_guide()
        self._ask_newest()

    def _slots(self) -> Slots:
        return {
            "film_play": self.main_action,
            "film_back": lambda: self._step(-1),
            "film_on": lambda: self._step(1),
            "film_count_back": lambda: self._go_beat(-1),
            "film_count_on": lambda: self._go_beat(1),
            "film_hit_back": lambda: self._go_hit(-1),
            "film_hit_on": lambda: self._go_hit(1),
            "film_loop": self._toggle_loop,
            "film_choose": self.choose_film,
            "take_before": lambda: self._other_take(-1),
            "take_after": lambda: self._other_take(1),
            "film_delete": self._ask_to_delete,
            "mirror": self._mirror,
            "slower": lambda: self._tempo(-STEP),
            "faster": lambda: self._tempo(STEP),
        }

    # -- a film comes in -----------------------------------------------------------------------

    @Slot()
    def choose_film(self) -> None:
        """Ask for a film and read it."""
        kinds = " ".join(f"*{ending}" for ending in FILMS)
        if name := file_dialog.open_file(self, "Film of a run", "", f"Films ({kinds})"):
            self.take_path(Path(name))

    def take_path(self, path: Path, *, by_hand: bool = False) -> None:
        """Read a film that was dropped or chosen; `by_hand` from the first hit that was set."""
        self._close_film()
        self.take, self._film, self._meant = None, path, ways(self.workspace)
        try:
            asked = wanted(opened(self.workspace))
            if by_hand:
                second, tempo = self.guide.second.value(), self.guide.tempo.value() / 100
                asked = replace(asked, first_hit=second, tempos=(tempo,))
        except UserError as error:
            self._failed(error)
            return
        if self._running is not None:
            self.workspace.stop_job(self._running)
        self.workspace.standing.mend(FLOW)
        self._running = self.workspace.run_job(
            READING, read_and_keep, path, asked, self.workspace.folder, False,
            done=self._done, failed=self._failed,
        )  # fmt: skip
        self.say(f"Reading {path.name}: it takes about as long as the run.")
        self._show_guide()

    def _done(self, kept: Kept) -> None:
        self._running = None
        if self._film is None:
            return
        try:
            if ways(self.workspace) != self._meant:
                raise UserError("the routine was changed meanwhile", do="drop the film again")
            read = take_of(self._film, opened(self.workspace), kept)
        except UserError as error:
            self._failed(error)
            return
        if self.workspace.logbook is not None:
            self.workspace.logbook.keep_take(read.take)
        if kept.told:
            self.workspace.standing.stand(FLOW, f"{kept.told[:1].upper()}{kept.told[1:]}.")
        self.show_take(read.take)

    def _failed(self, error: UserError) -> None:
        self._running = None
        self.workspace.standing.stand(FLOW, error.sentence)
        by_hand = isinstance(error, MusicNotFound)
        self.say(_SET_BY_HAND if by_hand else "That film was not read; see below.")
        self._show_guide(by_hand=by_hand)

    @Slot()
    def _watch(self) -> None:
        if self._running is not None and self._running not in self.workspace.jobs:
            if self._running.stopped:
                self._running = None
                self.say("Stopped: nothing was kept of that film.")
        elif self._running is not None and self._running.fraction is not None:
            done = f"{100 * self._running.fraction:.0f} %"
            self.offer(f"{self._running.text or READING} … {done}", ready=False)

    def _ask_newest(self) -> None:
        if self.workspace.logbook is not None:
            self.workspace.logbook.ask(lambda book: book.takes(limit=8), self._found)

    def _found(self, takes: tuple[TakeDone, ...]) -> None:
        self.sheet.takes = takes
        self._teach()
        if self.take is None and self._running is None and self._film is None and self._kept_takes:
            self.show_take(self._kept_takes[-1])

    @property
    def _kept_takes(self) -> list[TakeDone]:
        """The takes whose film is kept, oldest first."""
        return [take for take in self.sheet.takes if kept_film(self.workspace, take) is not None]

    def _which(self, take: TakeDone) -> str:
        shown = self._kept_takes
        if take not in shown or len(shown) < 2:
            return ""
        place = shown.index(take) + 1
        return f" Take {place} of {len(shown)}; {key('take_before')} shows the one before."

    def _other_take(self, by: int) -> None:
        shown = self._kept_takes
        if self.take in shown:
            place = shown.index(self.take) + by
            if 0 <= place < len(shown):
                self.show_take(shown[place])

    @Slot()
    def _ask_to_delete(self) -> None:
        take = self.take
        if take is None or kept_film(self.workspace, take) is None:
            return
        sentence = f"Delete the film and stills kept of {take.film}? Its readings stay."
        answers = Answer("Delete", "L", self._delete), Answer("Keep", "K", self.setFocus)
        self.workspace.questions.ask("film", Question(sentence, answers))

    def _delete(self) -> None:
        take, folder = self.take, self.workspace.folder
        if take is None or folder is None or not take.folder:
            return
        self._close_film()
        self.take = None
        try:
            delete_kept(folder, take.folder)
        except UserError as error:
            self.workspace.standing.stand(FLOW, error.sentence)
        if self._kept_takes:
            self.show_take(self._kept_takes[-1])
        else:
            self.say(f"The film kept of {take.film} is deleted; its readings are in the logbook.")
            self._show_guide()

    # -- the film on the counts ----------------------------------------------------------------

    def show_take(self, take: TakeDone) -> None:
        """Show a take that was read, from its first hit."""
        self._close_film()
        self.take = take
        path = kept_film(self.workspace, take)
        inside = [pose for pose in take.poses if pose.film >= 0]
        start = max(0.0, inside[0].hit - 3.0 if inside else 0.0)
        self._music = FilmMusic(self.workspace, start, (inside[-1].hit if inside else 0.0) + 3.0)
        self._music.moved.connect(self._moved)
        self._music.changed.connect(self._changed)
        self.view.poses, self.view.beats = take.poses, beats_of(self.workspace)
        self.view.refused, self.view.image = take.refused, QImage()
        self.view.note = "" if path else "The film for looking at is not kept here any more."
        if path is not None:
            self._feeder = Feeder(path)
            self._feeder.shown.connect(self._shown, Qt.ConnectionType.QueuedConnection)
            self._feeder.stepped.connect(self._stepped, Qt.ConnectionType.QueuedConnection)
            self._feeder.failed.connect(self._film_failed, Qt.ConnectionType.QueuedConnection)
        self.sheet.show_take(take)
        self.say(f"{take.film}: {head(take)}{self._which(take)}")
        self._teach()
        self.front.setCurrentWidget(self.view)
        self._offer()
        if inside:
            self._music.go(inside[0].hit)
        self.setFocus()

    def _teach(self) -> None:
        self.view.told = teachings(self.workspace, self.sheet.takes)
        self.view.update()

    def _show_guide(self, *, by_hand: bool = False) -> None:
        self.front.setCurrentWidget(self.guide)
        self.guide.ask_by_hand(by_hand)
        self._offer()

    def _offer(self) -> None:
        showing = self.take is not None and self.front.currentWidget() is not self.guide
        watching = showing and self.front.currentWidget() is self.view
        for name in self._buttons:
            self.bindings.allow(name, watching)
            self._buttons[name].setVisible(watching)
        if not showing and not self.guide.hand.isHidden():
            self.offer("Read it from that hit")
        elif not showing:
            self.offer("Contact sheet", ready=False)
        else:
            on_sheet = self.front.currentWidget() is self.sheet
            self.offer("The film" if on_sheet else "Contact sheet")
        self._label()

    def _label(self) -> None:
        music = self._music
        playing = music is not None and music.on
        self.bindings.dress(self._buttons["film_play"], "film_play", "Stop" if playing else "Play")
        looped = music is not None and music.loop is not None
        words = "No loop" if looped else "Loop"
        self.bindings.dress(self._buttons["film_loop"], "film_loop", words)
        self.bindings.dress(self._buttons["mirror"], "mirror", "Mirror")

    def do_main(self) -> None:
        """To the contact sheet, back to the film, or read it from a hit set by hand."""
        if self.front.currentWidget() is self.guide:
            if self._film is not None and not self.guide.hand.isHidden():
                self.take_path(self._film, by_hand=True)
            return
        on_sheet = self.front.currentWidget() is self.sheet
        self.front.setCurrentWidget(self.view if on_sheet else self.sheet)
        if self._music is not None:
            self._music.stop()
        self._offer()

    @Slot()
    def main_action(self) -> None:
        """Space: play the film with the music, or stop."""
        if self._music is not None and self.front.currentWidget() is self.view:
            self._music.toggle()

    @Slot()
    def _moved(self) -> None:
        if self._music is not None:
            self.view.second = self._music.second
            self._ask_picture()
            self.view.update()

    def _film_second(self) -> float:
        take, music = self.take, self._music
        return 0.0 if take is None or music is None else (music.second - take.offset) / take.rate

    def _ask_picture(self) -> None:
        if self._feeder is not None:
            self._feeder.ask(self._film_second(), min(1280, self.view.picture_width))

    @Slot(float, float, QImage)
    def _shown(self, asked: float, own: float, image: QImage) -> None:
        self.view.image = image
        self.view.update()

    @Slot(float)
    def _stepped(self, film_second: float) -> None:
        if self._music is not None and self.take is not None:
            self._music.go(self.take.offset + (film_second + 1e-4) * self.take.rate)

    @Slot(str)
    def _film_failed(self, sentence: str) -> None:
        self.workspace.standing.stand(FLOW, sentence)

    def _step(self, by: int) -> None:
        if self._feeder is not None and self._music is not None:
            self._music.stop()
            self._feeder.step(self._film_second(), by)

    def _go_beat(self, by: int) -> None:
        self._go([beat.second for beat in self.view.beats], by)

    def _go_hit(self, by: int) -> None:
        self._go([pose.hit for pose in self.view.poses], by)

    def _go(self, seconds: list[float], by: int) -> None:
        if self._music is None:
            return
        here = self._music.second
        if by > 0:
            after = [s for s in seconds if s > here + 0.005]
            target = after[0] if after else here
        else:
            # While it plays, the place just passed is the one before: two presses go further.
            slack = 0.3 if self._music.on else 0.005
            before = [s for s in seconds if s < here - slack]
            target = before[-1] if before else here
        self._music.go(target)

    @Slot()
    def _toggle_loop(self) -> None:
        pose = self.view.current()
        if self._music is None or pose is None:
            return
        stretch = None
        if self._music.loop is None:
            around = pose.hit - 1.5, pose.hit, pose.hit + 1.5
            start, _, end = ways(self.workspace).get(pose.pose, around)
            stretch = max(0.0, start - 0.5), max(end, pose.hit + 1.0)
        self._music.set_loop(stretch)

    @Slot()
    def _mirror(self) -> None:
        self.view.mirrored = not self.view.mirrored
        self.view.update()

    def _tempo(self, by: float) -> None:
        if self._music is not None:
            self._music.set_tempo(self._music.tempo + by)

    @Slot()
    def _changed(self) -> None:
        tempo = 1.0 if self._music is None else self._music.tempo
        self.view.note = f"music at {100 * tempo:.0f} %" if tempo != 1 else ""
        self.view.update()
        self._label()

    # -- the end -------------------------------------------------------------------------------

    def _close_film(self) -> None:
        if self._music is not None:
            self._music.stop()
            self._music.deleteLater()
            self._music = None
        if self._feeder is not None:
            self._feeder.close()
            self._feeder = None

    def leave(self) -> None:
        """Back to the page; the reading of a film ends."""
        self._film = None
        self.workspace.questions.drop("film")
        if self._running is not None:
            self.workspace.stop_job(self._running)
            self._running = None
        self._close_film()
        super().leave()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another size wants another picture."""
        super().resizeEvent(event)
        if self._music is not None:
            self._ask_picture()
