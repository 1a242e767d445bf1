"""Pictures of a kept film for the window: decoded on a thread of its own, the newest wish first."""

from __future__ import annotations

import threading
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


class Feeder(QObject):
    """Decodes what is asked for; what was asked for before and is not begun yet is forgotten.

    Signals:
        shown: film second asked for, its picture's own second, and the picture.
        stepped: the second of the picture before or after. failed: one sentence.
    """

    shown = Signal(float, float, QImage)
    stepped = Signal(float)
    failed = Signal(str)

    def __init__(self, path: Path) -> None:
        super().__init__()
        self._path = path
        self._wish: tuple[str, float, int] | None = None
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

    def close(self) -> None:
        """End the thread and close the film."""
        with self._turn:
            self._ended = True
            self._turn.notify()
        self._thread.join(_ENDING)

    def _put(self, wish: tuple[str, float, int]) -> None:
        with self._turn:
            if self._wish is None or self._wish[0] != "step" or wish[0] == "step":
                self._wish = wish
            self._turn.notify()

    def _next(self) -> tuple[str, float, int] | None:
        with self._turn:
            while self._wish is None and not self._ended:
                self._turn.wait()
            wish, self._wish = self._wish, None
            return None if self._ended else wish

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
            return
        found = frames.at(second, number, "bgra")
        if found is None:
            return
        own, pixels = found
        height, width = pixels.shape[:2]
        image = QImage(pixels.data, width, height, 4 * width, QImage.Format.Format_RGB32)
        self.shown.emit(second, own, image.copy())
