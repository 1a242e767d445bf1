"""The small drawings of the sheet: figures and photos, facing signs, cells of an eight."""

from __future__ import annotations

import hashlib
import io
import math
import struct
import zlib
from pathlib import Path

from reportlab.lib.utils import ImageReader

from rehearse.cueing.cue_state import Cue
from rehearse.files.door import path_inside
from rehearse.files.user_error import UserError
from rehearse.handout.sheet.eights import Cell, Eight
from rehearse.handout.sheet.paper import DIM, HOLD, INK, LINE, WHITE, Paper
from rehearse.handout.sheet.typesetting import STRONG, fitted
from rehearse.routine.anatomy import WINDOW, figure_shapes
from rehearse.routine.bones import Figure
from rehearse.routine.look import Look
from rehearse.routine.model import Facing, Place, Side
from rehearse.routine.photos import MOST_PIXELS, read_picture
from rehearse.words import _

#: Greys of the figure's tones: gaps are paper, the lit side light, trunks black.
TONES = {"gap": WHITE, "shade": 0.42, "ink": 0.70, "hair": 0.25, "accent": 0.08}
FORM = 50.0  # mm of one body height in a kept form
_FOOTROOM = 0.05
_PICTURE_PIXELS = 700
#: What the image library raises at a damaged file.
DAMAGE = (
    *(UserError, OSError, ValueError, SyntaxError, struct.error, zlib.error),
    *(IndexError, KeyError, EOFError, OverflowError, MemoryError),
)


def draw_body(
    paper: Paper, cue: Cue, folder: Path, x: float, y: float, width: float, height: float
) -> str:
    """The athlete's own photo of the pose, or its figure; answers a sentence on a bad photo."""
    sentence = ""
    if cue.pose.picture:
        try:
            paper.picture(photo(folder, cue.pose.picture), x, y, width, height)
            return ""
        except DAMAGE:
            sentence = _(
                "The picture {picture} cannot be read – the figure is printed.",
                picture=cue.pose.picture,
            )
    draw_figure(paper, cue.pose.seen(cue.facing, cue.level), cue.pose.look, x, y, width, height)
    return sentence


def draw_figure(
    paper: Paper, figure: Figure, look: Look, x: float, y: float, width: float, height: float
) -> None:
    """A figure standing at the bottom middle of the rectangle, all at one scale."""
    body = repr((figure, look)).encode()
    key = f"figure-{hashlib.sha1(body, usedforsecurity=False).hexdigest()[:16]}"
    if not paper.holds(key):
        # Every other point of an outline is enough at the size of a printed figure.
        outlines = [
            (TONES[shape.tone], (shape.points[::2] * FORM).tolist())
            for shape in figure_shapes(figure, look)
        ]
        paper.form(key, outlines)
    scale = min(width / WINDOW[0], height / WINDOW[1])
    paper.place(key, x + width / 2, y + height - _FOOTROOM * scale, scale / FORM)


def photo(folder: Path, name: str) -> ImageReader:
    """A photo of the routine's folder, upright, no larger than a sheet needs.

    Raises:
        one of `DAMAGE`: it cannot be read.
    """
    return ImageReader(io.BytesIO(photo_jpeg(folder, name, _PICTURE_PIXELS)))


def photo_jpeg(folder: Path, name: str, pixels: int) -> bytes:
    """The same as JPEG, `pixels` wide and high at most.

    Raises:
        one of `DAMAGE`: it cannot be read.
    """
    from PIL import Image, ImageOps

    picture = read_picture(path_inside(folder, name))
    try:
        opened = Image.open(io.BytesIO(picture.data), formats=[picture.kind])
    except Image.DecompressionBombError as error:
        raise ValueError("a frame larger than the picture") from error
    with opened:
        if opened.width * opened.height > MOST_PIXELS:
            raise ValueError("a frame larger than the picture")
        opened.draft("RGB", (pixels, pixels))
        whole = opened.convert("RGBA") if opened.mode in ("P", "1", "PA") else opened
        whole.thumbnail((pixels, pixels))
        image = ImageOps.exif_transpose(whole).convert("RGBA")
    paper = Image.new("RGBA", image.size, "white")  # shows through where the picture is clear
    paper.alpha_composite(image)
    data = io.BytesIO()
    paper.convert("RGB").save(data, "JPEG", quality=85)
    return data.getvalue()


