"""Text and controls grow with the window, so that a large screen is read from further away.

The look's sizes follow the window's height in steps; what was given a fixed size in pixels, as the
look was at its first size, is grown by the same factor. A widget that fits itself to the window
sets the property `fitsItself` and uses `theme.px`.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QSize, QTimer, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QHeaderView,
    QListView,
    QWidget,
)

from rehearse.files.locations import resource
from rehearse.ui import theme
from rehearse.ui.fonts import load_fonts

#: Milliseconds of rest after a change of size before text grows: it moves all there is.
_SETTLE = 120
_MOST = 16777215  # Qt's QWIDGETSIZE_MAX: no limit


def style() -> str:
    """The style sheet in the sizes of now."""
    return theme.style_sheet(load_fonts(), resource("icons/down.svg").as_posix())


class Growth(QObject):
    """Keeps the sizes of one window."""

    def __init__(self, window: QWidget) -> None:
        super().__init__(window)
        self._window = window
        self._settle = QTimer(self, singleShot=True, interval=_SETTLE)
        self._settle.timeout.connect(self.follow)
        self._later = QTimer(self, singleShot=True, interval=0)
        self._later.timeout.connect(self._grow)

    @Slot()
    def follow(self) -> None:
        """Take the sizes that the window has room for; the stage alone has its own."""
        window = self._window
        if window.isFullScreen():
            return
        scale = theme.scale_for(window.width(), window.height())
        if scale != theme.scale():
            theme.set_scale(scale)
            application = QApplication.instance()
            assert isinstance(application, QApplication)
            application.setStyleSheet(style())
            self._grow()
            self._lay_out_anew()
        else:
            self._grow()

    def _lay_out_anew(self) -> None:
        """What follows from the sizes of type is worked out when a widget gets another size."""
        for widget in self._window.findChildren(QWidget):
            if isinstance(widget, QAbstractItemView):
                widget.scheduleDelayedItemsLayout()
            QApplication.sendEvent(widget, QResizeEvent(widget.size(), widget.size()))
            widget.update()

    def notice(self, event: QEvent) -> None:
        """An event of the window: it has another size, or something in it is new."""
        if event.type() == QEvent.Type.Resize and self._window.isVisible():
            self._settle.start()
        elif event.type() in (QEvent.Type.Resize, QEvent.Type.Show):
            self.follow()  # its first picture is as large as it will be
        is_new = event.type() == QEvent.Type.LayoutRequest and theme.scale() != 1.0
        if is_new and not self._later.isActive():
            self._later.start()

    @Slot()
    def _grow(self) -> None:
        scale = theme.scale()
        for widget in self._window.findChildren(QWidget):
            grown = widget.property("grown") or 1.0
            if grown != scale and not widget.property("fitsItself"):
                widget.setProperty("grown", scale)
                _grow(widget, scale / grown)


def _grow(widget: QWidget, times: float) -> None:
    """Make the sizes that a widget was given so many times as large; the style sheet's own grew."""
    if widget.property("_q_stylesheet_minw") is None and widget.minimumWidth() > 0:
        _keep(widget.setMinimumWidth, widget.minimumWidth(), times)
    if widget.property("_q_stylesheet_minh") is None and widget.minimumHeight() > 0:
        _keep(widget.setMinimumHeight, widget.minimumHeight(), times)
    if widget.property("_q_stylesheet_maxw") is None and widget.maximumWidth() < _MOST:
        _keep(widget.setMaximumWidth, widget.maximumWidth(), times)
    if widget.property("_q_stylesheet_maxh") is None and widget.maximumHeight() < _MOST:
        _keep(widget.setMaximumHeight, widget.maximumHeight(), times)
    if isinstance(widget, QHeaderView):
        widget.setDefaultSectionSize(round(widget.defaultSectionSize() * times))
    if isinstance(widget, QListView) and widget.gridSize().isValid():
        widget.setGridSize(_times(widget.gridSize(), times))
    if isinstance(widget, QAbstractButton):
        if not widget.icon().isNull():
            widget.setIconSize(_times(widget.iconSize(), times))
    elif isinstance(widget, QListView) and widget.iconSize().isValid():
        widget.setIconSize(_times(widget.iconSize(), times))


def _times(size: QSize, times: float) -> QSize:
    return QSize(round(size.width() * times), round(size.height() * times))


def _keep(setter: object, pixels: int, times: float) -> None:
    setter(round(pixels * times))  # type: ignore[operator]
