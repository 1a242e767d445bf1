"""Paints the stage display: the same code for the window and for pictures without one.

What stays for a while is painted once into a picture and copied at each frame: the ribbon's
ground and the unlit rim for a cue sheet, name, sign and held pose for a pair of cues. Only the
figure, the numeral, the edge light and the position are painted anew.
"""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize
from PySide6.QtGui import QColor, QPainter, QPixmap

from rehearse.cueing.cues import Cue, CueSheet, Moment
from rehearse.ui import theme
from rehearse.ui.stage.edge import Edge, edge_at, lit
from rehearse.ui.stage.fit import fit
from rehearse.ui.stage.layout import Box, Layout, lay_out
from rehearse.ui.stage.letters import Figures, advance, draw_lines, draw_words
from rehearse.ui.stage.mover import Mover
from rehearse.ui.stage.options import StageOptions
from rehearse.ui.stage.ribbon import Ribbon
from rehearse.ui.stage.sign import draw_sign

_GROUND, _INK, _DIM, _LINE = (QColor(c) for c in (theme.GROUND, theme.INK, theme.DIM, theme.LINE))
_NEXT, _HELD, _FAULT = QColor(theme.NEXT), QColor(theme.HELD), QColor(theme.FAULT)
#: The rim unlit, at rest, at its brightest, on the hit; and when flashes are reduced: its
#: luminance then stays within a tenth of the ground's, which is no flash (WCAG 2.2).
_UNLIT, _REST, _WHOLE, _LOW = (QColor(c) for c in ("#2a221b", "#b48335", "#fff0cc", "#6d5126"))


def paint_stage(
    painter: QPainter,
    rect: QRectF,
    moment: Moment,
    sheet: CueSheet,
    *,
    options: StageOptions | None = None,
) -> None:
    """Paint one moment into `rect`; for many moments keep a `Stage` instead."""
    options = options or StageOptions()
    size, ratio = rect.size().toSize(), painter.device().devicePixelRatioF()
    painter.save()
    painter.translate(rect.topLeft())
    Stage(sheet, options, size, ratio).paint(painter, moment)
    painter.restore()


