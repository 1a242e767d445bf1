"""Paints the stage display: the same code for the window and for pictures without one.

What stays for a while is painted once into a picture and copied at each frame: the ribbon's
ground and the unlit rim for a cue sheet, name, sign and held pose for a pair of cues. Only the
figure, the numeral, the edge light and the position are painted anew.
"""

from __future__ import annotations

import math
from dataclasses import replace

from PySide6.QtCore import QPointF, QRectF, QSize
from PySide6.QtGui import QColor, QPainter, QPixmap

from rehearse.cueing.cues import CueSheet
from rehearse.cueing.moment import Moment
from rehearse.ui.stage.changes import WIDER, Look, place_of
from rehearse.ui.stage.edge import Edge, edge_at, lit, notch_boxes
from rehearse.ui.stage.layout import Box, Layout, lay_out
from rehearse.ui.stage.letters import Figures, draw_words
from rehearse.ui.stage.mover import Mover
from rehearse.ui.stage.options import LIVE, StageOptions
from rehearse.ui.stage.ribbon import Ribbon
from rehearse.ui.stage.still import paint_still, still_key
from rehearse.ui.stage.tones import (
    DIM,
    GROUND,
    HELD,
    INK,
    LOW,
    NEXT,
    REST,
    UNLIT,
    WHOLE,
    mixed,
)

#: Still pictures kept: this hit, the next one, and what a rest or a pause puts between.
_KEPT = 4


def paint_stage(
    painter: QPainter,
    rect: QRectF,
    moment: Moment,
    sheet: CueSheet,
    *,
    options: StageOptions | None = None,
) -> None:
    """Paint one moment into `rect`; for many moments keep a `Stage` instead."""
    size, ratio = rect.size().toSize(), painter.device().devicePixelRatioF()
    painter.save()
    painter.translate(rect.topLeft())
    Stage(sheet, options or StageOptions(), size, ratio).paint(painter, moment)
    painter.restore()


