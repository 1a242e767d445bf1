"""Text and controls grow with the window, so that a large screen is read from further away.

The look's sizes follow the window's height in steps; what was given a fixed size in pixels, as the
look was at its first size, is grown by the same factor. A widget that fits itself to the window
sets the property `fitsItself` and uses `theme.px`.
"""

from __future__ import annotations

import math

from PySide6.QtCore import QEvent, QObject, QSize, Qt, QTimer, Slot
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QScrollArea,
    QStackedWidget,
    QWidget,
)

from rehearse.files.locations import resource
from rehearse.ui import theme
from rehearse.ui.fonts import FALLBACK, load_fonts
from rehearse.ui.settings import Settings

#: Milliseconds of rest after a change of size before text grows: it moves all there is.
_SETTLE = 120
#: Height that a page has in the smallest window, in pixels.
_PAGE = 65 * theme.STEP
#: The least and the most that text can be made, by the athlete's own wish, and the step between.
TEXT_SIZES, TEXT_STEP = (0.8, 2.0), 0.1
_MOST = 16777215  # Qt's QWIDGETSIZE_MAX: no limit


def style() -> str:
    """The style sheet in the sizes of now."""
    return theme.style_sheet((load_fonts(), FALLBACK), resource("icons/down.svg").as_posix())


def wished(settings: Settings) -> float:
    """How many times as large as at first the athlete wants text."""
    return _within(settings.get("text_size"))


def _within(size: float) -> float:
    least, most = TEXT_SIZES
    return round(min(most, max(least, size)), 2) if math.isfinite(size) else 1.0


