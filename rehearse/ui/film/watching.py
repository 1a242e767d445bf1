"""Watching a film on the counts: played, stepped through, looped, two takes at once."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, Qt, Signal, Slot
from PySide6.QtGui import QImage

from rehearse.practice.takelog import TakeDone
from rehearse.ui.film.beside import Beside
from rehearse.ui.film.feeder import Feeder
from rehearse.ui.film.film_data import beats_of, ways
from rehearse.ui.film.film_music import FilmMusic
from rehearse.ui.film.view import FilmView
from rehearse.ui.workspace import Workspace
from rehearse.words import _

#: Pixels a picture is asked for at most.
_WIDEST = 1280
#: Seconds by which a picture may be early: half of the time between two looks at the music.
_EARLY = 0.008
#: Looks at the music, 16 ms apart, without a picture after which the view is painted all the same.
_LOOKS = 2
#: Seconds of the music before the first hit and after the last one of what is played.
_AROUND = 3.0


class Watching(QObject):
    """One take, its film and its music; another take may go along.

    Attributes:
        take: what is shown; None: nothing.

    Signals:
        changed: it plays, loops or shows two takes otherwise. failed: one sentence.
    """

    changed = Signal()
    failed = Signal(str)

    def __init__(self, workspace: Workspace, view: FilmView) -> None:
        super().__init__()
        self._workspace, self.view = workspace, view
        self.take: TakeDone | None = None
        self.music: FilmMusic | None = None
        self.feeder: Feeder | None = None
        self._looks = 0  # at the music since the view was painted
        self.picture: float | None = None  # second of the film of the picture that is shown

    def show_take(self, take: TakeDone, film: Path | None) -> None:
        """Show a take from its first hit; `film` is None where it is not kept."""
        self.close()
        self.take = take
        inside = [pose for pose in take.poses if pose.film >= 0]
        start = max(0.0, inside[0].hit - _AROUND if inside else 0.0)
        end = (inside[-1].hit if inside else 0.0) + _AROUND
        first = min(start, take.offset)  # the film's own beginning
        self.music = FilmMusic(self._workspace, start, end, first=first)
        self.music.moved.connect(self._moved)
        self.music.changed.connect(self._changed)
        view = self.view
        view.poses, view.beats = take.poses, beats_of(self._workspace)
        view.refused, view.image = take.refused, QImage()
        view.note = "" if film else _("The film for looking at is not kept here any more.")
        view.taken = f"{take.filmed:%d %b %Y, %H:%M}"
        if film is not None:
            self.feeder = Feeder(film)
            self.feeder.shown.connect(self._shown, Qt.ConnectionType.QueuedConnection)
            self.feeder.stepped.connect(self._stepped, Qt.ConnectionType.QueuedConnection)
            self.feeder.failed.connect(self.failed, Qt.ConnectionType.QueuedConnection)
        if inside:
            self.music.go(inside[0].hit)

    def two_takes(self, other: TakeDone | None, film: Path | None) -> bool:
        """Beside each other, then one over the other, then one alone; False: there is no other."""
        beside = self.view.beside
        if beside is not None:
            if beside.over:
                self._close_beside()
            beside.over = True
        elif other is None or film is None:
            return False
        else:
            earlier = self.take is None or other.filmed <= self.take.filmed
            self.view.beside = beside = Beside(other, film, earlier=earlier)
            beside.changed.connect(self.view.update)
            beside.failed.connect(self.failed)
            self.ask_picture()
        self.view.update()
        self.changed.emit()
        return True

    def ask_picture(self) -> None:
        """Ask for the pictures of this moment, as wide as there is room."""
        width = min(_WIDEST, self.view.picture_width)
        if self.take is None or self.music is None:
            return
        playing, second = self.music.on, self.film_second()
        if self.feeder is not None and not playing:
            self.feeder.ask(second, width)
        elif self.feeder and (found := self.feeder.play(second + _EARLY, width, self.music.tempo)):
            self._shown(*found)
        if self.view.beside is not None:
            self.view.beside.ask(self.music.second, width, self.music.tempo if playing else 0.0)

    def film_second(self) -> float:
        """The second of the film at which the music is."""
        take, music = self.take, self.music
        return 0.0 if take is None or music is None else (music.second - take.offset) / take.rate

    def stop(self) -> None:
        """The music stops."""
        if self.music is not None:
            self.music.stop()

    def toggle(self) -> None:
        """Play, or stop."""
        if self.music is not None:
            self.music.toggle()

    def step(self, by: int) -> None:
        """The picture before or after."""
        if self.feeder is not None and self.music is not None:
            self.music.stop()
            self.feeder.step(self.film_second(), by)

    def go_beat(self, by: int) -> None:
        """The count before or after."""
        self._go([beat.second for beat in self.view.beats], by)

    def go_hit(self, by: int) -> None:
        """The hit before or after."""
        self._go([pose.hit for pose in self.view.poses], by)

    def _go(self, seconds: list[float], by: int) -> None:
        if self.music is None:
            return
        here = self.music.second
        if by > 0:
            after = [s for s in seconds if s > here + 0.005]
            target = after[0] if after else here
        else:
            # While it plays, the place just passed is the one before: two presses go further.
            slack = 0.3 if self.music.on else 0.005
            before = [s for s in seconds if s < here - slack]
            target = before[-1] if before else here
        self.music.go(target)

    def toggle_loop(self) -> None:
        """Loop the way into this pose, or no more."""
        pose = self.view.current()
        if self.music is None or pose is None:
            return
        stretch = None
        if self.music.loop is None:
            around = pose.hit - 1.5, pose.hit, pose.hit + 1.5
            start, _unused, end = ways(self._workspace).get(pose.pose, around)
            stretch = max(0.0, start - 0.5), max(end, pose.hit + 1.0)
        self.music.set_loop(stretch)

    def mirror(self) -> None:
        """As in a mirror, or as filmed."""
        self.view.mirrored = not self.view.mirrored
        self.view.update()

    def change_tempo(self, by: float) -> None:
        """Slower or faster music; the film goes along."""
        if self.music is not None:
            self.music.set_tempo(self.music.tempo + by)

    @Slot()
    def _moved(self) -> None:
        if self.music is not None:
            self.view.second = self.music.second
            self.ask_picture()
            # While it plays, the view is painted with each picture; without one, now and then.
            self._looks += 1
            if not self.music.on or self._looks > _LOOKS:
                self._paint()

    @Slot()
    def _changed(self) -> None:
        tempo = 1.0 if self.music is None else self.music.tempo
        self.view.note = _("music at {tempo:.0f} %", tempo=100 * tempo) if tempo != 1 else ""
        self.view.update()
        self.changed.emit()

    @Slot(float, QImage)
    def _shown(self, own: float, image: QImage) -> None:
        self.view.image, self.picture = image, own
        self._paint()

    def _paint(self) -> None:
        self._looks = 0
        self.view.update()

    @Slot(float)
    def _stepped(self, film_second: float) -> None:
        if self.music is not None and self.take is not None:
            self.music.go(self.take.offset + (film_second + 1e-4) * self.take.rate)

    def _close_beside(self) -> None:
        beside, self.view.beside = self.view.beside, None
        if beside is not None:
            beside.close()
            beside.deleteLater()

    def close(self) -> None:
        """Nothing is shown or played any more."""
        self._close_beside()
        if self.music is not None:
            self.music.stop()
            self.music.deleteLater()
            self.music = None
        if self.feeder is not None:
            self.feeder.close()
            self.feeder = None
        self.take = self.picture = None
