"""Our own icons, drawn with one stroke weight, in any of the look's colours."""

from __future__ import annotations

import math
from functools import cache

from PySide6.QtCore import QByteArray, QSize, Qt
from PySide6.QtGui import QGuiApplication, QIcon, QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer

from rehearse.files.locations import resource
from rehearse.ui import theme

SIZE = QSize(20, 20)
_GROWTH = 2


@cache
def icon(name: str, colour: str = theme.INK) -> QIcon:
    """The icon `resources/icons/<name>.svg` in `colour`, sharp at the screen's pixel ratio and as
    large as it may grow.
    """
    drawing = resource(f"icons/{name}.svg").read_text(encoding="utf-8").replace(theme.INK, colour)
    renderer = QSvgRenderer(QByteArray(drawing.encode()))
    application = QGuiApplication.instance()
    assert isinstance(application, QGuiApplication)
    ratio = math.ceil(application.devicePixelRatio())
    picture = QPixmap(SIZE * ratio * _GROWTH)
    picture.fill(Qt.GlobalColor.transparent)
    with QPainter(picture) as painter:
        renderer.render(painter)
    picture.setDevicePixelRatio(ratio)  # more pixels than asked for are brought down
    return QIcon(picture)
