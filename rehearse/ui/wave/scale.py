"""Seconds to pixels and back, and the bands into which the view is divided."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QRectF

from rehearse.ui import theme

#: Heights in pixels: eights above the wave, parts, certainty and seconds below it.
EIGHTS, PARTS, CERTAINTY, SECONDS = (
    4 * theme.STEP,
    3 * theme.STEP,
    3 * theme.STEP,
    3 * theme.STEP,
)


@dataclass(frozen=True)
class Scale:
    """The stretch [start, end) of the track laid over `width` × `height` pixels.

    Args:
        below: pixels kept free between wave and certainty, for layers of other pages.
    """

    start: float
    end: float
    width: float
    height: float
    below: float = 0.0

    @property
    def per_second(self) -> float:
        """Pixels in a second."""
        return self.width / max(1e-9, self.end - self.start)

    def x(self, time: float) -> float:
        """Pixels from the left of `time` (beyond the view where that lies outside)."""
        return (time - self.start) * self.per_second

    def time(self, x: float) -> float:
        """Seconds at `x` pixels from the left."""
        return self.start + x / self.per_second

    def shows(self, start: float, end: float) -> bool:
        """Whether any of [start, end] is in view."""
        return end >= self.start and start <= self.end

    @property
    def eights(self) -> QRectF:
        """Band of the counts."""
        return QRectF(0, 0, self.width, theme.px(EIGHTS))

    @property
    def wave(self) -> QRectF:
        """Band of the waveform."""
        top = theme.px(EIGHTS)
        bottom = (
            self.height - theme.px(PARTS) - theme.px(CERTAINTY) - theme.px(SECONDS) - self.below
        )
        return QRectF(0, top, self.width, max(1.0, bottom - top))

    @property
    def layers(self) -> QRectF:
        """Band under the wave that layers of other pages may fill."""
        return QRectF(0, self.wave.bottom(), self.width, self.below)

    @property
    def certainty(self) -> QRectF:
        """Band of how sure the beats are."""
        return QRectF(0, self.layers.bottom(), self.width, theme.px(CERTAINTY))

    @property
    def parts(self) -> QRectF:
        """Band of the parts of the song."""
        return QRectF(0, self.certainty.bottom(), self.width, theme.px(PARTS))

    @property
    def seconds(self) -> QRectF:
        """Band of the seconds."""
        return QRectF(0, self.parts.bottom(), self.width, theme.px(SECONDS))
