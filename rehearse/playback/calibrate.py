"""The delay of a speaker that nothing reports, found by tapping along.

Wireless speakers play 100–250 ms late without saying so. The user claps or taps to a steady click
they hear; each tap is compared with the click before it. Repeated taps of one person scatter
by some tens of milliseconds and tend to be early by about as much (common in tapping studies, see
Repp 2005, Psychonomic Bulletin & Review 12, 969–992): the spread is told, so that a doubtful
result can be repeated, and the same error on both sides of two devices cancels.
"""

from __future__ import annotations

import json
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from rehearse.files.atomic import save_atomic
from rehearse.files.user_error import UserError
from rehearse.words import _

#: Taps needed, and a spread (s) above which the result should be repeated.
TAPS, DOUBTFUL = 8, 0.04
#: No speaker is later than this (s), and no tap earlier than its click by more.
LATEST, EARLY = 0.6, 0.08


@dataclass(frozen=True)
class Delay:
    """A measured delay in seconds, and the median distance of the taps from it."""

    seconds: float
    spread: float

    @property
    def doubtful(self) -> bool:
        """True when the taps scatter too much to trust."""
        return self.spread > DOUBTFUL


def measure_delay(clicks: Sequence[float], taps: Sequence[float]) -> Delay:
    """The delay from when clicks were due and when they were tapped.

    Args:
        clicks: seconds at which the device was to play each click (without calibration), at least
            0.7 s apart, so that a late tap cannot be taken for an early one.
        taps: seconds of each tap, same clock, any order; extra or missing taps do no harm.

    Raises:
        UserError: fewer than eight taps belong to a click.
    """
    late = []
    for tap in taps:
        before = [click for click in clicks if click <= tap + EARLY]
        if before and tap - max(before) <= LATEST:
            late.append(tap - max(before))
    if len(late) < TAPS:
        raise UserError(
            _("only {number} taps fit the clicks", number=len(late)),
            do=_("tap to {taps} clicks again", taps=TAPS),
        )
    seconds = statistics.median(late)
    spread = statistics.median(abs(value - seconds) for value in late)
    return Delay(max(0.0, seconds), spread)


class Delays:
    """The delay of each device, by its name, in a small file.

    Args:
        path: of the file; None: in the user's folder for settings.
    """

    def __init__(self, path: Path | None = None) -> None:
        if path is None:
            import platformdirs

            path = Path(platformdirs.user_config_path("rehearse")) / "speakers.json"
        self.path = path

    def of(self, device: str) -> float:
        """Seconds; 0 for a device never calibrated. An unreadable file counts as empty."""
        return self._load().get(device, 0.0)

    def set(self, device: str, seconds: float) -> None:
        """Keep a device's delay.

        Raises:
            UserError: the file cannot be written.
        """
        self.path.parent.mkdir(parents=True, exist_ok=True)
        data = json.dumps({**self._load(), device: round(seconds, 4)}, indent=1, sort_keys=True)
        save_atomic(self.path, data.encode())

    def _load(self) -> dict[str, float]:
        try:
            data = json.loads(self.path.read_text("utf-8"))
            return {str(k): float(v) for k, v in data.items() if 0 <= float(v) <= LATEST}
        except (OSError, ValueError, AttributeError, TypeError):
            return {}