class Stage:
    """The display of one cue sheet at one size.

    Args:
        size: logical pixels. ratio: device pixels for each of them.

    Attributes:
        plain: leave the figure out, as in the very first picture, which must not wait for it.
    """

    def __init__(
        self, sheet: CueSheet, options: StageOptions, size: QSize, ratio: float = 1.0
    ) -> None:
        self.sheet, self.options, self.size, self._ratio = sheet, options, size, ratio
        self.layout: Layout = lay_out(size.width(), size.height(), options.sight)
        self.ribbon = Ribbon(self.layout.ribbon, sheet) if self.layout.ribbon else None
        self.plain = False
        self._figures = Figures(self.layout.numeral_cap, ratio)
        mover = Mover(self.layout.figure, ratio, mirrored=options.mirrored, folder=options.folder)
        self._mover = mover
        self._ground: QPixmap | None = None
        self._still: dict[tuple[object, ...], QPixmap] = {}

    def set_options(self, options: StageOptions) -> None:
        """Show the same sheet otherwise; keeps every picture that is still right."""
        before = self.options
        laid = (before.sight, before.mirrored, before.folder)
        if (options.sight, options.mirrored, options.folder) != laid:
            self.__init__(self.sheet, options, self.size, self._ratio)  # type: ignore[misc]
            return
        self.options = options
        if options.loudness is not before.loudness or options.drilled != before.drilled:
            self._ground = None
            self._still.clear()

    def look(self, moment: Moment, *, hurry: bool = False) -> Look:
        """What `moment` looks like; in a hurry the figure may stay a step behind."""
        options = self.options
        if self._dark:
            return Look(("dark", options.passes), Edge(), "", "", (), 0)
        edge = Edge()
        if options.state in (*LIVE, "paused"):
            flash = not options.reduced_flash
            edge = edge_at(moment, self.sheet, options.tempo, flash=flash)
        return Look(
            still=still_key(moment, options),
            edge=edge,
            numeral=self._numeral(moment),
            counted=self._counted(moment),
            figure=self._choose_figure(moment, hurry),
            place=place_of(moment, self.layout),
        )

    def paint(self, painter: QPainter, moment: Moment, look: Look | None = None) -> None:
        """Paint `moment` at the origin of `painter`; `look` where it is known already."""
        look = look or self.look(moment)
        if self._dark:
            self._paint_dark(painter)
            return
        painter.drawPixmap(0, 0, self._still_picture(moment, self.options))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint_edge(painter, look.edge)
        if look.figure:
            self._mover.draw(painter)
        colour = DIM if self.options.state == "rest" else INK
        self._figures.draw(painter, self.layout.numeral, look.numeral, colour)
        self._paint_eight(painter, look.counted)
        if self.ribbon:
            self.ribbon.draw_now(painter, moment)

    @property
    def _dark(self) -> bool:
        return self.options.cueing == "memory" and self.options.state in LIVE

    def prepare(self, moment: Moment) -> None:
        """Paint ahead of time what the next hit will need, so that its frame is not late."""
        if moment.next is None or self.options.cueing == "memory":
            return
        verdict = self.options.verdict if self.options.state == "playing" else ""
        after = replace(self.options, state="playing", verdict=verdict)
        self._still_picture(self.sheet.at(moment.next.hit), after)
        if self.options.cueing == "all":
            self._mover.prepare(moment.next, NEXT)

    def _paint_dark(self, painter: QPainter) -> None:
        painter.fillRect(QRectF(QPointF(), self.size.toSizeF()), GROUND)
        words = f"from memory   {self.options.passes}"
        draw_words(painter, self.layout.note, words, 2.4 * self.layout.unit, DIM)

    def _still_picture(self, moment: Moment, options: StageOptions) -> QPixmap:
        key = still_key(moment, options)
        if key not in self._still:
            while len(self._still) >= _KEPT:
                self._still.pop(next(iter(self._still)))
            picture = QPixmap(self._ground_picture())
            brush = QPainter(picture)
            brush.setRenderHint(QPainter.RenderHint.Antialiasing)
            paint_still(brush, moment, self.layout, options)
            brush.end()
            self._still[key] = picture
        return self._still[key]

    def _ground_picture(self) -> QPixmap:
        if self._ground is None:
            self._ground = QPixmap((self.size.toSizeF() * self._ratio).toSize())
            self._ground.setDevicePixelRatio(self._ratio)
            self._ground.fill(GROUND)
            brush = QPainter(self._ground)
            brush.setRenderHint(QPainter.RenderHint.Antialiasing)
            if self.ribbon:
                self.ribbon.draw_ground(brush, self.options)
            self._fill_rim(brush, 1.0, self.layout.rim, UNLIT)
            brush.end()
        return self._ground

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
        for notch in edge.notches:
            for box in notch_boxes(notch, width, height, rim, 0.5 * self.layout.unit):
                painter.fillRect(QRectF(*box), GROUND)

    def _fill_rim(self, painter: QPainter, fill: float, rim: float, colour: QColor) -> None:
        for box in lit(fill, self.size.width(), self.size.height(), rim):
            painter.fillRect(QRectF(*box), colour)

    def _choose_figure(self, moment: Moment, hurry: bool) -> tuple[object, ...]:
        cue = moment.next or moment.held
        if cue is None or self.plain or self.options.cueing != "all":
            return ()
        if self.options.state == "stopped":
            return ()
        still = moment.count_in or self.options.state not in ("playing", "paused")
        moving = moment.next and cue.index and not still
        last = self.sheet.cues[cue.index - 1] if moving else None
        travel = 1.0 if self.options.reduced_motion else moment.travel
        accent = NEXT if moment.next else HELD
        return self._mover.choose(cue, last, travel, accent, hurry=hurry)

    def _numeral(self, moment: Moment) -> str:
        options = self.options
        if options.state == "rest":
            return str(math.ceil(options.rest)) if options.rest > 0 else ""
        if options.state in ("ready", "done", "stopped"):
            return ""
        return moment.count_in or moment.numeral

    def _counted(self, moment: Moment) -> str:
        """The count of the eight that is marked; in free time its words."""
        if self.options.state == "count-in" or moment.count_in:
            return moment.count_in
        if self.options.state != "playing":
            return ""
        return str(moment.count.count) if moment.count else "free time"

    def _paint_eight(self, painter: QPainter, counted: str) -> None:
        layout, box = self.layout, self.layout.held
        cap = 3.4 * layout.unit
        foot = Box(box.x, box.bottom - cap, box.width, cap)
        if not counted.isdigit():
            draw_words(painter, foot, counted, cap, DIM)
            return
        pitch = box.width / 8
        for k, figure in enumerate("12345678"):
            now = figure == counted
            place = Box(box.x + k * pitch, foot.y, pitch, cap)
            if now:
                edge = layout.unit
                bar = QRectF(place.x, place.y - edge, place.width, cap + 2 * edge)
                painter.fillRect(bar, HELD)
            ink = GROUND if now else DIM
            draw_words(painter, place, figure, cap, ink, strong=True, align=0.5)
