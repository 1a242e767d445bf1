"""The look in one place: colours, type sizes, spacing and the style sheet made of them.

A dark stage with one light. `NEXT` is the light: only what comes next, or what Space does next,
wears it. `HELD` is the one cool colour: only what is held now. Faults are told by a word and a
shape first and by `FAULT` last. Contrast is computed as in WCAG 2.2 (relative luminance).

No Qt here, so that the tokens can be tested and reused without a window.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

GROUND = "#14100d"
RAISED = "#211a15"
LINE = "#4a3f36"
INK = "#f6efe4"
DIM = "#bdb1a1"
NEXT = "#ffc45a"
HELD = "#83d0e4"
FAULT = "#ffa68f"
#: A figure's dark skin under the stage's light; its light skin is `INK`.
SKIN = "#c9935f"

#: The four sizes, each 1.5 times the last, in pixels of the smallest windows. As `SMALL`, `BODY`,
#: `TITLE` and `DISPLAY` of this module they are those of now: they grow with the window.
SIZES = {name: 18 * 1.5**k for k, name in enumerate(("SMALL", "BODY", "TITLE", "DISPLAY"))}
#: Every distance is a multiple of this, in pixels.
STEP = 8
#: Height and width of a window above which text grows, the steps it grows in, and the most.
_HEIGHT, _WIDTH, _GROWTH, _MOST = 800, 1366, 0.05, 2.5
_scale = [1.0]
_LENGTH, _LINES = re.compile(r"([\d.]+)px"), 4

#: (ink, ground, least contrast) of every pair in use: SC 1.4.6, 7:1 text; SC 1.4.11, 3:1 shapes.
PAIRS = (
    *((ink, ground, 7.0) for ink in (INK, DIM, NEXT, HELD, FAULT) for ground in (GROUND, RAISED)),
    (SKIN, GROUND, 7.0),
    (SKIN, RAISED, 4.5),
    *((GROUND, light, 7.0) for light in (INK, NEXT, HELD, FAULT)),
)


def scale() -> float:
    """How many times as large as in small windows text and controls are now."""
    return _scale[0]


def set_scale(times: float) -> None:
    """Make text and controls as large; the style sheet must be set anew."""
    _scale[0] = times


@contextmanager
def at(times: float) -> Iterator[None]:
    """The look at another scale for a while, as for a picture of its own size."""
    before = scale()
    set_scale(times)
    try:
        yield
    finally:
        set_scale(before)


def scale_for(width: int, height: int) -> float:
    """The scale for a window: what is read in it keeps its share of the height."""
    room = min(height / _HEIGHT, width / _WIDTH)
    return min(_MOST, max(1.0, int(room / _GROWTH + 1e-6) * _GROWTH))


def px(pixels: float) -> int:
    """A length given for small windows as it is now."""
    return round(pixels * _scale[0])


def __getattr__(name: str) -> int:
    """The four sizes of type as they are now."""
    try:
        return px(SIZES[name])
    except KeyError:
        raise AttributeError(name) from None


def luminance(colour: str) -> float:
    """Relative luminance 0..1 of `#rrggbb` (WCAG 2.2, definition of relative luminance)."""
    channels = (int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    """Contrast ratio 1..21 of two colours (WCAG 2.2, definition of contrast ratio)."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def tip(text: str) -> str:
    """`text` for a tool tip, which Qt would else read as markup, files in it and all."""
    if "<" not in text:
        return text
    # The library's own `escape` comes with a table of 2,231 names of signs.
    plain = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return f"<p style='white-space: pre-wrap'>{plain}</p>"


def style_sheet(families: Sequence[str], arrow: str = "") -> str:
    """The Qt style sheet of the whole window, in the first of `families` that has a letter.

    `arrow` is the file of the icon that opens a list of choices.
    """
    quoted = ", ".join(f'"{family}"' for family in families)
    return _LENGTH.sub(_grown, _style(quoted, arrow))


def _grown(found: re.Match[str]) -> str:
    """A length of the style sheet as it is now; lines and corners keep theirs."""
    pixels = float(found[1])
    return f"{px(pixels) if pixels > _LINES else pixels:.0f}px"


