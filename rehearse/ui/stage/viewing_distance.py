"""How large a letter must be to be read from where the athlete stands.

ISO 9241-3: characters of at least 16′ of arc, 20–22′ preferred (from a copy of the standard).
NUREG-0700 rev. 2, 1.3.1-4: height = 6.283 · distance · minutes of arc / 21600.
"""

from __future__ import annotations

from dataclasses import dataclass

#: Minutes of arc of what must be taken in at a glance, and of what may be read at leisure.
GLANCE, LEAST = 22.0, 16.0
#: A 14 inch screen of 1920 × 1080 dots: what is assumed where the screen does not say.
USUAL_PIXEL_MM = 309.4 / 1920


def height_mm(distance: float, minutes: float) -> float:
    """Height in millimetres that spans `minutes` of arc at `distance` metres."""
    return 6.283 * distance * 1000 * minutes / 21600


@dataclass(frozen=True)
class ViewingDistance:
    """Where the athlete stands and what one pixel measures.

    Args:
        distance: metres from eye to screen, 0.5–10.
        pixel_mm: height of one logical pixel on the glass, in millimetres.
    """

    distance: float = 4.0
    pixel_mm: float = USUAL_PIXEL_MM

    def pixels(self, minutes: float) -> float:
        """Logical pixels that span `minutes` of arc."""
        return height_mm(self.distance, minutes) / self.pixel_mm
