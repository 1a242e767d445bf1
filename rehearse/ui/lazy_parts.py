"""The workspace's heavy parts, imported and made when they are first used."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from rehearse.ui.settings import Settings

if TYPE_CHECKING:
    from rehearse.playback.player import Player
    from rehearse.practice.keeper import Keeper
    from rehearse.work.pool import Workers


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