class Pages(QScrollArea):
    """Holds what fills the window; scrolls where large text needs more room than there is.

    With text of its first size it takes the room its content needs, as if it were not there.
    """

    def __init__(self, content: QStackedWidget, settings: Settings) -> None:
        super().__init__()
        self._content, self._settings = content, settings
        #: The most room that was needed since the view had another size; see `_fit`.
        self._needed, self._for = QSize(0, 0), (QSize(0, 0), 1.0, 0)
        self._new = False  # another page has come
        self._later = QTimer(self, singleShot=True, interval=0)
        self._later.timeout.connect(self._fit)
        self.setObjectName("pages")
        self.setFrameShape(QScrollArea.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setWidget(content)
        self._settle()
        settings.changed.connect(self._heard)
        content.currentChanged.connect(self._later.start)
        application = QApplication.instance()
        assert isinstance(application, QApplication)
        application.focusChanged.connect(self._follow)

    @property
    def scrolls(self) -> bool:
        """Whether text is larger than its first size."""
        return wished(self._settings) > 1.0

    def _settle(self) -> None:
        policy = Qt.ScrollBarPolicy
        wanted = policy.ScrollBarAsNeeded if self.scrolls else policy.ScrollBarAlwaysOff
        self.setVerticalScrollBarPolicy(wanted)
        self.setHorizontalScrollBarPolicy(wanted)
        self.updateGeometry()
        self._fit()

    @Slot(str)
    def _heard(self, name: str) -> None:
        if name == "text_size":
            self._settle()

    @Slot()
    def _fit(self) -> None:
        """Give the content the view's size, or what it needs.

        How much that is may depend on what it has – lines wrap, parts hide where it is low –,
        so that it is only ever made larger until the view is another.
        """
        room, page = self.maximumViewportSize(), self._content.currentWidget()
        if not self.scrolls or page is None:
            self._content.resize(room)
            return
        view = (room, theme.scale(), self._content.currentIndex())
        if view != self._for:
            self._new = self._new or view[2] != self._for[2]
            self._needed, self._for = QSize(0, 0), view
        before = self._needed
        self._needed = before.expandedTo(_least(page, room.width()))
        self._content.resize(room.expandedTo(self._needed))
        if self._new:  # what has the focus was followed before it had its place
            self._new = self._needed != before
            self.ensureVisible(0, 0)
            self._follow(None, QApplication.focusWidget())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The content goes with it."""
        super().resizeEvent(event)
        self._fit()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Something in the content needs other room."""
        if event.type() == QEvent.Type.LayoutRequest and watched is self._content and self.scrolls:
            self._later.start()
        return super().eventFilter(watched, event)

    def minimumSizeHint(self) -> QSize:
        """All of it, or little where it may be scrolled to."""
        return QSize(0, 0) if self.scrolls else self._content.minimumSizeHint()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Keys are the page's."""
        event.ignore()

    @Slot(QWidget, QWidget)
    def _follow(self, old: QWidget | None, now: QWidget | None) -> None:
        """Bring what has the focus into view, where there is room for it."""
        if not self.scrolls or now is None or not self._content.isAncestorOf(now):
            return
        room = self.viewport().size()
        if now.width() <= room.width() and now.height() <= room.height():
            self.ensureWidgetVisible(now)


def _least(page: QWidget, width: int) -> QSize:
    """The least size in which all of a page can be seen, in a view of this width."""
    least = page.minimumSizeHint().expandedTo(page.minimumSize())
    if page.property("page"):  # as in the smallest window, where all its panels can be read
        least.setHeight(max(least.height(), theme.px(_PAGE)))
    layout = page.layout()
    if layout is not None and layout.hasHeightForWidth():
        least.setHeight(
            max(least.height(), layout.minimumHeightForWidth(max(width, least.width())))
        )
    return least


class Growth(QObject):
    """Keeps the sizes of one window.

    Args:
        settings: the athlete's own text size is among them.
    """

    def __init__(self, window: QWidget, settings: Settings) -> None:
        super().__init__(window)
        self._window, self._settings = window, settings
        self._settle = QTimer(self, singleShot=True, interval=_SETTLE)
        self._settle.timeout.connect(self.follow)
        self._later = QTimer(self, singleShot=True, interval=0)
        self._later.timeout.connect(self._grow)
        self._has_grown = False

    @Slot()
    def follow(self) -> None:
        """Take the sizes that the window has room for; the stage alone has its own."""
        window = self._window
        if window.isFullScreen():
            return
        scale = theme.scale_for(window.width(), window.height()) * wished(self._settings)
        if scale != theme.scale():
            theme.set_scale(scale)
            application = QApplication.instance()
            assert isinstance(application, QApplication)
            # Taken off and put on anew it costs a quarter of a change from one to the next, for
            # which Qt resolves the fonts of all below each widget; nothing is painted between.
            application.setStyleSheet("")
            application.setStyleSheet(style())
            self._grow()
            self._lay_out_anew()
        else:
            self._grow()

    def wish(self, steps: int) -> float:
        """Make text so many steps larger or smaller, 0: its first size; the size that it has now.

        It is kept within `TEXT_SIZES`, stored, and goes with the size that follows the window.
        """
        size = _within(wished(self._settings) + steps * TEXT_STEP if steps else 1.0)
        self._settings.put("text_size", size)
        self.follow()
        return size

    def _lay_out_anew(self) -> None:
        """What follows from the sizes of type is worked out when a widget gets another size."""
        for widget in self._window.findChildren(QWidget):
            if widget.inherits("QAbstractItemView"):
                _lay_out_rows(widget)
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
        if scale == 1.0 and not self._has_grown:
            return  # asking for all widgets makes Qt for Python load every class of them
        self._has_grown = True
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
    if isinstance(widget, QAbstractButton):
        if not widget.icon().isNull():
            widget.setIconSize(_times(widget.iconSize(), times))
    elif widget.inherits("QAbstractItemView"):
        _grow_list(widget, times)


def _lay_out_rows(widget: QWidget) -> None:
    from PySide6.QtWidgets import QAbstractItemView

    if isinstance(widget, QAbstractItemView):
        widget.scheduleDelayedItemsLayout()


def _grow_list(widget: QWidget, times: float) -> None:
    from PySide6.QtWidgets import QHeaderView, QListView

    if isinstance(widget, QHeaderView):
        widget.setDefaultSectionSize(round(widget.defaultSectionSize() * times))
    if isinstance(widget, QListView):
        if widget.gridSize().isValid():
            widget.setGridSize(_times(widget.gridSize(), times))
        if widget.iconSize().isValid():
            widget.setIconSize(_times(widget.iconSize(), times))


def _times(size: QSize, times: float) -> QSize:
    return QSize(round(size.width() * times), round(size.height() * times))


def _keep(setter: object, pixels: int, times: float) -> None:
    setter(round(pixels * times))  # type: ignore[operator]