class Stage:
    """The display of one cue sheet at one size.

    Args:
        size: logical pixels. ratio: device pixels for each of them.
    """

    def __init__(
        self, sheet: CueSheet, options: StageOptions, size: QSize, ratio: float = 1.0
    ) -> None:
        self.sheet, self.options, self.size, self._ratio = sheet, options, size, ratio
        self.layout: Layout = lay_out(size.width(), size.height(), options.sight)
        self.ribbon = Ribbon(self.layout.ribbon, sheet) if self.layout.ribbon else None
        self._figures = Figures(self.layout.numeral_cap, ratio)
        self._mover = Mover(self.layout.figure, ratio, mirrored=options.mirrored)
        self._ground: QPixmap | None = None
        self._still: dict[tuple[object, ...], QPixmap] = {}

    def set_options(self, options: StageOptions) -> None:
        """Show the same sheet otherwise; keeps what is still right."""
        before = self.options
        if (options.sight, options.mirrored) != (before.sight, before.mirrored):
            self.__init__(self.sheet, options, self.size, self._ratio)  # type: ignore[misc]
            return
        self.options = options
        self._still.clear()
        if options.loudness is not before.loudness or options.drilled != before.drilled:
            self._ground = None

    def paint(self, painter: QPainter, moment: Moment) -> None:
        """Paint `moment` at the origin of `painter`."""
        if self.options.cueing == "memory" and self.options.state == "playing":
            self._paint_dark(painter)
            return
        painter.drawPixmap(0, 0, self._still_picture(moment))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        edge = edge_at(moment, self.sheet, self.options.tempo, flash=not self.options.reduced_flash)
        self._paint_edge(painter, edge)
        if self.options.cueing == "all":
            self._paint_figure(painter, moment)
        self._paint_numeral(painter, moment)
        self._paint_eight(painter, moment)
        if self.ribbon:
            self.ribbon.draw_now(painter, moment)

    def prepare(self, moment: Moment) -> None:
        """Paint ahead of time what the next hit will need, so that its frame is not late."""
        if moment.next is None or self.options.cueing == "memory":
            return
        self._still_picture(self.sheet.at(moment.next.hit))
        if self.options.cueing == "all":
            self._mover.picture(moment.next, None, 1.0, _NEXT)

    def _paint_dark(self, painter: QPainter) -> None:
        layout = self.layout
        painter.fillRect(QRectF(QPointF(), self.size.toSizeF()), _GROUND)
        words = "from memory" + (f"  {self.options.passes}" if self.options.passes else "")
        draw_words(painter, layout.note, words, 2.4 * layout.unit, _DIM)

    def _still_picture(self, moment: Moment) -> QPixmap:
        key = (id(moment.next), id(moment.held), bool(moment.count_in))
        if key not in self._still:
            while len(self._still) > 3:
                self._still.pop(next(iter(self._still)))
            picture = QPixmap(self._ground_picture())
            brush = QPainter(picture)
            brush.setRenderHint(QPainter.RenderHint.Antialiasing)
            self._paint_still(brush, moment)
            brush.end()
            self._still[key] = picture
        return self._still[key]

    def _ground_picture(self) -> QPixmap:
        if self._ground is None:
            self._ground = QPixmap((self.size.toSizeF() * self._ratio).toSize())
            self._ground.setDevicePixelRatio(self._ratio)
            self._ground.fill(_GROUND)
            brush = QPainter(self._ground)
            brush.setRenderHint(QPainter.RenderHint.Antialiasing)
            if self.ribbon:
                self.ribbon.draw_ground(brush, self.options)
            self._fill_rim(brush, 1.0, self.layout.rim, _UNLIT)
            brush.end()
        return self._ground

    def _paint_still(self, painter: QPainter, moment: Moment) -> None:
        names = self.options.cueing
        if names == "all":
            if moment.next:
                self._paint_name(painter, moment.next, _NEXT)
            elif moment.held:
                self._paint_name(painter, moment.held, _HELD)
            if moment.held and moment.next and not self._words(moment):
                self._paint_held(painter, moment.held)
        elif names == "names" and moment.held:
            self._paint_name(painter, moment.held, _HELD)
        self._paint_state(painter, self._words(moment))
        self._paint_corner(painter)

    def _paint_name(self, painter: QPainter, cue: Cue, colour: QColor) -> None:
        layout, box = self.layout, self.layout.name
        fitted = fit(
            _sentence(cue.name),
            box.width,
            box.height,
            least=layout.name_cap if not layout.legible else layout.least_cap,
            most=layout.name_cap * 1.35,
            advance=advance,
        )
        draw_lines(painter, box, fitted, colour)
        draw_sign(painter, layout.sign, cue.facing, cue.level, colour, _LINE)
        if cue.placed.note:
            draw_words(painter, layout.note, cue.placed.note, 2.3 * layout.unit, _INK)

    def _paint_held(self, painter: QPainter, cue: Cue) -> None:
        layout, box = self.layout, self.layout.held
        place = Box(box.x, box.y, box.width, box.height - 5.2 * layout.unit)
        fitted = fit(
            _sentence(cue.name),
            place.width,
            place.height,
            least=min(layout.small_cap, place.height / 1.4),
            most=layout.small_cap,
            advance=advance,
            lines=2,
        )
        draw_lines(painter, place, fitted, _HELD)

    def _words(self, moment: Moment) -> str:
        """What the rehearsal is doing, where that is not plain to see."""
        if self.options.verdict or self.options.state != "playing":
            return self.options.verdict or self.options.state
        return "count-in" if moment.count_in else ""

    def _paint_state(self, painter: QPainter, words: str) -> None:
        layout, options = self.layout, self.options
        if not words:
            return
        box = layout.held
        colour = _FAULT if options.state == "no sound" else _INK
        line = Box(box.x, box.y, box.width, layout.small_cap)
        mark = _MARKS.get(words, "")
        draw_words(painter, line, f"{mark}{words}", layout.small_cap, colour, strong=True)
        if options.words:
            foot = Box(box.x, line.bottom, box.width, layout.small_cap * 0.75)
            draw_words(painter, foot, options.words, layout.small_cap * 0.42, _DIM)

    def _paint_corner(self, painter: QPainter) -> None:
        layout, box = self.layout, self.layout.corner
        tempo = f"{round(self.options.tempo * 100)} %"
        draw_words(painter, box, f"{tempo}   {self.options.passes}", layout.small_cap, _DIM)

    def _paint_edge(self, painter: QPainter, edge: Edge) -> None:
        rim, unit = self.layout.rim, self.layout.unit
        low = self.options.reduced_flash
        if edge.fill > 0:
            colour = _LOW if low else _mix(_REST, _NEXT, edge.glow)
            self._fill_rim(painter, edge.fill, rim, colour)
        if edge.whole > 0:
            wide = rim if low else rim * (1 + 0.8 * edge.whole)
            self._fill_rim(painter, 1.0, wide, _LOW if low else _mix(_UNLIT, _WHOLE, edge.whole))
            return
        for notch in edge.notches:
            for box in _notch(notch, self.size, rim, 0.5 * unit):
                painter.fillRect(box, _GROUND)

    def _fill_rim(self, painter: QPainter, fill: float, rim: float, colour: QColor) -> None:
        for box in lit(fill, self.size.width(), self.size.height(), rim):
            painter.fillRect(QRectF(*box), colour)

    def _paint_figure(self, painter: QPainter, moment: Moment) -> None:
        cue = moment.next or moment.held
        if cue is None:
            return
        moving = moment.next and cue.index and not moment.count_in
        last = self.sheet.cues[cue.index - 1] if moving else None
        travel = 1.0 if self.options.reduced_motion else moment.travel
        self._mover.draw(painter, cue, last, travel, _NEXT if moment.next else _HELD)

    def _paint_numeral(self, painter: QPainter, moment: Moment) -> None:
        layout, options = self.layout, self.options
        box = layout.numeral
        if options.state == "rest":
            self._figures.draw(painter, box, str(max(1, round(options.rest + 0.49))), _DIM)
        elif moment.count_in:
            self._figures.draw(painter, box, moment.count_in, _INK)
        elif options.state in ("playing", "paused", "ready", "no sound") and moment.numeral:
            self._figures.draw(painter, box, moment.numeral, _INK)

    def _paint_eight(self, painter: QPainter, moment: Moment) -> None:
        layout, box = self.layout, self.layout.held
        if self.options.state != "playing":
            return
        cap = 3.4 * layout.unit
        foot = Box(box.x, box.bottom - cap, box.width, cap)
        counted = moment.count_in or (str(moment.count.count) if moment.count else "")
        if not counted:
            draw_words(painter, foot, "free time", cap, _DIM)
            return
        pitch = box.width / 8
        for k, figure in enumerate("12345678"):
            now = figure == counted
            place = Box(box.x + k * pitch, foot.y, pitch, cap)
            if now:
                edge = layout.unit
                bar = QRectF(place.x, place.y - edge, place.width, cap + 2 * edge)
                painter.fillRect(bar, _HELD)
            ink = _GROUND if now else _DIM
            draw_words(painter, place, figure, cap, ink, strong=True, align=0.5)


_MARKS = {"clean": "✓ ", "missed": "✕ "}


def _sentence(name: str) -> str:
    return name[:1].upper() + name[1:]


def _mix(a: QColor, b: QColor, part: float) -> QColor:
    parts = ((x * (1 - part) + y * part) for x, y in zip(a.getRgbF(), b.getRgbF(), strict=True))
    return QColor.fromRgbF(*parts)


def _notch(part: float, size: QSize, rim: float, thick: float) -> list[QRectF]:
    """The two gaps in the rim at `part` of the way from the middle of its foot to its top."""
    width, height = size.width(), size.height()
    length = part * (width + height)
    if length <= width / 2:
        spans = [(width / 2 + s * length - thick / 2, height - rim, thick, rim) for s in (-1, 1)]
    elif length <= width / 2 + height:
        y = height - (length - width / 2) - thick / 2
        spans = [(0.0, y, rim, thick), (width - rim, y, rim, thick)]
    else:
        x = length - width / 2 - height
        spans = [(x - thick / 2, 0.0, thick, rim), (width - x - thick / 2, 0.0, thick, rim)]
    return [QRectF(*span) for span in spans]
