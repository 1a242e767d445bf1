"""Paints the stage display: the same code for the window and for pictures without one.

From a hit on everything large is the next pose's: its figure stands still until the transition
begins, runs the way there and arrives on the hit. What is held stands beneath, small and cool.

What stays for a while is painted once into a picture and copied at each frame: the ribbon's
ground and the unlit rim for a cue sheet, name, sign and held pose for a pair of cues. Only the
figure, the numerals, the edge light and the position are painted anew.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from PySide6.QtCore import QPointF, QRectF, QSize, QSizeF, Qt
from PySide6.QtGui import QColor, QPainter, QPixmap

from rehearse.cueing.cue_state import Cue, CueState
from rehearse.cueing.cues import CueSheet
from rehearse.ui.colours import (
    DIM,
    GROUND,
    HELD,
    INK,
    LOW,
    NEXT,
    REST,
    UNLIT,
    WHOLE,
    fill,
    fill_all,
    mixed,
)
from rehearse.ui.stage.changes import WIDER, PaintState, move_numeral, place_of
from rehearse.ui.stage.edge import Edge, edge_at, lit, notch_boxes
from rehearse.ui.stage.layout import Box, Kind, Layout, lay_out
from rehearse.ui.stage.mover import Mover
from rehearse.ui.stage.resting_figure import at_its_place, figure_in_room
from rehearse.ui.stage.routine_ribbon import Ribbon
from rehearse.ui.stage.stage_options import LIVE, StageOptions
from rehearse.ui.stage.still import (
    Held,
    kind_of,
    paint_memory,
    paint_still,
    still_key,
    waiting_words,
)
from rehearse.ui.stage.text_cache import DigitCache

#: Still pictures kept: this hit, the next one, and what a rest or a pause puts between.
_KEPT = 4
#: Pictures of the counts of an eight: two eights, or one in two divisions of the screen.
_STRIPS = 16


def paint_stage(
    painter: QPainter,
    rect: QRectF,
    cue_state: CueState,
    sheet: CueSheet,
    *,
    options: StageOptions | None = None,
) -> None:
    """Paint one moment into `rect`; for many moments keep a `Stage` instead."""
    size, ratio = rect.size().toSize(), painter.device().devicePixelRatioF()
    painter.save()
    painter.translate(rect.topLeft())
    Stage(sheet, options or StageOptions(), size, ratio).paint(painter, cue_state)
    painter.restore()


class Stage:
    """The display of one cue sheet at one size.

    Args:
        size: logical pixels. ratio: device pixels for each of them.
        divide: divides a screen into places, as `lay_out`.

    Attributes:
        plain: leave the figure out, as in the very first picture, which must not wait for it.
    """

    def __init__(
        self,
        sheet: CueSheet,
        options: StageOptions,
        size: QSize,
        ratio: float = 1.0,
        divide: Callable[..., Layout] = lay_out,
    ) -> None:
        self.sheet, self.options, self.size, self._ratio = sheet, options, size, ratio
        self._divide = divide
        self._layouts: dict[Kind, Layout] = {}
        self._resting: dict[tuple[int, tuple[str, ...]], Layout] = {}
        self.layout: Layout = self._laid("pose")
        self._ribbons: dict[Box, Ribbon] = {}
        self.plain = False
        self._figures: dict[float, DigitCache] = {}
        self._strips: dict[tuple[Box, str], QPixmap] = {}
        self._movers: dict[Box, Mover] = {}
        self._grounds: dict[Box | None, QPixmap] = {}
        self._still: dict[tuple[object, ...], QPixmap] = {}

    def set_options(self, options: StageOptions) -> None:
        """Show the same sheet otherwise; keeps every picture that is still right."""
        before = self.options
        laid = (before.viewing, before.mirrored, before.folder)
        if (options.viewing, options.mirrored, options.folder) != laid:
            self.__init__(self.sheet, options, self.size, self._ratio, self._divide)  # type: ignore[misc]
            return
        self.options = options
        if options.loudness is not before.loudness or options.drilled != before.drilled:
            self._grounds.clear()
            self._still.clear()

    def look(self, cue_state: CueState, *, skip_slow: bool = False) -> PaintState:
        """What `cue_state` looks like; in a hurry the figure may stay a step behind."""
        options = self.options
        self.layout = self._layout_of(cue_state, options)
        if self._dark:
            return PaintState(
                ("dark", options.passes, options.tempo), Edge(), "", ("", False), "", (), 0
            )
        edge = Edge()
        if options.state in (*LIVE, "paused"):
            flash = not options.reduced_flash
            edge = edge_at(cue_state, self.sheet, options.tempo, flash=flash)
        return PaintState(
            still=still_key(cue_state, options),
            edge=edge,
            numeral=self._numeral(cue_state),
            move=(self._move_numeral(cue_state), cue_state.again),
            counted=self._counted(cue_state),
            figure=self._choose_figure(cue_state, skip_slow),
            place=place_of(cue_state, self.layout),
        )

    def paint(self, painter: QPainter, cue_state: CueState, look: PaintState | None = None) -> None:
        """Paint `cue_state` at the origin of `painter`; `look` where it is known already."""
        look = look or self.look(cue_state)
        if self._dark:
            fill(painter, QRectF(QPointF(), self.size.toSizeF()), GROUND)
            paint_memory(painter, self.layout, self.options)
            return
        painter.drawPixmap(0, 0, self._still_picture(cue_state, self.options))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint_edge(painter, look.edge)
        if look.figure:
            self._mover(self.layout).draw(painter)
        colour = DIM if self.options.state == "rest" else INK
        self._paint_numeral(painter, look.numeral, colour)
        self._paint_move(painter, *look.move)
        self._paint_eight(painter, look.counted)
        if self.ribbon:
            self.ribbon.draw_now(painter, cue_state)

    @property
    def ribbon(self) -> Ribbon | None:
        """The ribbon of what was looked at last; None where there is no room for one."""
        box = self.layout.ribbon
        if box is not None and box not in self._ribbons:
            self._ribbons[box] = Ribbon(box, self.sheet)
        return self._ribbons[box] if box else None

    @property
    def _dark(self) -> bool:
        return self.options.cueing == "memory" and self.options.state in LIVE

    def prepare(self, cue_state: CueState) -> None:
        """Paint ahead of time what the next hit will need, so that its frame is not late."""
        if cue_state.next is None or self.options.cueing == "memory":
            return
        verdict = self.options.verdict if self.options.state == "playing" else ""
        after = replace(self.options, state="playing", verdict=verdict)
        hit = self.sheet.at(cue_state.next.hit)
        self._still_picture(hit, after)
        if self.options.cueing == "all":
            mover = self._mover(self._layout_of(hit, after))
            mover.prepare(cue_state.next, NEXT)
            if hit.next:
                mover.prepare(hit.next, NEXT)

    def _laid(self, kind: Kind) -> Layout:
        if kind not in self._layouts:
            size, viewing = self.size, self.options.viewing
            self._layouts[kind] = self._divide(size.width(), size.height(), viewing, kind)
        return self._layouts[kind]

    def _layout_of(self, cue_state: CueState, options: StageOptions) -> Layout:
        layout = self._laid(kind_of(cue_state, options, roomy=self._laid("pose").roomy))
        coming = cue_state.next
        if layout.kind != "note" or coming is None or options.cueing != "all":
            return layout
        words = waiting_words(options)
        key = (id(coming), tuple(words))
        if key not in self._resting:
            beside = at_its_place(layout, self._laid("pose"), coming, words)
            self._resting[key] = beside or figure_in_room(layout, coming, words)
        return self._resting[key]

    def _numerals(self, cap: float) -> DigitCache:
        if cap not in self._figures:
            self._figures[cap] = DigitCache(cap, self._ratio)
        return self._figures[cap]

    def _mover(self, layout: Layout) -> Mover:
        if layout.figure not in self._movers:
            mirrored, folder = self.options.mirrored, self.options.folder
            self._movers[layout.figure] = Mover(
                layout.figure, self._ratio, mirrored=mirrored, folder=folder
            )
        return self._movers[layout.figure]

    def _still_picture(self, cue_state: CueState, options: StageOptions) -> QPixmap:
        key = still_key(cue_state, options)
        if key not in self._still:
            while len(self._still) >= _KEPT:
                self._still.pop(next(iter(self._still)))
            layout = self._layout_of(cue_state, options)
            picture = QPixmap(self._ground_picture(layout.ribbon))
            with QPainter(picture) as brush:
                brush.setRenderHint(QPainter.RenderHint.Antialiasing)
                held = paint_still(brush, cue_state, layout, options, self.sheet.cues)
                if held and not self.plain:
                    self._paint_held(brush, held)
            if self.plain:  # without figures it serves once
                return picture
            self._still[key] = picture
        return self._still[key]

    def _paint_held(self, painter: QPainter, held: Held) -> None:
        mirrored, folder = self.options.mirrored, self.options.folder
        mover = Mover(held.box, self._ratio, ink=HELD, mirrored=mirrored, folder=folder)
        mover.choose(held.cue, None, 1.0, mixed(HELD, GROUND, 0.6))
        mover.draw(painter)

    def _ground_picture(self, box: Box | None) -> QPixmap:
        if box not in self._grounds:
            ground = QPixmap((self.size.toSizeF() * self._ratio).toSize())
            ground.setDevicePixelRatio(self._ratio)
            ground.fill(GROUND)
            with QPainter(ground) as brush:
                brush.setRenderHint(QPainter.RenderHint.Antialiasing)
                if box is not None:
                    Ribbon(box, self.sheet).draw_ground(brush, self.options)
                self._fill_rim(brush, 1.0, self.layout.rim, UNLIT)
            self._grounds[box] = ground
        return self._grounds[box]

    def _paint_edge(self, painter: QPainter, edge: Edge) -> None:
        rim, low = self.layout.rim, self.options.reduced_flash
        if edge.fill > 0:
            self._fill_rim(painter, edge.fill, rim, LOW if low else mixed(REST, NEXT, edge.glow))
        if edge.whole > 0:
            wide = rim if low else rim * (1 + WIDER * edge.whole)
            light = mixed(UNLIT, LOW if low else WHOLE, edge.whole)
            self._fill_rim(painter, 1.0, wide, light)
            return
        width, height = self.size.width(), self.size.height()
        thick = 0.5 * self.layout.unit
        gaps = (notch_boxes(notch, width, height, rim, thick) for notch in edge.notches)
        fill_all(painter, (QRectF(*box) for pair in gaps for box in pair), GROUND)

    def _fill_rim(self, painter: QPainter, part: float, rim: float, colour: QColor) -> None:
        boxes = lit(part, self.size.width(), self.size.height(), rim)
        fill_all(painter, (QRectF(*box) for box in boxes), colour)

    def _choose_figure(self, cue_state: CueState, skip_slow: bool) -> tuple[object, ...]:
        options = self.options
        cue = cue_state.next or cue_state.held
        if cue is None and cue_state.move is not None:
            cue = self.sheet.leaving
        if cue is None or self.plain or options.cueing != "all" or options.question:
            return ()
        if options.state in ("stopped", "done", "no sound"):
            return ()
        if cue is self.sheet.leaving:
            return self._choose_leaving(cue_state, cue, skip_slow)
        travels = cue_state.next is not None and not cue_state.count_in and cue_state.travel > 0
        enters = cue.way is not None and bool(cue.way.moves)
        moving = (cue.index or enters) and travels and options.state in ("playing", "paused")
        last = self.sheet.cues[cue.index - 1] if moving and cue.index else None
        travel = cue_state.travel if moving and not options.reduced_motion else 1.0
        accent = NEXT if cue_state.next else HELD
        return self._mover(self.layout).choose(cue, last, travel, accent, skip_slow=skip_slow)

    def _choose_leaving(
        self, cue_state: CueState, leaving: Cue, skip_slow: bool
    ) -> tuple[object, ...]:
        """The body on its way off the stage after the last pose."""
        last, travel = self.sheet.cues[leaving.index], 0.0
        goes = self.options.state in ("playing", "paused") and not self.options.reduced_motion
        if goes:
            travel = (cue_state.time - leaving.start) / max(leaving.hit - leaving.start, 1e-9)
        return self._mover(self.layout).choose(leaving, last, travel, HELD, skip_slow=skip_slow)

    def _numeral(self, cue_state: CueState) -> str:
        """What is left: counts, seconds in free time, seconds of rest."""
        options = self.options
        if options.state == "rest":
            return str(math.ceil(options.rest)) if options.rest > 0 else ""
        if options.state in ("ready", "done", "no sound", "stopped") or options.question:
            return ""
        if cue_state.next is None and cue_state.move:
            return cue_state.move_numeral
        return cue_state.numeral

    def _move_numeral(self, cue_state: CueState) -> str:
        if self.options.cueing != "all" or self.options.state != "playing" or not cue_state.next:
            return ""
        return cue_state.move_numeral

    def _counted(self, cue_state: CueState) -> str:
        """The count of the eight that is marked, as the voice says it; none in free time."""
        if self.options.state == "count-in" or cue_state.count_in:
            return cue_state.count_in
        if self.options.state != "playing":
            return ""
        return str(cue_state.count.count) if cue_state.count else ""

    def _paint_numeral(self, painter: QPainter, text: str, colour: QColor) -> None:
        """What is left, smaller where it is wide, but never below the least."""
        box = self.layout.numeral
        numerals = self._numerals(box.height)
        least = numerals.width(text) * self.layout.cap / max(box.height, 1.0)
        wide = Box(box.x, box.y, max(box.width, least), box.height)
        numerals.draw(painter, wide, text, colour)

    def _paint_move(self, painter: QPainter, numeral: str, again: bool) -> None:
        place = move_numeral(self.layout, again=again)
        if not numeral or place is None:
            return
        colour = HELD if again else INK
        self._numerals(self.layout.cap).draw(painter, place, numeral, colour)

    def _paint_eight(self, painter: QPainter, counted: str) -> None:
        """The counts of the eight, the one that sounds marked."""
        layout, box = self.layout, self.layout.strip
        if not counted or not layout.counts:
            return
        if self.options.mirrored and layout.foot is None:  # there it says so
            return
        key = (box, counted)
        if key not in self._strips:
            while len(self._strips) >= _STRIPS:
                self._strips.pop(next(iter(self._strips)))
            self._strips[key] = self._strip_picture(counted)
        painter.drawPixmap(*self._strip_corner(), self._strips[key])

    def _strip_corner(self) -> tuple[int, int]:
        """Whole pixels left of and above the strip and its mark."""
        return math.floor(self.layout.strip.x) - 1, math.floor(
            self.layout.strip.y - 0.6 * self.layout.unit
        ) - 1

    def _strip_picture(self, counted: str) -> QPixmap:
        layout, box = self.layout, self.layout.strip
        x, y = self._strip_corner()
        high = math.ceil(box.bottom + 0.6 * layout.unit) + 1 - y
        size = QSizeF(math.ceil(box.right) + 1 - x, high) * self._ratio
        picture = QPixmap(size.toSize())
        picture.setDevicePixelRatio(self._ratio)
        picture.fill(Qt.GlobalColor.transparent)
        with QPainter(picture) as painter:
            painter.translate(-x, -y)
            self._draw_counts(painter, counted)
        return picture

    def _draw_counts(self, painter: QPainter, counted: str) -> None:
        layout, box = self.layout, self.layout.strip
        now = int(counted)
        shown = layout.counts
        first = 1 + (now - 1) // shown * shown
        numerals = self._numerals(layout.cap)
        pitch, edge = box.width / shown, 0.6 * layout.unit
        for k, count in enumerate(range(first, first + shown)):
            place = Box(box.x + k * pitch, box.y, pitch, box.height)
            if count == now:
                bar = QRectF(place.x, place.y - edge, place.width, box.height + 2 * edge)
                fill(painter, bar, INK)
            ink = GROUND if count == now else DIM
            aside = (pitch - numerals.width(str(count))) / 2
            place = Box(place.x + aside, place.y, pitch, place.height)
            numerals.draw(painter, place, str(count), ink)
