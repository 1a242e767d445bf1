"""Asks a window whether every text in it can be read whole: nothing cut, glued or hidden.

Looks at each visible label, button, field and heading as it stands, and at every text a widget
paints by hand, so that it serves every page, size and language: `unfitting(window)` lists one
sentence for each text that does not fit.
"""

import contextlib
import itertools

from PySide6.QtCore import QEvent, QPoint, QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QTextDocument
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractScrollArea,
    QAbstractSpinBox,
    QApplication,
    QCheckBox,
    QComboBox,
    QHeaderView,
    QLabel,
    QLineEdit,
    QRadioButton,
    QStyle,
    QStyleOptionComboBox,
    QWidget,
)

from rehearse.ui.growth import Growth

#: The sizes of windows asked for: the least, the first, and usual screens.
SIZES = ((960, 600), (1280, 720), (1366, 768), (1920, 1080), (2560, 1440))
#: Pixels that may be missing: sizes are rounded.
_SLACK = 1.5
#: Letters of a field beyond which its text may be longer than the field: it scrolls (a path).
_LONG = 40


def settle(window, size=None):
    """Give the window a size and let everything find its place."""
    if size:
        window.resize(*size)
    for growth in window.findChildren(Growth):
        QApplication.processEvents()
        growth.follow()  # it waits a moment for the next size, tests need not
    for _ in range(3):
        QApplication.processEvents()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    # A job may just have told how far it is: its words are laid out before they are measured.
    QApplication.sendPostedEvents(None, QEvent.Type.LayoutRequest)


def unfitting(window):
    """A sentence for each text in `window` that does not fit, is hidden or lies over another."""
    found = []
    texts = []
    for widget in window.findChildren(QWidget):
        if not widget.isVisible() or widget.window() is not window.window():
            continue
        words = _words(widget)
        if not words:
            continue
        if not _in_sight(widget):
            continue
        if why := _too_small(widget, words):
            found.append(f"{_name(widget)}: {words!r} {why}")
        if why := _clipped(widget):
            found.append(f"{_name(widget)}: {words!r} {why}")
        texts.append((widget, words))
    return found + _glued(texts) + painted(window)


@contextlib.contextmanager
def writing(told):
    """While this is open, `told(widget, text, ink, room)` hears of every text painted by hand.

    `ink` is where the text lies on the widget, `room` what the painting code kept for it: None
    where it gave a point only.
    """
    real = QPainter.drawText

    def draw(painter, *args):
        widget = painter.device()
        if isinstance(widget, QWidget):
            told(widget, *_as_painted(painter, *args))
        return real(painter, *args)

    def draw_set(painter, where, text):
        widget = painter.device()
        if isinstance(widget, QWidget):
            ink = painter.combinedTransform().mapRect(QRectF(QPointF(where), text.size()))
            told(widget, text.text(), ink, None)
        return real_set(painter, where, text)

    real_set = QPainter.drawStaticText
    QPainter.drawText, QPainter.drawStaticText = draw, draw_set
    try:
        yield
    finally:
        QPainter.drawText, QPainter.drawStaticText = real, real_set


def _as_painted(painter, *args):
    where, text = args[0], args[-1]
    to_widget = painter.combinedTransform().mapRect
    if isinstance(where, QPointF | QPoint):
        ink = QFontMetricsF(painter.font()).boundingRect(text).translated(QPointF(where))
        return text, to_widget(ink), None
    room = QRectF(where)
    ink = painter.boundingRect(room, int(args[1]), text)
    return text, to_widget(ink), to_widget(room)


def painted(window):
    """A sentence for each text painted by hand that leaves its room or its widget."""
    found = []

    def look(widget, text, ink, room):
        area = QRectF(widget.rect()).adjusted(-_SLACK, -_SLACK, _SLACK, _SLACK)
        if not text.strip() or not area.intersects(ink):
            return
        if room is not None and ink.width() > room.width() + _SLACK:
            found.append(
                f"{_name(widget)}: {text!r} needs {ink.width():.0f} px of width in a room "
                f"of {room.width():.0f}"
            )
        sideways = ink.left() < area.left() or ink.right() > area.right()
        upwards = ink.top() < area.top() or ink.bottom() > area.bottom()
        lists = isinstance(widget.parentWidget(), QAbstractScrollArea)
        if sideways or (upwards and not lists):
            found.append(f"{_name(widget)}: {text!r} at {ink.getRect()} is cut at the edge")

    with writing(look):
        window.repaint()
        for widget in window.findChildren(QWidget):
            if widget.isVisible() and widget.window() is window.window() and _by_hand(widget):
                widget.grab()
    return list(dict.fromkeys(found))


