"""Counts hits and misses of a map against the truth of a made song."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import mir_eval
import numpy as np

Span = tuple[float, float]


@dataclass
class Tally:
    """Right, too many, missed; in events or in hundredths of a second."""

    right: int = 0
    extra: int = 0
    missed: int = 0

    def __iadd__(self, other: Tally) -> Tally:
        self.right += other.right
        self.extra += other.extra
        self.missed += other.missed
        return self

    @property
    def precision(self) -> float:
        return self.right / max(1, self.right + self.extra)

    @property
    def recall(self) -> float:
        return self.right / max(1, self.right + self.missed)

    @property
    def f(self) -> float:
        return 2 * self.right / max(1, 2 * self.right + self.extra + self.missed)


def events(truth: Sequence[float], found: Sequence[float], window: float = 0.05) -> Tally:
    """One-to-one matches within `window` seconds, as mir_eval counts onsets."""
    matched = mir_eval.util.match_events(np.asarray(truth), np.asarray(found), window)
    return Tally(len(matched), len(found) - len(matched), len(truth) - len(matched))


def spans(truth: Sequence[Span], found: Sequence[Span], duration: float) -> Tally:
    """Hundredths of a second that are in both, only found, only true."""
    is_true, is_found = _mask(truth, duration), _mask(found, duration)
    return Tally(
        int((is_true & is_found).sum()),
        int((is_found & ~is_true).sum()),
        int((is_true & ~is_found).sum()),
    )


def whole_spans(truth: Sequence[Span], found: Sequence[Span]) -> Tally:
    """Spans of which more than half of what either covers is common to both."""
    left = list(truth)
    right = 0
    for span in found:
        best = max(left, key=lambda t: _overlap(t, span), default=None)
        if best is not None and _overlap(best, span) > 0.5:
            left.remove(best)
            right += 1
    return Tally(right, len(found) - right, len(left))


def _overlap(a: Span, b: Span) -> float:
    common = max(0.0, min(a[1], b[1]) - max(a[0], b[0]))
    return common / (max(a[1], b[1]) - min(a[0], b[0]))


def _mask(spans: Sequence[Span], duration: float) -> np.ndarray:
    mask = np.zeros(int(duration * 100) + 1, bool)
    for start, end in spans:
        mask[int(start * 100) : int(end * 100)] = True
    return mask
