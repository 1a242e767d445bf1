"""Small pictures of moves on the sheet: the body as it was, as it comes to be, and its way.

They stand in the order in which the moves are done; the athlete's own move shows its first photo.
"""

from __future__ import annotations

import hashlib
import itertools
import math
from pathlib import Path

from rehearse.cueing.cue_state import Cue
from rehearse.files.user_error import UserError
from rehearse.handout.handout_source import HandoutSource
from rehearse.handout.sheet.drawings import DAMAGE, FORM, TONES, photo
from rehearse.handout.sheet.paper import INK, LINE, Paper
from rehearse.routine.anatomy import Shape
from rehearse.routine.look import Look
from rehearse.routine.movepicture import MovePicture, move_shapes
from rehearse.routine.way import Done
from rehearse.words import _

#: Width of a picture over its height.
WIDE = 0.8


def moves_of(source: HandoutSource, cue: Cue) -> tuple[Done, ...]:
    """The moves that have a picture: those into a pose, and off the stage after the last one."""
    leaving = source.sheet.leaving
    off = leaving.way.moves if leaving is not None and leaving.way is not None else ()
    into = cue.way.moves if cue.way is not None else ()
    last = cue.index + 1 == len(source.sheet.cues)
    return tuple(d for d in (*into, *(off if last else ())) if _is_shown(d))


def _is_shown(done: Done) -> bool:
    return bool(done.kind.pictures) or bool(done.kind.figures(done.direction))


def draw_moves(
    paper: Paper, done: tuple[Done, ...], look: Look, folder: Path, x: float, y: float, high: float
) -> str:
    """Draw pictures `high` mm high from (x, y) on; answers a sentence on a photo that is none."""
    sentence = ""
    for number, one in enumerate(done):
        left = x + number * high * WIDE
        if not one.kind.pictures:
            _draw(paper, one, look, left, y, high)
            continue
        try:
            paper.picture(photo(folder, one.kind.pictures[0]), left, y, high * WIDE * 0.94, high)
        except (*DAMAGE, UserError):
            sentence = _(
                "The picture {pictures} cannot be read – it is left out.",
                pictures=one.kind.pictures[0],
            )
    return sentence


def _draw(paper: Paper, done: Done, look: Look, x: float, y: float, high: float) -> None:
    shapes = move_shapes(done.kind, done.side, done.direction, look)
    if shapes is None:
        return
    named = repr((done.kind.name, done.side, done.direction, look)).encode()
    key = f"move-{hashlib.sha1(named, usedforsecurity=False).hexdigest()[:16]}"
    _left, _bottom, wide, tall = shapes.frame
    if not paper.holds(key):
        paper.form(key, _outlines(shapes))
    scale = min(high * WIDE * 0.94 / wide, high / tall)
    # The form's origin is the middle of the floor of the picture's frame.
    paper.place(key, x + high * WIDE / 2, y + high, scale / FORM)


def _outlines(shapes: MovePicture) -> list[tuple[float, list[tuple[float, float]]]]:
    _left, _bottom, _wide, tall = shapes.frame
    ghost = [(LINE, _moved(shape, shapes)) for shape in shapes.ghost]
    body = [(TONES[shape.tone], _moved(shape, shapes)) for shape in shapes.body]
    return [*ghost, *body, *((INK, outline) for outline in _arrow(shapes, 0.03 * tall))]


def _moved(shape: Shape, shapes: MovePicture) -> list[tuple[float, float]]:
    left, bottom, wide, _unused = shapes.frame
    return [
        ((x - left - wide / 2) * FORM, (y - bottom) * FORM) for x, y in shape.points[::2].tolist()
    ]


def _arrow(shapes: MovePicture, thick: float) -> list[list[tuple[float, float]]]:
    """The way as a band `thick` body heights wide, and its head."""
    left, bottom, wide, _unused = shapes.frame
    points = [(x - left - wide / 2, y - bottom) for x, y in shapes.arrow.tolist()]
    tip = points[-1]
    back = next((p for p in reversed(points) if math.dist(p, tip) > 2 * thick), points[0])
    angle = math.atan2(tip[1] - back[1], tip[0] - back[0])
    band = []
    for a, b in itertools.pairwise(points):
        turn = math.atan2(b[1] - a[1], b[0] - a[0]) + math.pi / 2
        across = (math.cos(turn) * thick / 2, math.sin(turn) * thick / 2)
        band.append([_at(a, across, 1), _at(b, across, 1), _at(b, across, -1), _at(a, across, -1)])
    head = [
        (
            tip[0] + far * thick * math.cos(angle + turn),
            tip[1] + far * thick * math.sin(angle + turn),
        )
        for far, turn in ((3.2, 0.0), (2.4, 2.2), (2.4, -2.2))
    ]
    return [[(x * FORM, y * FORM) for x, y in outline] for outline in (*band, head)]


def _at(point: tuple[float, float], across: tuple[float, float], sign: int) -> tuple[float, float]:
    return point[0] + sign * across[0], point[1] + sign * across[1]