def _by_hand(widget):
    own = type(widget).paintEvent
    views = isinstance(widget.parentWidget(), QAbstractScrollArea)
    return views or type(own).__name__ == "function"


def _name(widget):
    parents = []
    while widget is not None and len(parents) < 4:
        parents.append(type(widget).__name__)
        widget = widget.parentWidget()
    return " < ".join(parents)


def _words(widget):
    if isinstance(widget, QLabel):
        return "" if widget.pixmap() and not widget.pixmap().isNull() else widget.text()
    if isinstance(widget, QAbstractButton):
        return widget.text()
    if isinstance(widget, QComboBox):
        return widget.currentText()
    if isinstance(widget, QAbstractSpinBox):
        return widget.text()
    if isinstance(widget, QLineEdit):
        if isinstance(widget.parentWidget(), QAbstractSpinBox | QComboBox):
            return ""
        return widget.text() or widget.placeholderText()
    if isinstance(widget, QHeaderView):
        return " ".join(_headings(widget))
    return ""


def _plain(words):
    """Without the marks of keys: "&What" is seen as "What"."""
    return words.replace("&&", "\0").replace("&", "").replace("\0", "&")


def _wide(widget, words):
    metrics = QFontMetricsF(widget.font())
    return max(metrics.horizontalAdvance(line) for line in _plain(words).split("\n"))


def _too_small(widget, words):
    if isinstance(widget, QLabel):
        return _label(widget, words)
    if isinstance(widget, QCheckBox | QRadioButton | QAbstractButton):
        wanted = widget.sizeHint()
        if widget.width() + _SLACK < min(wanted.width(), _button_width(widget, words)):
            return f"needs {wanted.width()} px of width and has {widget.width()}"
        line = QFontMetricsF(widget.font()).height()
        if widget.height() + _SLACK < line:
            return f"needs {line:.0f} px of height and has {widget.height()}"
    elif isinstance(widget, QComboBox):
        option = QStyleOptionComboBox()
        widget.initStyleOption(option)
        room = widget.style().subControlRect(
            QStyle.ComplexControl.CC_ComboBox,
            option,
            QStyle.SubControl.SC_ComboBoxEditField,
            widget,
        )
        return _against(_wide(widget, words), room.width())
    elif isinstance(widget, QAbstractSpinBox):
        line = widget.lineEdit()
        return _against(_wide(widget, words), _room(line))
    elif isinstance(widget, QLineEdit):
        if len(words) <= _LONG:
            return _against(_wide(widget, words), _room(widget))
    elif isinstance(widget, QHeaderView):
        metrics = QFontMetricsF(widget.font())
        for index, text in _sections(widget):
            if why := _against(metrics.horizontalAdvance(text) + 8, widget.sectionSize(index)):
                return f"({text}) {why}"
    return ""


def _button_width(widget, words):
    """What the text alone takes, with the style's own room around it."""
    return widget.sizeHint().width() if words else 0


def _room(field):
    margins = field.textMargins()
    # A line edit keeps two pixels on each side to itself.
    return field.contentsRect().width() - margins.left() - margins.right() - 4


def _against(wanted, room):
    return f"needs {wanted:.0f} px of width and has {room}" if wanted > room + _SLACK else ""


def _label(widget, words):
    room = widget.contentsRect()
    rich = "<" in words and widget.textFormat() != Qt.TextFormat.PlainText
    if rich:
        page = QTextDocument()
        page.setDefaultFont(widget.font())
        page.setHtml(words)
        page.setTextWidth(room.width())
        high, wide = page.size().height(), page.idealWidth()
    elif widget.wordWrap():
        metrics = QFontMetricsF(widget.font())
        flags = int(Qt.TextFlag.TextWordWrap)
        box = metrics.boundingRect(QRect(0, 0, room.width(), 100_000), flags, _plain(words))
        high, wide = box.height(), box.width()
    else:
        line = QFontMetricsF(widget.font()).height()
        high, wide = line * (words.count("\n") + 1), _wide(widget, words)
        if words.endswith("…") and widget.toolTip() and not widget.toolTip().endswith("…"):
            return ""  # cut on purpose, told in full beside the pointer
    if wide > room.width() + _SLACK:
        return f"needs {wide:.0f} px of width and has {room.width()}"
    # Lines may be set a little closer than the face asks for without touching.
    if high * 0.94 > room.height() + _SLACK:
        return f"needs {high:.0f} px of height and has {room.height()}"
    return ""