def _style(family: str, arrow: str) -> str:
    small, body, title, display = SIZES.values()
    return f"""
* {{ font-family: {family}; font-size: {small}px; font-weight: 500; }}
QWidget {{ background: {GROUND}; color: {INK}; selection-background-color: {NEXT};
    selection-color: {GROUND}; }}
/* Titles, names and notes come from other people: nothing in them is markup (tool tips: `tip`). */
QLabel {{ background: transparent; qproperty-textFormat: PlainText; }}
QLabel[role="key"] {{ font-weight: 600; }}
QLabel[role="dim"], QCheckBox[role="dim"] {{ color: {DIM}; }}
QLabel[role="body"] {{ font-size: {body}px; }}
QListWidget[role="body"] {{ font-size: {body}px; }}
QLabel[role="title"] {{ font-size: {title}px; font-weight: 600; }}
QLabel[role="display"] {{ font-size: {display}px; font-weight: 600; }}
QLabel[role="fault"] {{ color: {FAULT}; }}
QPushButton, QToolButton {{ background: {RAISED}; color: {INK}; border: 2px solid {RAISED};
    border-radius: 4px; padding: 6px 12px; min-height: 24px; outline: none; }}
QPushButton:hover, QToolButton:hover {{ border-color: {LINE}; }}
QPushButton:focus, QToolButton:focus, QLineEdit:focus, QPlainTextEdit:focus, QComboBox:focus,
QAbstractSpinBox:focus, QAbstractItemView:focus {{ border-color: {NEXT}; }}
QPushButton:checked, QToolButton:checked {{ color: {NEXT}; border-color: {NEXT}; }}
QPushButton:checked:focus, QToolButton:checked:focus {{ border-color: {INK}; }}
QScrollArea[role="reader"] {{ border: 2px solid transparent; }}
QScrollArea[role="reader"]:focus {{ border-color: {NEXT}; }}
QPushButton[role="main"] {{ background: {NEXT}; color: {GROUND}; border-color: {NEXT};
    font-weight: 600; }}
QPushButton[role="main"]:focus {{ border-color: {INK}; }}
QPushButton[role="main"]:disabled {{ background: transparent; color: {DIM};
    border-color: {LINE}; }}
QPushButton[role="plain"], QToolButton[role="plain"] {{ background: transparent;
    border-color: transparent; padding: 6px 8px; }}
QPushButton[role="plain"]:focus, QToolButton[role="plain"]:focus {{ border-color: {NEXT}; }}
QPushButton[role="plain"]:checked, QToolButton[role="plain"]:checked {{ color: {NEXT};
    border-color: transparent transparent {NEXT} transparent; border-radius: 0; }}
QPushButton[role="plain"]:checked:focus, QToolButton[role="plain"]:checked:focus {{
    border-color: {INK} {INK} {NEXT} {INK}; }}
QPushButton:disabled, QToolButton:disabled {{ color: {DIM}; background: transparent; }}
QToolButton::menu-indicator {{ image: none; }}
QLineEdit, QPlainTextEdit, QComboBox, QAbstractSpinBox {{ background: {RAISED};
    border: 2px solid {RAISED}; border-radius: 4px; padding: 4px 8px; min-height: 24px; }}
QAbstractSpinBox QLineEdit {{ background: transparent; border: none; padding: 0 0 0 6px;
    min-height: 0; }}
QAbstractSpinBox::up-button, QAbstractSpinBox::down-button {{ width: 0; border: none; }}
QComboBox::drop-down {{ border: none; width: 24px; }}
QComboBox::down-arrow {{ image: url("{arrow}"); width: 14px; height: 14px; }}
QComboBox QAbstractItemView {{ background: {RAISED}; border: 2px solid {LINE}; }}
QAbstractItemView {{ background: {GROUND}; alternate-background-color: {GROUND};
    border: 2px solid transparent; outline: none; }}
QAbstractItemView::item {{ padding: 4px 8px; border-left: 4px solid transparent; }}
QAbstractItemView::item:selected {{ background: {RAISED}; color: {INK};
    border-left: 4px solid {NEXT}; }}
QHeaderView::section {{ background: {GROUND}; color: {DIM}; border: none; padding: 4px 8px; }}
QTableCornerButton::section {{ background: {GROUND}; border: none; }}
QCheckBox, QRadioButton {{ spacing: 8px; background: transparent; border: 2px solid transparent;
    padding: 2px; }}
QCheckBox:focus, QRadioButton:focus {{ border-color: {NEXT}; border-radius: 4px; }}
QCheckBox::indicator, QRadioButton::indicator {{ width: 16px; height: 16px;
    border: 2px solid {DIM}; background: transparent; }}
QRadioButton::indicator {{ border-radius: 10px; }}
QCheckBox::indicator:checked, QRadioButton::indicator:checked {{ background: {NEXT};
    border-color: {NEXT}; }}
QSlider {{ background: transparent; min-height: 28px; border: 2px solid transparent;
    border-radius: 4px; }}
QSlider:focus {{ border-color: {NEXT}; }}
QSlider::groove:horizontal {{ height: 4px; background: {LINE}; border-radius: 2px; }}
QSlider::sub-page:horizontal {{ background: {DIM}; border-radius: 2px; }}
QSlider::handle:horizontal {{ width: 16px; margin: -6px 0; border-radius: 8px;
    background: {INK}; }}
QProgressBar {{ background: {RAISED}; border: none; border-radius: 2px; max-height: 4px; }}
QProgressBar::chunk {{ background: {NEXT}; border-radius: 2px; }}
QScrollBar {{ background: transparent; border: none; }}
QScrollBar:vertical {{ width: 12px; }} QScrollBar:horizontal {{ height: 12px; }}
QScrollBar::handle {{ background: {LINE}; border-radius: 4px; min-height: 32px;
    min-width: 32px; margin: 2px; }}
QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
QMenu {{ background: {RAISED}; border: 2px solid {LINE}; }}
QMenu::item {{ padding: 8px 24px; }} QMenu::item:selected {{ background: {NEXT};
    color: {GROUND}; }}
QMenu::item:disabled {{ color: {DIM}; background: transparent; }}
QToolTip {{ background: {RAISED}; color: {INK}; border: 1px solid {LINE}; padding: 4px 8px; }}
QSplitter::handle {{ background: {LINE}; }}
"""
