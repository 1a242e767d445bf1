"""Everything a page can do, under the right button of the mouse and under the Menu key.

Whoever has no use of the keys finds each action of the page there, those of the pages that have
most in groups, with the key it has besides; what is not possible now is grey.
"""

from __future__ import annotations

from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu, QWidget

from rehearse.ui.actions import ACCENTS, COMMON, COUNTS, LISTS, MARKS, SHIFTS, STAGE, TAPS
from rehearse.words import _

#: Heading and names of the actions beneath it; the others stand by themselves.
GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (_("Counts"), tuple(a.name for a in (*COMMON, *COUNTS, *TAPS))),
    (_("Move the counts"), tuple(a.name for _unused, *pair in SHIFTS for a in pair)),
    (_("Accents"), tuple(a.name for a in (*ACCENTS, *MARKS) if a.name != "free")),
    (_("Stage music"), tuple(a.name for a in STAGE)),
    (_("Lists of beats"), tuple(a.name for a in LISTS)),
    (_("Add"), ("put", "beat", "accent", "put_move", "begin_move", "insert", "again")),
    (_("Choose"), ("previous", "next_pose", "more_previous", "more_next", "all", "leave",
                "move_before", "move_after", "home", "end")),
    (_("When"), ("earlier", "later", "eight_earlier", "eight_later", "accents", "hold_longer",
              "hold_shorter", "way_longer", "way_shorter", "stretch", "pin", "other_way")),
    (_("How"), ("exchange", "facing", "turn_way", "place", "level", "note")),
    (_("Copy and delete"), ("duplicate", "copy_up", "paste", "paste_mirrored", "swap", "take_out",
                         "close_up", "section")),
    (_("See"), ("grid", "closer", "wider", "mirror")),
    (_("Panels"), ("checks", "suggestions", "versions", "keep", "copy", "remarks")),
)  # fmt: skip
#: A page with no more actions than this needs no groups.
_FEW = 24


def offer_menu(widget: QWidget) -> None:
    """Let `widget` show the menu of its actions where it is asked for one."""
    widget.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
    if not widget.property("menu"):  # further bindings of the same page add to the same menu
        widget.setProperty("menu", True)
        widget.customContextMenuRequested.connect(lambda point: _show(widget, point))


def _show(widget: QWidget, point: QPoint) -> None:
    menu = make_menu(widget)
    menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    menu.popup(widget.mapToGlobal(point))


def make_menu(widget: QWidget) -> QMenu:
    """The menu of the actions that `widget` has now."""
    menu = QMenu(widget)
    menu.setAccessibleName(_("Everything on this page"))
    lines = [action for action in widget.actions() if action.text()]
    named = {action.objectName(): action for action in lines}
    grouped: set[QAction] = set()
    for heading, names in GROUPS if len(lines) > _FEW else ():
        found = [named[name] for name in names if name in named]
        if found:
            menu.addMenu(heading).addActions(found)
            grouped.update(found)
    if grouped:
        menu.addSeparator()
    menu.addActions([action for action in lines if action not in grouped])
    window = {a.objectName(): a for a in widget.window().actions()}
    if widget is not widget.window():
        menu.addSeparator()
        menu.addActions([window[name] for name in ("undo", "redo") if name in window])
    return menu
