"""Colours that let through what lies under them."""

from PySide6.QtGui import QColor


def tint(colour: str, alpha: float) -> QColor:
    """`colour` at `alpha` 0..1."""
    result = QColor(colour)
    result.setAlphaF(alpha)
    return result
