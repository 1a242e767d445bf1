"""What a picture looks like to whoever lacks one kind of cone, and what is left of it as shape.

Simulation: Machado, Oliveira & Fernandes, "A Physiologically-based Model for Simulation of Color
Vision Deficiency", IEEE TVCG 15 (2009), 1291–1298: matrices of severity 1.0 on linear RGB (values
from memory; that each row keeps white white is checked by `tests/ui/test_colour_blind.py`).
"""

from __future__ import annotations

import numpy as np
from PySide6.QtGui import QImage

KINDS = {
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritanopia": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}
#: Weights of relative luminance, and the contrast from which on a shape is one (WCAG 2.2,
#: definitions, and SC 1.4.11).
_WEIGHTS, SEEN = (0.2126, 0.7152, 0.0722), 3.0


def pixels(image: QImage) -> np.ndarray:
    """Shape (height, width, 3), sRGB 0..1."""
    plain = image.convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(plain.constBits(), np.uint8).reshape(plain.height(), -1)
    return rows[:, : 3 * plain.width()].reshape(plain.height(), plain.width(), 3) / 255


def linear(srgb: np.ndarray) -> np.ndarray:
    """sRGB to linear light (IEC 61966-2-1, with WCAG's threshold)."""
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def simulated(srgb: np.ndarray, kind: str) -> np.ndarray:
    """Linear light as it is for one kind of colour blindness."""
    return np.clip(linear(srgb) @ np.array(KINDS[kind]).T, 0.0, 1.0)


def luminance(light: np.ndarray) -> np.ndarray:
    """Relative luminance of linear light."""
    return light @ np.array(_WEIGHTS)


def contrast(one: np.ndarray | float, other: np.ndarray | float) -> np.ndarray:
    """Contrast ratio of two luminances."""
    high, low = np.maximum(one, other), np.minimum(one, other)
    return (high + 0.05) / (low + 0.05)


def shape(image: QImage, ground: str, kind: str) -> np.ndarray:
    """Where something can be told from the ground, whatever its colour: a mask."""
    base = np.array([int(ground[k : k + 2], 16) / 255 for k in (1, 3, 5)])
    return contrast(
        luminance(simulated(pixels(image), kind)), float(luminance(simulated(base, kind)))
    ) >= (SEEN)


def differing(one: QImage, other: QImage, ground: str, kind: str) -> int:
    """How many pixels are shape in one picture and ground in the other."""
    return int(np.count_nonzero(shape(one, ground, kind) != shape(other, ground, kind)))
