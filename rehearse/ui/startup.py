"""What lets the window open quickly, all of it explained here.

The first picture is to stand within 2.5 times of what a bare Qt window takes, as measured by
`python -m tests.bench.start`. What is done for it:

1. **Imports before Qt.** Qt for Python replaces the import function, which slows down every import
   after it: what the first picture needs anyway is imported at the head of this file, and this
   file before Qt. NumPy takes as long as all of Qt; it is not among them, nor is SQLite.
2. **A deferred workspace.** `app.run` makes `Workspace(deferred=True)`: it reads the routine and
   its map and nothing else. When the window has painted, `Workspace.finish_start` reads the song,
   opens the logbook and sends `startFinished`.
3. **The stage alone.** The Rehearse page shows its stage with room kept free for the rest and
   makes that in `build_controls`, at `startFinished`. The stage's first picture is painted plain
   (`StageView`), the window's other pages are made when they are first shown (`Window`).
4. **Parts made when they are first used**: workers, player and logbook, by the functions below.
   Whether another window has the folder is asked after the first picture, before any edit.
5. **The collector** stands still until the window is up and is tamed then (`tame_collector`).
6. **What was worked out at an earlier start** is kept beside Python's byte code: the catalogues of
   poses and moves as they were read (`files/compiled.py`), the methods of data classes
   (`files/quick_start.py`, begun by `cli.py` before anything of the window is imported).
7. **Classes of Qt that the first picture does without.** Qt for Python makes the class of each name
   when it is first met, and Python's enums of it, member by member. It meets all of a library's
   classes when Qt hands it a widget that Python did not make (`viewport`, `findChildren`,
   `setStyle`), and those of gradients, icons and file dialogs in overloaded calls: see
   `Application`'s style, `Pages._fit`, `Growth._grow`, `colours.fill` and `Bindings`.

So an import inside a function means one of four things: it is among what the first picture goes
without; it is a large library that few runs need (librosa, av, PIL, reportlab); only one command of
`cli.py` needs it; or it would close
a circle. Anything else is imported at the head of its file. `tests/ui/test_start.py` fails when
something large is loaded before the first picture.
"""

# isort: off
from __future__ import annotations

import gc
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import rehearse.cueing.cues
import rehearse.routine.folder
import rehearse.routine.posefile
import rehearse.ui.stage.changes
import rehearse.ui.stage.frame_timer
import rehearse.ui.stage.showing
import rehearse.ui.stage.stage_options  # noqa: F401

from PySide6.QtCore import QCoreApplication, QObject, QTimer, Slot

if TYPE_CHECKING:
    from rehearse.playback.player import Player
    from rehearse.practice.keeper import Keeper
    from rehearse.ui.settings import Settings
    from rehearse.work.pool import Workers
# isort: on


def make_workers() -> Workers:
    """The worker processes."""
    from rehearse.work.pool import Workers

    return Workers()


def make_player() -> Player:
    """A player that knows the delays found on this machine."""
    from rehearse.playback.calibrate import Delays
    from rehearse.playback.player import Player

    return Player(delays=Delays())


def set_sound(player: Player, settings: Settings) -> None:
    """Whether there is to be sound, and how loud, as it is set on this machine now."""
    player.silent = settings.get("silent")
    for kind in ("music", "click", "speech"):
        player.volume(kind, settings.get(f"volume_{kind}"))


def open_logbook(
    folder: Path,
    identity: str,
    on_error: Callable[[str], None],
    post: Callable[[Callable[[], None]], None],
    after: Iterable[Keeper] = (),
) -> Keeper:
    """The logbook of a routine folder, whatever is found there, on a thread of its own.

    Args:
        identity: the routine's own name. on_error: told in one sentence what went wrong.
        post: brings a call to the window's thread. after: those that have to be done first.
    """
    from rehearse.practice.keeper import Keeper
    from rehearse.practice.logbook import FILE_NAME

    path = folder / FILE_NAME
    return Keeper(path, identity=identity, on_error=on_error, post=post, after=after)


#: Objects and collections of each generation from which on it is collected, and how often in
#: milliseconds it is looked.
_MANY, _LOOK = (50_000, 50, 1000), 1000


class Collector(QObject):
    """Collects garbage in the window's thread and in no other.

    Python collects in whichever thread happens to ask for memory; a widget taken apart in the
    logbook's thread takes the program with it.
    """

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        gc.disable()
        timer = QTimer(self, interval=_LOOK)
        timer.timeout.connect(self.look)
        timer.start()

    @Slot()
    def look(self) -> None:
        """Collect the oldest generation that is due."""
        counts = gc.get_count()
        for generation in (2, 1, 0):
            if counts[generation] > _MANY[generation]:
                gc.collect(generation)
                return


def tame_collector() -> Collector:
    """Keep what lives now out of every collection, and make the others seldom and here.

    What lives now lives to the end; a full collection in mid-pose would stall the window.
    """
    gc.collect()
    gc.freeze()
    application = QCoreApplication.instance()
    assert application is not None
    return Collector(application)
