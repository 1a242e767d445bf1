"""Our own icons, drawn with one stroke weight, in any of the look's colours."""

from __future__ import annotations

from functools import cache

from PySide6.QtCore import QByteArray, QSize, Qt
from PySide6.QtGui import QIcon, QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer

from rehearse.files.resources import resource
from rehearse.ui import theme

SIZE = QSize(20, 20)


@cache
def icon(name: str, colour: str = theme.INK) -> QIcon:
    """The icon `resources/icons/<name>.svg` in `colour`, sharp at every pixel ratio."""
    drawing = resource(f"icons/{name}.svg").read_text().replace(theme.INK, colour)
    renderer = QSvgRenderer(QByteArray(drawing.encode()))
    result = QIcon()
    for ratio in (1, 2, 3):
        picture = QPixmap(SIZE * ratio)
        picture.fill(Qt.GlobalColor.transparent)
        painter = QPainter(picture)
        renderer.render(painter)
        painter.end()
        picture.setDevicePixelRatio(ratio)
        result.addPixmap(picture)
    return result