def _sections(header):
    model = header.model()
    if model is None or header.isHidden():
        return []
    role = Qt.ItemDataRole.DisplayRole
    return [
        (k, str(text))
        for k in range(header.count())
        if not header.isSectionHidden(k)
        and (text := model.headerData(k, header.orientation(), role)) is not None
        and header.orientation() == Qt.Orientation.Horizontal
    ]


def _headings(header):
    return [text for _, text in _sections(header)]


def _scrolled(widget):
    """The scroll area a widget lies in, if any: what is out of sight there can be brought up."""
    parent = widget.parentWidget()
    while parent is not None:
        around = isinstance(parent, QAbstractScrollArea) and parent.viewport().isAncestorOf(widget)
        # What holds the whole page scrolls with text above its first size only.
        bars = (parent.horizontalScrollBar(), parent.verticalScrollBar()) if around else ()
        if around and (parent.objectName() != "pages" or any(bar.maximum() for bar in bars)):
            return parent
        parent = parent.parentWidget()
    return None


def _in_sight(widget):
    area = _scrolled(widget)
    return area is None or not widget.visibleRegion().isEmpty()


def _clipped(widget):
    """Whether a part of it lies outside what holds it, where it cannot be scrolled to."""
    area = _scrolled(widget)
    stop = area.viewport() if area else None
    parent = widget.parentWidget()
    while parent is not None and parent is not stop:
        place = QRect(widget.mapTo(parent, QPoint(0, 0)), widget.size())
        if not parent.rect().adjusted(-2, -2, 2, 2).contains(place):
            holder = f"{type(parent).__name__} {parent.size().toTuple()}"
            return f"lies at {place.getRect()} outside {holder}"
        if parent.isWindow():
            break
        parent = parent.parentWidget()
    if area is not None:
        place = QRect(widget.mapTo(stop, QPoint(0, 0)), widget.size())
        sideways = area.horizontalScrollBarPolicy() != Qt.ScrollBarPolicy.ScrollBarAlwaysOff
        if not sideways and (place.left() < -2 or place.right() > stop.width() + 2):
            return f"lies at {place.getRect()} beside the list, which does not scroll sideways"
    return ""


def _glued(texts):
    """Texts that lie over each other, or side by side without a space between them."""
    found = []
    places = [(w, words, _ink(w, words)) for w, words in texts]
    for (one, a, here), (other, b, there) in itertools.combinations(places, 2):
        if one.isAncestorOf(other) or other.isAncestorOf(one):
            continue
        if _scrolled(one) is not _scrolled(other):
            continue
        both = here.intersected(there)
        if both.width() > 2 and both.height() > 2:
            found.append(f"{_name(one)} {a!r} lies over {_name(other)} {b!r}")
            continue
        level = min(here.bottom(), there.bottom()) - max(here.top(), there.top())
        gap = max(here.left(), there.left()) - min(here.right(), there.right())
        labels = isinstance(one, QLabel) and isinstance(other, QLabel)
        if labels and level > 4 and -2 <= gap < 4:
            found.append(f"{_name(one)} {a!r} is glued to {_name(other)} {b!r}")
    return found


def _ink(widget, words):
    """Where the text of a label is, the whole of any other widget, on the window."""
    place = QRect(widget.mapTo(widget.window(), QPoint(0, 0)), widget.size())
    if not isinstance(widget, QLabel) or widget.wordWrap() or "<" in words:
        return place
    room = widget.contentsRect().translated(place.topLeft())
    size = QFontMetricsF(widget.font()).size(0, _plain(words)).toSize()
    return QStyle.alignedRect(widget.layoutDirection(), widget.alignment(), size, room)
