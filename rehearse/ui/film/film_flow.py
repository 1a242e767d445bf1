"""A filmed run: drop a film, see it on the counts, early or late at each hit, its contact sheet."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path

from PySide6.QtCore import QMargins, Qt, Slot
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QStackedWidget

from rehearse.files.user_error import UserError
from rehearse.film.film_reading import ClapOnly, MusicNotFound
from rehearse.film.film_text import BY_CLAP, head
from rehearse.film.keep import PROXY, SOUND, Kept, delete_kept, kept_file, read_and_keep
from rehearse.film.skew import doubt_of, read_skew, without_skew
from rehearse.film.take import take_of, wanted
from rehearse.practice.takelog import TakeDone
from rehearse.ui import file_dialog, theme
from rehearse.ui.actions import ON_FILM, key
from rehearse.ui.bindings import Bindings, Slots
from rehearse.ui.film.film_data import kept_film, opened, teachings, ways
from rehearse.ui.film.film_music import STEP
from rehearse.ui.film.film_questions import delete_film, lay_by_clap
from rehearse.ui.film.guide import Guide
from rehearse.ui.film.run import RunToFilm
from rehearse.ui.film.sheetview import SheetView
from rehearse.ui.film.view import FilmView
from rehearse.ui.film.watching import Watching
from rehearse.ui.flows.flow import Flow
from rehearse.ui.flows.opening import FILMS
from rehearse.ui.jobs import RunningJob
from rehearse.ui.pages.rehearse.page_layout import Screen
from rehearse.ui.stage.stage_options import ViewingDistance
from rehearse.ui.status import FLOW
from rehearse.ui.workspace import Workspace
from rehearse.words import _

READING = _("Reading the film")
#: What has a button while a film is watched.
_VIEWS = ("film_beside", "full", "mirror", "film_guide")
_WATCHING = ("film_play", "film_loop", *_VIEWS)
_HOW = _(
    "Space plays the run to be filmed: ten seconds to walk to your place, a"
    " clap, the count-in. Then drop the film here."
)
_SET_BY_HAND = _(
    "The music is not heard in that film: look up in it when the first pose"
    " is hit, or the clap is heard, or drop another film."
)


class FilmFlow(Flow):
    """Guidance, then the reading, then the film and its contact sheet."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace, _("Film of a run"))
        self._running: RunningJob | None = None
        self._film: Path | None = None
        self._margins = QMargins()  # when it is not alone on the screen
        self._meant: dict[str, tuple[float, float, float]] = {}  # where each pose was then
        self.view, self.sheet = FilmView(), SheetView(workspace)
        self.watching = Watching(workspace, self.view)
        self.watching.changed.connect(self._label)
        self.watching.failed.connect(self._film_failed)
        self.guide = Guide()
        self.run = RunToFilm(workspace)
        self.run.changed.connect(self._show_run)
        self.front = QStackedWidget()
        for widget in (self.guide, self.view, self.sheet):
            self.front.addWidget(widget)
        self.body.addWidget(self.front, 1)
        self.choose = QPushButton()
        self.bindings = Bindings(self, ON_FILM, self._slots())
        self._buttons = {name: QPushButton() for name in _WATCHING}
        views = QHBoxLayout()  # a row of its own: beside the others there is no room in all windows
        views.setSpacing(2 * theme.STEP)
        self.body.addLayout(views)
        for name, button in self._buttons.items():
            self.bindings.button(button, name)
            row, last = (views, 0) if name in _VIEWS else (self.foot, 1)
            row.insertWidget(row.count() - last, button)
        views.addStretch(1)
        self.bindings.button(self.choose, "film_choose")
        self.foot.insertWidget(self.foot.count() - 1, self.choose)
        workspace.jobChanged.connect(self._watch)
        self._show_guide()
        self._ask_newest()

    @property
    def take(self) -> TakeDone | None:
        """The take that is shown."""
        return self.watching.take

    def _slots(self) -> Slots:
        watching = self.watching
        return {
            "film_play": self.main_action,
            "film_back": lambda: watching.step(-1),
            "film_on": lambda: watching.step(1),
            "film_count_back": lambda: watching.go_beat(-1),
            "film_count_on": lambda: watching.go_beat(1),
            "film_hit_back": lambda: watching.go_hit(-1),
            "film_hit_on": lambda: watching.go_hit(1),
            "film_loop": watching.toggle_loop,
            "film_choose": self.choose_film,
            "film_beside": self._two_takes,
            "film_clap": self._read_clap,
            "film_guide": self._film_a_run,
            "full": self._toggle_full_screen,
            "take_before": lambda: self._other_take(-1),
            "take_after": lambda: self._other_take(1),
            "film_delete": self._ask_to_delete,
            "mirror": watching.mirror,
            "slower": lambda: watching.change_tempo(-STEP),
            "faster": lambda: watching.change_tempo(STEP),
        }

    # -- a film comes in -----------------------------------------------------------------------

    @Slot()
    def choose_film(self) -> None:
        """Ask for a film and read it."""
        kinds = " ".join(f"*{ending}" for ending in FILMS)
        if name := file_dialog.open_file(
            self, _("Film of a run"), "", _("Films ({kinds})", kinds=kinds)
        ):
            self.take_path(Path(name))

    def take_path(self, path: Path, *, by_hand: bool = False, by_clap: bool = False) -> None:
        """Read a film that was dropped or chosen.

        Args:
            by_hand: from the first hit that was set. by_clap: by the clap where no music is found.
        """
        self.workspace.questions.drop("film")
        self.watching.close()
        self.run.stop()
        self._film, self._meant = path, ways(self.workspace)
        try:
            asked = replace(wanted(opened(self.workspace)), by_clap=by_clap)
            if by_hand:
                tempo = self.guide.tempo.value() / 100
                first = self.guide.first_hit(asked.hits[0], asked.clap)
                asked = replace(asked, first_hit=first, tempos=(tempo,))
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
        self.say(_("Reading {name}: it takes about as long as the run.", name=path.name))
        self._show_guide()

    def _done(self, kept: Kept) -> None:
        self._running = None
        if self._film is None:
            return
        try:
            if ways(self.workspace) != self._meant:
                raise UserError(_("the routine was changed meanwhile"), do=_("drop the film again"))
            read = take_of(self._film, opened(self.workspace), kept)
        except UserError as error:
            self._failed(error)
            return
        if self.workspace.logbook is not None:
            self.workspace.logbook.keep_take(read.take)
        if kept.reading.alignment.by == "clap":
            self.workspace.standing.stand(FLOW, BY_CLAP)
        if kept.told:
            self.workspace.standing.stand(FLOW, f"{kept.told[:1].upper()}{kept.told[1:]}.")
        self.show_take(read.take)

    def _failed(self, error: UserError) -> None:
        self._running = None
        if isinstance(error, ClapOnly) and self._film is not None:
            self._ask_by_clap(self._film)
            return
        self.workspace.standing.stand(FLOW, error.sentence)
        if isinstance(error, MusicNotFound):
            self._set_by_hand()
        else:
            self.say(_("That film was not read; see below."))
            self._show_guide()

    def _ask_by_clap(self, film: Path) -> None:
        """Nothing is read or kept before this is answered."""
        lay = partial(self.take_path, film, by_clap=True)
        question = lay_by_clap(film.name, lay, self._set_by_hand)
        self.workspace.questions.ask("film", question)
        self.say(_("Is that a run of this routine? The answers are below."))
        self._show_guide()

    def _set_by_hand(self) -> None:
        self.say(_SET_BY_HAND)
        self._show_guide(by_hand=True)

    @Slot()
    def _watch(self) -> None:
        if self._running is not None and self._running not in self.workspace.jobs:
            if self._running.stopped:
                self._running = None
                self.say(_("Stopped: nothing was kept of that film."))
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
        return _(
            " Take {place} of {number}; {key_take_before} shows the one before.",
            place=place,
            number=len(shown),
            key_take_before=key("take_before"),
        )

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
        question = delete_film(take.film, self._delete, self.setFocus)
        self.workspace.questions.ask("film", question)

    def _delete(self) -> None:
        take, folder = self.take, self.workspace.folder
        if take is None or folder is None or not take.folder:
            return
        self.watching.close()
        try:
            delete_kept(folder, take.folder)
        except UserError as error:
            self.workspace.standing.stand(FLOW, error.sentence)
        if self._kept_takes:
            self.show_take(self._kept_takes[-1])
        else:
            self.say(
                _(
                    "The film kept of {film} is deleted; its readings are in the logbook.",
                    film=take.film,
                )
            )
            self._show_guide()

    # -- the film on the counts ----------------------------------------------------------------

    def show_take(self, take: TakeDone) -> None:
        """Show a take that was read, from its first hit."""
        self.watching.show_take(take, kept_film(self.workspace, take))
        self.sheet.show_take(take)
        self.say(f"{take.film}: {head(take)}{self._which(take)}")
        self._teach()
        self.front.setCurrentWidget(self.view)
        self._offer()
        self.setFocus()

    def _teach(self) -> None:
        self.view.told = teachings(self.workspace, self.sheet.takes)
        self.view.update()

    def _show_guide(self, *, by_hand: bool = False) -> None:
        self.front.setCurrentWidget(self.guide)
        if self._running is None and self._film is None:
            self._film_a_run()
        self.guide.ask_by_hand(by_hand)
        self._offer()

    @Slot()
    def _film_a_run(self) -> None:
        """How to film, and Space plays the run; the take that is shown stays behind."""
        self._set_full_screen(False)
        self.watching.stop()
        self.front.setCurrentWidget(self.guide)
        self.guide.ask_by_hand(False)
        self.say(_HOW)
        self.run.prepare()
        self._offer()
        self.setFocus()

    def _offer(self) -> None:
        showing = self.take is not None and self.front.currentWidget() is not self.guide
        watching = showing and self.front.currentWidget() is self.view
        guiding = self.front.currentWidget() is self.guide and self._running is None
        for name in self._buttons:
            possible = watching or (guiding and name == "film_play")
            self.bindings.allow(name, possible)
            self._buttons[name].setVisible(possible and not self.view.full_screen)
        if not showing and not self.guide.hand.isHidden():
            self.offer(_("Read it from that hit"))
        elif not showing:
            words = _("Contact sheet") if self.take is None else _("The film")
            self.offer(words, ready=self.take is not None)
        else:
            on_sheet = self.front.currentWidget() is self.sheet
            self.offer(_("The film") if on_sheet else _("Contact sheet"))
        self._label()

    @Slot()
    def _read_clap(self) -> None:
        """The hands meet in the picture that is shown: what the phone's pictures lag is read."""
        take, folder, seen = self.take, self.workspace.folder, self.watching.picture
        if take is None or folder is None or seen is None:
            return
        files = [kept_file(folder, take.folder, name) for name in (PROXY, SOUND)]
        if None in files:
            self.workspace.notice.say(_("The sound of this film is not kept: read the film again."))
            return
        self.watching.stop()
        self.workspace.run_job(
            _("Listening for the clap"), read_skew, *files, seen,
            done=lambda found: self._take_skew(take, *found),
            failed=lambda error: self.workspace.standing.stand(FLOW, error.sentence),
        )  # fmt: skip

    def _take_skew(self, take: TakeDone, skew: float | None, frame: float) -> None:
        if take is not self.take:
            return
        if skew is None:
            most = 1000 * doubt_of(frame)
            self.workspace.notice.say(
                _(
                    "Sound and picture are together within {most:.0f} ms, as far as a clap "
                    "can show.",
                    most=most,
                )
            )
            return
        new = without_skew(take, skew, frame)
        if self.workspace.logbook is not None:
            self.workspace.logbook.keep_take(new)
        self.sheet.takes = [new if each.id == new.id else each for each in self.sheet.takes]
        self.show_take(new)
        words = "behind" if skew > 0 else _("ahead of")
        self.workspace.notice.say(
            _(
                "The phone's pictures are {skew:.0f} ms {words} its sound: taken out.",
                skew=abs(1000 * skew),
                words=words,
            )
        )

    # -- two takes, and the whole screen -------------------------------------------------------

    @property
    def _other(self) -> TakeDone | None:
        """The take to be laid beside this one: the one before, else the one after."""
        shown = self._kept_takes
        if self.take not in shown or len(shown) < 2:
            return None
        place = shown.index(self.take)
        return shown[place - 1] if place else shown[1]

    @Slot()
    def _two_takes(self) -> None:
        other = self._other
        film = kept_film(self.workspace, other) if other is not None else None
        if not self.watching.two_takes(other, film):
            self.workspace.notice.say(_("There is no other take whose film is kept."))

    @Slot()
    def _toggle_full_screen(self) -> None:
        self._set_full_screen(not self.view.full_screen and self.front.currentWidget() is self.view)

    def _set_full_screen(self, on: bool) -> None:
        """The film on the whole screen, or among what is said of it."""
        if on == self.view.full_screen:
            return
        if on:
            distance = self.workspace.settings.get("distance_m")
            millimetres = Screen(self.workspace, self).pixel_mm()
            self.view.viewing = ViewingDistance(distance, millimetres)
            self._margins = self.column.contentsMargins()
        self.view.full_screen = on
        room = QMargins() if on else self._margins
        self.column.setContentsMargins(room)
        for widget in (self.heading, self.sentence, self.main, self.back, self.choose):
            widget.setVisible(not on)
        self._offer()
        self.fullScreenWanted.emit(on)
        self.setFocus()

    @Slot()
    def _label(self) -> None:
        music = self.watching.music
        playing = self.run.on or (music is not None and music.on)
        guiding = self.front.currentWidget() is self.guide
        words = _("Stop") if playing else _("Play the run") if guiding else _("Play")
        self.bindings.dress(self._buttons["film_play"], "film_play", words)
        looped = music is not None and music.loop is not None
        words = _("No loop") if looped else _("Loop")
        self.bindings.dress(self._buttons["film_loop"], "film_loop", words)
        beside = self.view.beside
        words = (
            _("Two takes")
            if beside is None
            else _("One alone")
            if beside.over
            else _("One over it")
        )
        self.bindings.dress(self._buttons["film_beside"], "film_beside", words)
        self.bindings.dress(self._buttons["full"], "full", _("Full screen"))
        self.bindings.dress(self._buttons["mirror"], "mirror", _("Mirror"))

    def do_main(self) -> None:
        """To the contact sheet, back to the film, or read it from a hit set by hand."""
        self._set_full_screen(False)
        if self.front.currentWidget() is self.guide:
            if self._film is not None and not self.guide.hand.isHidden():
                self.take_path(self._film, by_hand=True)
            elif self.take is not None:
                self.run.stop()
                self.show_take(self.take)
            return
        on_sheet = self.front.currentWidget() is self.sheet
        self.front.setCurrentWidget(self.view if on_sheet else self.sheet)
        self.watching.stop()
        self._offer()

    @Slot()
    def main_action(self) -> None:
        """Space: play the film with the music, or the run that is to be filmed; stop."""
        if self.front.currentWidget() is self.view:
            self.watching.toggle()
        elif self.front.currentWidget() is self.guide and self._running is None:
            self.run.toggle()

    @Slot()
    def _show_run(self) -> None:
        self.guide.show_run(self.run.on, self.run.before)
        self._label()

    @Slot(str)
    def _film_failed(self, sentence: str) -> None:
        self.workspace.standing.stand(FLOW, sentence)

    # -- the end -------------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Escape leaves the whole screen first."""
        if event.key() == Qt.Key.Key_Escape and self.view.full_screen:
            self._set_full_screen(False)
        else:
            super().keyPressEvent(event)

    def leave(self) -> None:
        """Back to the page; the reading of a film ends."""
        self._set_full_screen(False)
        self._film = None
        self.workspace.questions.drop("film")
        if self._running is not None:
            self.workspace.stop_job(self._running)
            self._running = None
        self.watching.close()
        self.run.stop()
        super().leave()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another size wants another picture."""
        super().resizeEvent(event)
        self.watching.ask_picture()
