"""When the next frame is due, and for which moment it is painted.

A frame that must not be late – a count, a hit – is timed on its own: it is begun so long before
the change as painting takes, and shows the moment at which it will be seen. What painting takes
is learnt from the last such frames, apart for hits (they change everything) and counts.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import replace
from typing import TYPE_CHECKING

from rehearse.cueing.cues import CueSheet

if TYPE_CHECKING:
    from rehearse.session.session_view import SessionView

#: Seconds from frame to frame where nothing needs one sooner.
PACE = 1 / 60
#: Seconds before a change from which on nothing slow is begun.
HURRY = 0.03
#: The clock must be past the change, not just at it.
_PAST = 0.0006
#: How many frames are remembered, and the longest time that one is trusted to take.
_KEPT, _LONGEST = 7, 0.03


def _median(values: deque[float]) -> float:
    # The library's costs ten times as much to import as everything here.
    return sorted(values)[len(values) // 2]


class FrameTimer:
    """Learns what frames cost and plans the next."""

    def __init__(self) -> None:
        self._whole, self._part = deque([0.004] * 3, _KEPT), deque([0.003] * 3, _KEPT)

    @property
    def whole(self) -> float:
        """Seconds a frame of a hit takes."""
        return _median(self._whole)

    @property
    def part(self) -> float:
        """Seconds a frame of a count takes."""
        return _median(self._part)

    def took(self, seconds: float, *, whole: bool) -> None:
        """A frame that was timed on its own took so long, from the question to the screen."""
        (self._whole if whole else self._part).append(min(seconds, _LONGEST))

    def ahead(self, view: SessionView, sheet: CueSheet) -> SessionView:
        """The view as it will be when a frame begun now is seen."""
        if view.state not in ("music", "count-in") or view.plan is None or view.cue_state is None:
            return view
        plan, left = view.plan, view.cue_state.seconds
        is_hit = left is not None and left / plan.tempo <= self.whole + _PAST
        beyond = (self.whole if is_hit else self.part) - view.lead
        if beyond < 0:
            from rehearse.session.session_view import lead_in_state

            return replace(view, cue_state=lead_in_state(sheet, plan, beyond), lead=-beyond)
        time = min(view.heard + beyond * plan.tempo, plan.end)
        from rehearse.session.session_view import music_state

        cue_state = music_state(sheet, plan, time, view.coming)
        return replace(view, state="music", cue_state=cue_state, lead=0.0)

    def due(self, view: SessionView | None) -> float:
        """Seconds until the next frame should be begun, from the last question on."""
        soon = [t for t in self._ahead(view) if t > 0]
        return min(PACE, min(soon, default=PACE))

    def hurried(self, view: SessionView | None) -> bool:
        """Whether a change is so near that nothing slow should be begun."""
        return any(-0.002 < t < HURRY for t in self._ahead(view))

    def _ahead(self, view: SessionView | None) -> list[float]:
        """Seconds until the frames of the next count and the next hit should be begun."""
        if view is None or view.cue_state is None or view.plan is None:
            return []
        if view.state not in ("music", "count-in"):
            return []
        cue_state, tempo, result = view.cue_state, view.plan.tempo, []
        if cue_state.counts is not None and cue_state.interval:
            part = cue_state.counts - math.floor(cue_state.counts)
            result.append(part * cue_state.interval / tempo + _PAST - self.part)
        if cue_state.seconds is not None:
            result.append(cue_state.seconds / tempo + _PAST - self.whole)
        return result
