"""Pictures of a kept film for the window, decoded on a thread of its own.

While the film stands, the newest wish is served. While it plays, the thread works ahead: some
pictures lie ready, as large as they are painted, and each is fetched when its moment has come; one
that comes too late is not made at all.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QImage

from rehearse.files.user_error import UserError
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.film.proxy import FilmFrames

#: Seconds that closing waits for the thread.
_ENDING = 2.0
#: Pictures that lie ready while the film plays, and seconds by which the film may go on without
#: being elsewhere.
AHEAD, _ON = 4, 0.5
#: Pixels of width by which a picture is not another size.
_ALIKE = 4
#: How much of the time that one picture took is believed, and seconds that it takes at most.
_LEARNT, _SLOWEST = 0.2, 0.25

#: A picture's own second of the film, and the picture.
Shown = tuple[float, QImage]


class Feeder(QObject):
    """Decodes what is asked for; what was asked for before and is not begun yet is forgotten.

    Signals:
        shown: a picture's own second of the film, and the picture. stepped: the second of the
        picture before or after. failed: one sentence.
    """

    shown = Signal(float, QImage)
    stepped = Signal(float)
    failed = Signal(str)

    def __init__(self, path: Path) -> None:
        super().__init__()
        self._path = path
        self._wish: tuple[str, float, int] | None = None
        self._playing: tuple[float, int] | None = None  # where it is, and pixels of width
        self._told, self._tempo = 0.0, 1.0  # when that was said
        self._takes = 0.0  # seconds to make a picture
        self._ready: deque[Shown] = deque()
        self._last: float | None = None  # second of the newest picture made ahead
        self._jumps = 0  # what was begun before the newest one is of no use
        self._ended = False
        self._turn = threading.Condition()
        self._thread = threading.Thread(target=self._run, name="film", daemon=True)
        self._thread.start()

    def ask(self, second: float, width: int) -> None:
        """Show the picture of this second, `width` pixels wide at most."""
        self._put(("show", second, width))

    def step(self, second: float, by: int) -> None:
        """Say the second of the picture before (−1) or after (1) the one shown then."""
        self._put(("step", second, by))

    def play(self, second: float, width: int, tempo: float = 1.0) -> Shown | None:
        """The film plays and is at this second: the picture whose moment has come.

        Args:
            tempo: seconds of the film that go by in one.

        Returns:
            None: it is still the one given last, or not there yet.
        """
        with self._turn:
            before = self._playing
            if before is not None and abs(before[1] - width) <= _ALIKE:
                width = before[1]  # the room is taken from the last picture's rounded sides
            self._playing = second, width
            self._told, self._tempo = time.perf_counter(), tempo
            if before is None or before[1] != width or not -0.05 < second - before[0] < _ON:
                self._jump()  # of another size, or elsewhere
            found = None
            while self._ready and self._ready[0][0] <= second:
                found = self._ready.popleft()
            self._turn.notify()
            return found

    def close(self) -> None:
        """End the thread and close the film."""
        with self._turn:
            self._ended = True
            self._turn.notify()
        self._thread.join(_ENDING)

    def _put(self, wish: tuple[str, float, int]) -> None:
        with self._turn:
            self._playing = None
            self._jump()
            if self._wish is None or self._wish[0] != "step" or wish[0] == "step":
                self._wish = wish
            self._turn.notify()

    def _jump(self) -> None:
        self._ready.clear()
        self._last = None
        self._jumps += 1

    def _next(self) -> tuple[str, float, int] | None:
        """What is to be done next: a wish, else the next picture ahead; None: nothing any more."""
        with self._turn:
            while not self._ended:
                wish, self._wish = self._wish, None
                if wish is not None:
                    return wish
                if self._playing is not None and len(self._ready) < AHEAD:
                    return ("ahead", *self._playing)
                self._turn.wait()
            return None

    def _run(self) -> None:
        from rehearse.film.proxy import FilmFrames

        try:
            frames = FilmFrames(self._path)
        except (UserError, OSError) as error:
            said = error.sentence if isinstance(error, UserError) else _("The film cannot be read.")
            self.failed.emit(said)
            return
        try:
            while (wish := self._next()) is not None:
                self._do(frames, *wish)
        except UserError as error:
            self.failed.emit(error.sentence)
        finally:
            frames.close()

    def _do(self, frames: FilmFrames, what: str, second: float, number: int) -> None:
        if what == "step":
            self.stepped.emit(frames.beside(second, number))
        elif what == "show":
            if frames.find(second) and (picture := _picture(frames, number)) is not None:
                self.shown.emit(*picture)
        else:
            self._work_ahead(frames, second, number)

    def _work_ahead(self, frames: FilmFrames, second: float, width: int) -> None:
        """Make the next picture that is not too late; wait where the film has ended."""
        begun = time.perf_counter()
        with self._turn:
            last, jumps = self._last, self._jumps
            # Where it will be once this picture is there, however long the window was busy.
            second += self._tempo * min(begun - self._told + self._takes, _SLOWEST)
        there = frames.find(second) if last is None else frames.after(last, second)
        picture = _picture(frames, width) if there else None
        self._takes += _LEARNT * (time.perf_counter() - begun - self._takes)
        with self._turn:
            if self._jumps != jumps:
                return
            if picture is not None:
                self._ready.append(picture)
                self._last = picture[0]
                return
            here = self._playing
            self._turn.wait_for(lambda: self._playing != here or self._wish or self._ended)


def _picture(frames: FilmFrames, width: int) -> Shown | None:
    found = frames.picture(width, "bgra")
    if found is None:
        return None
    own, pixels = found
    height, wide = pixels.shape[:2]
    image = QImage(pixels.data, wide, height, 4 * wide, QImage.Format.Format_RGB32)
    return own, image.copy()