def draw_facing(paper: Paper, facing: Facing, x: float, y: float, radius: float) -> None:
    """Seen from above: the body as a ring, a wedge where the face looks; the judges are below.

    The stage display has the same sign.
    """
    paper.circle(x, y, radius, line=INK)
    right, down = facing.looks
    angle = math.atan2(down, right)
    points = [
        (x + radius * far * math.cos(angle + turn), y + radius * far * math.sin(angle + turn))
        for far, turn in ((1.7, 0.0), (0.95, 0.75), (0.95, -0.75))
    ]
    paper.shape(points, fill=INK)


def draw_turn(paper: Paper, turn: Side, x: float, y: float, radius: float) -> None:
    """Which way round, seen from above with the judges below: three quarters of a circle."""
    way = 1 if turn is Side.LEFT else -1
    first = 0.0 if turn is Side.LEFT else math.pi
    angles = [first + way * math.pi * 1.5 * k / 18 for k in range(19)]
    # Paper counts down the page, so that against the clock is up first.
    points = [(x + radius * math.cos(a), y - radius * math.sin(a)) for a in angles]
    paper.line(points, thick=0.35)
    end, size = (x, y + radius), radius * 0.7
    head = [(end[0], end[1] - size), (end[0] + way * size * 1.4, end[1]), (end[0], end[1] + size)]
    paper.shape(head, fill=INK)


def draw_stage(paper: Paper, place: Place, x: float, y: float, width: float) -> None:
    """A plan of the stage from above, the judges below, with a dot where the athlete stands."""
    height, words = width * 0.62, place.split(" ")
    paper.box(x, y, width, height, line=INK, thick=0.2)
    # The athlete's own left is on the right of who looks from below.
    across = ("left" in words) - ("right" in words)
    down = ("front" in words) - ("back" in words)
    paper.circle(
        x + width * (0.5 + 0.32 * across), y + height * (0.5 + 0.30 * down), width * 0.09, fill=INK
    )


def draw_eight(
    paper: Paper, eight: Eight, x: float, y: float, cell: float, *, numbered: bool = False
) -> None:
    """One line of an eight: its number, then its counts in cells `cell` mm wide.

    `numbered` shows the number of the pose under its hit instead of the count alone.
    """
    size = cell * 1.9
    paper.text(x + cell * 1.0, y + cell * 0.72, str(eight.number), size, font=STRONG, align="right")
    for place, here in enumerate(eight.cells):
        if here is not None:
            draw_cell(paper, here, x + cell * (1.25 + place), y, cell, numbered=numbered)


def draw_cell(
    paper: Paper, here: Cell, x: float, y: float, cell: float, *, numbered: bool = False
) -> None:
    """One count: black on a hit, grey on a hold, underlined in a transition."""
    width, size = cell * 0.92, cell * 1.7
    fill = {"hit": INK, "hold": HOLD}.get(here.mark)
    paper.box(x, y, width, cell * 0.92, fill=fill, line=LINE, thick=0.12)
    label = f"#{here.pose}" if numbered and here.pose else here.label
    grey = WHITE if here.mark == "hit" else INK if here.mark else DIM
    size = fitted(label, size, width * 0.9, STRONG, 3.0)
    paper.text(x + width / 2, y + cell * 0.70, label, size, font=STRONG, grey=grey, align="middle")
    if here.mark == "transition":
        base = y + cell * 0.80
        paper.line([(x + cell * 0.1, base), (x + cell * 0.82, base)], thick=0.35)
    if here.begins:
        paper.line([(x, y), (x, y + cell * 0.92)], thick=0.8)
    if here.accent:
        middle, half = x + width / 2, cell * 0.15
        high = y - cell * 0.27
        paper.shape(
            [(middle - half, high), (middle + half, high), (middle, high + cell * 0.22)], fill=INK
        )
    if here.quiet:
        base = y + cell * 1.0
        paper.line([(x, base), (x + width, base)], grey=DIM, thick=0.3, dash=(0.4, 0.5))
